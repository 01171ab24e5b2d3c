// A case that was put down: a decision that others have made is noted, with who decided and why. A
// line of its own, never among the losses. Nothing here suggests it, and how is neither asked nor
// written.

import { html } from "../../html.js";
import { useNursery } from "../../shell/hooks.js";
import { stripLooks, Strip } from "../case.js";
import { ALIVE, PUT_DOWN_REASONS, putDown } from "../notes/eggs.js";
import { REMARK_MAX, WORDS_MAX } from "../notes/note.js";
import { Caution, Choose, ChooseAny, Fresh, Sign, TakeBack, Words } from "../parts/controls.js";
import { clock, since } from "../parts/days.js";
import { keptForm, useKept } from "../parts/kept.js";
import { keyed } from "../parts/keyed.js";
import { isOpen } from "../parts/open.js";
import { lastOf, shapeOf, useEggs, useItems, usePeople, zoneOf } from "../parts/reading.js";

/** @import { Nursery, ScreenProps } from "../../contracts.js" */

export default keyed(PutDown);

/** @param {ScreenProps} props */
function PutDown({ nursery, params }) {
  useNursery(nursery);
  const eggs = useEggs(nursery);
  const species = useItems(nursery, "/v1/species");
  const zone = zoneOf(nursery);
  const egg = eggs.items.find(({ id }) => id === `egg/${params.egg}`);
  if (!egg) return html`<${Fresh} read=${eggs} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />`;
  return html`
    <div class="hand">
      <h2 class="case-label">${egg.label}</h2>
      <${Caution}>The licensed veterinarian and the institution's animal-welfare process decide, before anything is done; local law and permits apply. This page notes a decision that was made. It suggests none, and how is neither asked nor written.<//>
      <${Caution}>No movement is not death, and a late case is not a dead one: most late young come by themselves.<//>
      <${Strip} looks=${stripLooks(egg.looks, zone)} shape=${shapeOf(species.items, egg.species)} label=${egg.label} />
      ${isOpen(egg) ? html`<${KeptDecision} key=${egg.id} nursery=${nursery} egg=${egg} />` : html`<p>It is not open any more: ${egg.fate.state.replaceAll("_", " ")}, ${since(egg.fate.time, nursery.now(), zone)}.</p>`}
      <a class="key-wide" href=${`#/opening/${egg.id}`}>Left to hatch is a choice too: what speaks for and against opening</a>
    </div>
    <${TakeBack} nursery=${nursery} name=${() => egg.label} />
  `;
}

/** @param {{nursery: Nursery, egg: any, form: string, anew: () => void}} props */
function Decision({ nursery, egg, form, anew }) {
  const people = usePeople(nursery);
  const [by, setBy] = useKept(nursery, form, "by", /** @type {string[]} */ ([]));
  const [reason, setReason] = useKept(nursery, form, "reason", "");
  const [alive, setAlive] = useKept(nursery, form, "alive", "");
  const [authority, setAuthority] = useKept(nursery, form, "authority", "");
  const [remark, setRemark] = useKept(nursery, form, "remark", "");
  const name = (/** @type {string} */ person) => people.items.find((one) => one.person === person)?.name ?? nursery.people.find((one) => one.person === person)?.name ?? lastOf(person);
  const deciding = people.items.filter(({ roles }) => roles.some((/** @type {string} */ role) => ["veterinarian", "curator", "registrar"].includes(role))).map(({ person }) => person);
  const missing = by.length === 0 ? "Say who decided" : reason === "" ? "Say why" : alive === "" ? "Say whether the embryo was alive" : null;
  const band = egg.looks.findLast((/** @type {any} */ look) => look.band !== undefined)?.band;
  const notes = missing ? [] : [putDown({ egg: egg.id, by, names: by.map(name), reason, alive, band, authority: authority.trim(), remark })];
  return html`
    <section>
      <h2>Who must have agreed</h2>
      <p>The licensed veterinarian, and whoever the institution's animal-welfare process names. Name all who decided; whoever notes it is named by the signature.</p>
      <${ChooseAny} legend="Who decided" options=${deciding} held=${by} onChange=${setBy} words=${name} />
      ${deciding.length === 0 ? html`<p class="hint">Nobody who may decide is known on this device.</p>` : null}
      <${Choose} legend="Why, as it was decided" options=${PUT_DOWN_REASONS} held=${reason} onChoose=${setReason} />
      <${Choose} legend="Was the embryo alive, as far as was known?" options=${ALIVE} held=${alive} onChoose=${setAlive} />
      <${Words} label="The decision or protocol it rests on" hint="minute, number or name of the paper" text=${authority} onText=${setAuthority} most=${WORDS_MAX} />
      <${Words} label="In words" hint="no names of people, and nothing of how" text=${remark} onText=${setRemark} most=${REMARK_MAX} lines=${2} />
      <${Sign} nursery=${nursery} kind="main" notes=${notes} why=${missing} onSigned=${() => (anew(), nursery.tone("loss"))} />
    </section>
  `;
}

const KeptDecision = keptForm(Decision, ({ egg }) => `put-down/${egg.id}`);
