// The agreement between the shell, which owns keys, notes and reads, and the screens, which show
// and ask. A screen reaches nothing but the `Nursery` it is handed: no fetch, no storage, no clock
// of its own. Types only; nothing runs here.
//
// * a screen is a Preact component `({nursery, params})`, named in `screens/index.js`;
// * it reads by `useReading(nursery, "/v1/due")` of `shell/hooks.js`: the newest answer this device
//   has, off line too, with when it was answered;
// * it writes by `nursery.act(...)`: the note stays unsigned and can be taken back for a while;
// * what is not yet in an answer of the service is in `nursery.notes`: lay it over what was read.

/**
 * A person whose key is on this device.
 * @typedef {object} Person
 * @property {string} keyid 32 hexadecimal characters
 * @property {string} name as shown; of this device only, never in a note
 * @property {string} publicKey 32 bytes in base64
 * @property {"made"|"enrolled"|"ended"} standing made here and not yet enrolled; enrolled; revoked or past its end
 * @property {string} person `person/<ULID>` once enrolled, else ""
 * @property {string[]} roles in the words of roles.json
 */

/**
 * What becomes of a note of this device.
 * `pending`: tapped, unsigned, can be taken back. `waiting`: signed, waits to be sent or for its
 * receipt. `recorded`: its receipt was verified here. `refused`: kept, with the reason.
 * @typedef {"pending"|"waiting"|"recorded"|"refused"} NoteState
 */

/**
 * A note of this device.
 * @typedef {object} LocalNote
 * @property {string} id ULID
 * @property {string} type such as `egg.candled.v1`
 * @property {string} subject such as `egg/01JD…`
 * @property {Record<string, any>} data the kind's own members, as they are signed
 * @property {string} time when it happened, as it stands in the note
 * @property {string} [correlation] the round
 * @property {string} says the words on the button that made it
 * @property {string} keyid its author's key
 * @property {NoteState} state
 * @property {string} group what is taken back together; the subject unless said otherwise
 * @property {number} tapped_ms when it was tapped, by this device's clock
 * @property {Problem} [problem] why it was refused
 * @property {boolean} [read] a person has read why
 * @property {{roles?: string[], persons?: number, key?: string}[]} [wants] it waits at the service for these signatures
 * @property {number} [seq] its place in the log, once recorded
 */

/**
 * A note just tapped.
 * @typedef {LocalNote & {takeBack: () => Promise<boolean>}} PendingNote
 *   `takeBack` answers false when it is too late: it is signed, and is put right by a new note.
 */

/**
 * Why the service refused (RFC 9457).
 * @typedef {object} Problem
 * @property {string} name the last part of its type, such as `subject-unknown`
 * @property {string} detail one sentence
 * @property {string} [pointer] JSON pointer of the member at fault
 */

/**
 * What a note says beside its data.
 * @typedef {object} Saying
 * @property {string} subject such as `egg/01JD…` or `collection`
 * @property {string} says the words on the button: what will be signed
 * @property {string} [time] when it happened (RFC 3339); now, if not said
 * @property {string} [timeafter] it happened after this and not after `time`
 * @property {string} [late] why it is written afterwards; needed when `time` is more than 15 minutes ago
 * @property {number} [expect] the subject's version that was shown; for decisions and edits on line
 * @property {string} [correlation] the round
 * @property {string} [causation] the decision it follows from
 * @property {string} [group] what it is taken back with; the subject if not said
 * @property {boolean} [atOnce] sign now, and all that was tapped before, without the time in which it can be taken back
 */

/**
 * An answer of the service as this device has it.
 * @typedef {object} Reading
 * @property {string} path with its query, such as `/v1/eggs?limit=1000`
 * @property {any} body the JSON: `items` or `item`, beside `as_of`, `known_at`, `root`
 * @property {number} when_ms when it was answered, by this device's clock
 * @property {boolean} fresh whether it was answered since the page last heard of the service
 */

/**
 * A note by another that waits at the service for signatures.
 * @typedef {import("./device/approving.js").Waiting} Waiting
 */

/**
 * @typedef {object} KeptPhoto
 * @property {string} photo_sha256 of the original, hexadecimal
 * @property {string} photo_copy_sha256 of the copy that the service will keep; `/v1/evidence/<it>` shows it
 * @property {number|null} taken_ms
 */

/** @typedef {import("./agreement/audit.js").Check} Check */
/** @typedef {import("./agreement/audit.js").Audit} Audit */

/**
 * A form that is half filled in.
 * @typedef {object} KeptForm
 * @property {number} at_ms when it was begun
 * @property {Record<string, any>} values what stands in it
 */

