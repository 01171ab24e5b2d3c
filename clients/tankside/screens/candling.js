// Candling: one look at one case, then the next. The label stands large; seven bands in one order;
// above them the movement switch, back in its place after each case. The band that is expected is
// nowhere on the glass.

import { useEffect, useRef, useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery } from "../shell/hooks.js";
import { drawCase, numbersOf } from "../look/drawings/case.js";
import { counted } from "../look/drawings/ink.js";
import { FINDINGS, HOME, MOVEMENTS, candled } from "./notes/candling.js";
import { CloseRound, StartRound } from "./candling-round.js";
import { NotHere, NotThisCase } from "./candling-beside.js";
import { Bands } from "./candling-bands.js";
import { Choose, ChooseAny, Drawing, Fresh, TakeBack, useOnce } from "./parts/controls.js";
import { clock, daysBetween, since } from "./parts/days.js";
import { keyed } from "./parts/keyed.js";
import { Photo } from "./parts/photo.js";
import { isKnown, shapeOf, useEggs, useItems, useTanks, zoneOf } from "./parts/reading.js";
import { CHANGED, useSteady } from "./parts/steady.js";
import { cellsOf, lookedAt, openRound } from "./parts/tray.js";

/** @import { ScreenProps } from "../contracts.js" */

export default keyed(Candling);

/** A round through a tray, or one case that is looked at again. @param {ScreenProps} props */
function Candling({ nursery, params }) {
  useNursery(nursery);
  const eggs = useEggs(nursery);
  const tanks = useTanks(nursery);
  const species = useItems(nursery, "/v1/species");
  const rounds = useItems(nursery, "/v1/rounds");
  const single = params.egg ? `egg/${params.egg}` : "";
  const tankId = params.tank ? `tank/${params.tank}` : (eggs.items.find(({ id }) => id === single)?.place?.tank ?? "");
  const tank = tanks.items.find(({ id }) => id === tankId);
  const zone = zoneOf(nursery);
  // Whether a round is open decides what is on the glass: nothing is shown before that is known.
  const known = eggs.reading && (single || (tank && isKnown(rounds)));
  if (!known) return html`<${Fresh} read=${eggs} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />`;

  const cells = tank ? cellsOf(tank, eggs.items) : [];
  const round = single ? null : openRound(nursery.notes, rounds.items, tankId, "candling");
  if (!single && tank && !round) return html`<${StartRound} nursery=${nursery} tank=${tank} cells=${cells} />`;
  if (single) {
    const egg = eggs.items.find(({ id }) => id === single);
    if (!egg) return html`<p>This case is not known here.</p>`;
    return html`<${Looks} nursery=${nursery} cells=${[{ key: egg.id, egg, label: "", row: "", place: null }]} round=${null} tank=${tank} species=${species.items} />`;
  }
  const inRound = cells.filter(({ egg }) => egg && (round?.eggs.length === 0 || round?.eggs.includes(egg.id)));
  return html`<${Looks} key=${round?.id} nursery=${nursery} cells=${inRound} round=${round} tank=${tank} species=${species.items} />`;
}

/**
 * One case after the other. The case that is on the glass stays there until something was said of it,
 * whatever answers arrive meanwhile: a look must not land on another case than the one in the hand.
 * @param {{nursery: import("../contracts.js").Nursery, cells: import("./parts/tray.js").Cell[], round: ReturnType<typeof openRound>, tank: any, species: any[]}} props
 */