/**
 * When a person last said to have looked, and how many notes were known then.
 * @typedef {object} Looked
 * @property {number} at_ms
 * @property {number} known_at
 */

/**
 * What waits.
 * @typedef {object} OutboxState
 * @property {number} pending tapped, unsigned
 * @property {number} waiting signed, not yet recorded
 * @property {number} refused kept with their reasons
 * @property {number|null} oldest_ms when the oldest waiting note was tapped
 * @property {"calm"|"late"|"refused"|"broken"} alarm late: the oldest is over 48 h; broken: a receipt or
 *   checkpoint did not hold, nothing more is sent
 * @property {string} [broken] what did not hold, one sentence
 * @property {boolean} onLine whether the service answered when last asked
 * @property {boolean} sending
 * @property {boolean|null} persistent whether the browser promised to keep the storage; null: not asked yet
 */

/**
 * Settings of this device.
 * @typedef {object} Settings
 * @property {"dark"|"bright"} theme
 * @property {number} dimmer 0 (full light) to 4 (few lit pixels)
 * @property {"right"|"left"} thumb
 * @property {boolean} tones
 */

/**
 * Whose record it is, as the device last read it.
 * @typedef {object} House
 * @property {string} name
 * @property {string} origin
 * @property {string} timeZone IANA
 * @property {string} fingerprint of the log key pinned on this device
 * @property {boolean} simulatedClock an invented season
 */

/**
 * All that a screen can do. Its members are read anew at each render: `useNursery(nursery)` renders
 * again when any of them changed.
 * @typedef {object} Nursery
 * @property {Person|null} person whose key signs
 * @property {Person[]} people all keys on this device
 * @property {House|null} house null before first contact
 * @property {Settings} settings
 * @property {OutboxState} outbox
 * @property {LocalNote[]} notes of this device, oldest first; recorded ones for two days
 * @property {number} changes how often any of these changed
 * @property {() => number} now this device's clock, ms
 * @property {(noun: string) => string} newSubject such as `egg/<new ULID>`
 * @property {(type: string, data: Record<string, any>, saying: Saying) => Promise<PendingNote>} act
 *   rejects with a `Trouble` whose message is a sentence for the person
 * @property {(group: string) => Promise<boolean>} takeBack every pending note of a group
 * @property {() => Promise<void>} settle signs all that is pending: the screen is left
 * @property {(path: string) => Reading|null} reading the newest answer here, at once
 * @property {(path: string) => Promise<Reading>} read asks the service; what is here if it does not answer
 * @property {(path: string) => Promise<Blob>} fetchFile a file of the service (an image, a bundle), off line if kept
 * @property {(file: Blob) => Promise<string>} keepFile keeps a file to be sent once a note that names its
 *   SHA-256 is recorded; answers the hash in hexadecimal
 * @property {() => Promise<Waiting[]>} forMe notes by others that want this person's signature; on line only
 * @property {(note: Waiting) => Promise<boolean>} approve signs the very bytes that were shown; false: others must sign too
 * @property {(photo: Blob) => Promise<KeptPhoto>} keepPhoto keeps a smaller copy without position data, to be sent
 *   once a note names it; put both hashes into the note's data under these very names
 * @property {(tell: (check: Check) => void) => Promise<Audit>} prove fetches the whole record and checks it in the page,
 *   under the key pinned here and against all that this device has seen; `tell` hears each check as it is made
 * @property {(name: string) => KeptForm|null} form this person's, kept until signed or given up
 * @property {(name: string, member: string, value: any) => void} keepForm
 * @property {(name: string) => void} forgetForm
 * @property {(what: string) => Looked|null} looked
 * @property {(what: string, known_at: number) => void} lookedNow
 * @property {(change: Partial<Settings>) => Promise<void>} set
 * @property {(hash: string) => void} navigate such as `#/tray/tank/01JD…`
 * @property {(kind: "still"|"moving"|"loss"|"done"|"no") => void} tone
 * @property {(listener: () => void) => () => void} onGrown called when the log is known to have grown; answers how to stop
 * @property {(listener: () => void) => () => void} subscribe called after any change; answers how to stop
 */

/**
 * What `screens/index.js` exports as `SCREENS`.
 * @typedef {object} Screen
 * @property {string} path such as `/tray/:noun/:id`; its names are the members of `params`
 * @property {string} title
 * @property {() => Promise<{default: (props: ScreenProps) => any}>} load
 * @property {boolean} [roundScreen] notes stay pending while it is open, up to three cases and 60 s
 * @property {boolean} [tab] whether the bar at the bottom leads to it
 */

/**
 * @typedef {object} ScreenProps
 * @property {Nursery} nursery
 * @property {Record<string, string>} params
 */

export {};