function Looks({ nursery, cells, round, tank, species }) {
  const [chosen, setChosen] = useState("");
  const [tapped, setTapped] = useState(/** @type {ReadonlySet<string>} */ (new Set()));
  const [skipped, setSkipped] = useState(/** @type {readonly string[]} */ ([]));
  const [trouble, setTrouble] = useState("");
  const shown = useRef("");
  const focused = useRef(/** @type {string|null} */ (null));
  const single = round === null;
  const own = new Set(nursery.notes.filter(({ type, state, correlation }) => type === "egg.candled.v1" && state !== "refused" && correlation === round?.id).map(({ subject }) => subject));
  const seen = lookedAt(round, nursery.notes, "egg.candled.v1");
  const open = cells.filter(({ egg }) => !tapped.has(egg.id) && (single || !seen.has(egg.id)));
  // Those passed over come again at the end, in the order in which they were.
  const left = [...open.filter(({ egg }) => !skipped.includes(egg.id)), ...skipped.flatMap((one) => open.filter(({ egg }) => egg.id === one))];
  const stays = cells.find(({ egg }) => egg.id === shown.current && !tapped.has(egg.id) && (single || !own.has(egg.id)));
  const cell = left.find(({ egg }) => egg.id === chosen) ?? stays ?? left[0];
  shown.current = cell?.egg.id ?? "";
  const isSteady = useSteady(shown.current);
  const name = (/** @type {string} */ subject) => cells.find(({ egg }) => egg.id === subject)?.egg.label ?? "";
  const takeBack = html`<${TakeBack} nursery=${nursery} name=${name} onTaken=${setChosen} />`;
  if (round && tank && !cell) return html`<${CloseRound} nursery=${nursery} tank=${tank} round=${round} cells=${cells} seen=${seen} />${takeBack}`;
  if (!cell) return takeBack;

  const done = async (/** @type {Promise<any>} */ acting, /** @type {string} */ egg) => {
    isSteady.mine();
    setTapped((all) => new Set([...all, egg]));
    setChosen("");
    setTrouble("");
    try {
      await acting;
      if (single) nursery.navigate("#/recheck");
    } catch (error) {
      // What could not be kept is not done: its case comes back, with the reason.
      nursery.tone("no");
      setTrouble(error instanceof Error ? error.message : String(error));
      setChosen(egg);
    }
    setTapped((all) => new Set([...all].filter((one) => one !== egg)));
  };
  const skip = (/** @type {string} */ egg) => (setSkipped((all) => [...all.filter((one) => one !== egg), egg]), setChosen(""), (shown.current = ""));
  return html`
    <${Case} key=${cell.egg.id} nursery=${nursery} egg=${cell.egg} place=${cell.label} shape=${shapeOf(species, cell.egg.species)}
      tankLabel=${tank?.label ?? ""} progress=${single ? "looked at again" : `${cells.length - left.length + 1} of ${cells.length}`}
      focused=${focused} round=${round?.id} prompted=${single} done=${done} isSteady=${isSteady} elsewhere=${!single && seen.has(cell.egg.id)}
      others=${left.filter(({ egg }) => egg.id !== cell.egg.id)} choose=${setChosen} skip=${skip} failed=${trouble} />
    ${takeBack}
  `;
}

/**
 * @param {{nursery: import("../contracts.js").Nursery, egg: any, place: string, shape?: string, tankLabel: string, progress: string, focused: {current: string|null}, round?: string, prompted: boolean, isSteady: () => boolean, elsewhere: boolean,
 *   done: (acting: Promise<any>, egg: string) => void, others: any[], choose: (egg: string) => void, skip: (egg: string) => void, failed: string}} props
 */
function Case({ nursery, egg, place, shape, tankLabel, progress, focused, round, prompted, isSteady, elsewhere, done, others, choose, skip, failed }) {
  const [movement, setMovement] = useState(HOME);
  const [findings, setFindings] = useState(/** @type {string[]} */ ([]));
  const [later, setLater] = useState(false);
  const [colleague, setColleague] = useState(false);
  const [photo, setPhoto] = useState(/** @type {import("../contracts.js").KeptPhoto|null} */ (null));
  const [beside, setBeside] = useState("");
  const [trouble, setTrouble] = useState("");
  const say = (/** @type {number|null} */ band) => candled({ egg: egg.id, label: egg.label, band, movement, findings, later, colleague, prompted, photo, round });
  const once = useOnce();
  // Whoever goes by the keyboard stays at the band that was signed for the case before.
  useEffect(() => {
    if (focused.current !== null) /** @type {HTMLElement|null} */ (document.querySelector(`.band[data-band="${focused.current}"]`))?.focus({ preventScroll: true });
  }, []);
  const tap = (/** @type {number|null} */ band) => once(async () => {
    if (!isSteady()) {
      nursery.tone("no");
      setTrouble(CHANGED);
      return;
    }
    focused.current = String(band ?? "none");
    const { type, data, saying } = say(band);
    nursery.tone(data.movement === "still" ? "still" : "moving");
    setTrouble("");
    const acting = nursery.act(type, data, saying);
    done(acting, egg.id);
    await acting.catch(() => {});
  });
  const odd = findings.length + (later ? 1 : 0) + (colleague ? 1 : 0) + (photo ? 1 : 0);
  return html`
    <div class="hand candling">
      <${Head} nursery=${nursery} egg=${egg} place=${place} shape=${shape} tankLabel=${tankLabel} progress=${progress} />
      ${trouble || failed ? html`<p class="trouble" role="alert">${trouble || failed}</p>` : null}
      ${elsewhere ? html`<p class="ask-again" role="status">Another device has noted a look at ${egg.label} in this round meanwhile. One more is noted beside it.</p>` : null}
      ${beside === "" ? html`
        <${Choose} legend="Movement, signed with the band" hidden=${true} kind="switch" options=${MOVEMENTS} held=${movement} onChoose=${setMovement} />
        <${Bands} shape=${shape} say=${say} tap=${tap} />
        <div class="beside">
          <button type="button" class="key-wide" aria-pressed=${odd > 0} onClick=${() => setBeside("odd")}>Odd things${odd > 0 ? `: ${odd}` : ""}</button>
          <button type="button" class="key-wide" disabled=${others.length === 0} onClick=${() => setBeside("other")}>Not this case</button>
          <button type="button" class="key-wide" onClick=${() => setBeside("gone")}>Not in its place</button>
        </div>` : null}
      ${beside === "odd" ? html`
        <${ChooseAny} legend="Odd things, any number; signed with the band" options=${FINDINGS} held=${findings} onChange=${setFindings} />
        <${ChooseAny} legend="For the desk" options=${["remark later", "ask a colleague"]} held=${[...(later ? ["remark later"] : []), ...(colleague ? ["ask a colleague"] : [])]} onChange=${(/** @type {string[]} */ held) => (setLater(held.includes("remark later")), setColleague(held.includes("ask a colleague")))} />
        <${Photo} nursery=${nursery} photo=${photo} onKept=${setPhoto} />
        <button type="button" class="key-wide primary" onClick=${() => setBeside("")}>Back to the bands</button>` : null}
      ${beside === "other" ? html`<${NotThisCase} others=${others} choose=${(/** @type {string} */ one) => (setBeside(""), choose(one))} back=${() => setBeside("")} />` : null}
      ${beside === "gone" ? html`<${NotHere} nursery=${nursery} egg=${egg} others=${others} skip=${skip} done=${done} back=${() => setBeside("")} />` : null}
      ${egg.held_apart ? html`<p class="hint">Held apart since ${since(egg.held_apart.since.time, nursery.now(), zoneOf(nursery))}: ${egg.held_apart.reason}.</p>` : null}
    </div>
  `;
}

/** @param {{nursery: import("../contracts.js").Nursery, egg: any, place: string, shape?: string, tankLabel: string, progress: string}} props */
function Head({ nursery, egg, place, shape, tankLabel, progress }) {
  const last = egg.looks.at(-1);
  const zone = zoneOf(nursery);
  const days = last ? daysBetween(last.time, nursery.now(), zone) : 0;
  const then = !last ? "not looked at yet" : days === 0 ? "last look today" : `last look ${counted(days, "day")} ago`;
  return html`
    <header class="case-head">
      <div>
        <p class="case-label" data-long=${[...egg.label].length > 10 ? "" : null}>${egg.label}</p>
        <p class="case-where"><span>${[tankLabel, place].filter((part) => part !== "").join(" · ")}</span> <span class="hint">${progress}</span></p>
      </div>
      <figure class="case-last">
        <${Drawing} svg=${drawCase(last ? numbersOf(last, shape) : { shape, yolk: 0, body: 0, seen: false }, { title: "Last look" })} />
        <figcaption>${then}</figcaption>
      </figure>
    </header>
  `;
}
