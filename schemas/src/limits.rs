//! Every limit of the project, in one place, related to each other at compile time.

/// Largest body of an event, in bytes before base64 (F4).
pub const EVENT_BYTES_MAX: usize = 16 * 1024;
/// Largest envelope: the body in base64, its signatures and a little room (F7).
pub const ENVELOPE_BYTES_MAX: usize = 24 * 1024;
/// Most envelopes in one request.
pub const BATCH_EVENTS_MAX: usize = 256;
/// Largest request body, in bytes.
pub const BODY_BYTES_MAX: usize = 8 * 1024 * 1024;
/// Most signatures on one envelope (F7).
pub const SIGNATURES_MAX: usize = 8;
/// Deepest nesting of a body; the body object itself is depth 1 (F4).
pub const DEPTH_MAX: usize = 16;
/// Days after which a waiting note needs a registrar's approval (F11).
pub const OFFLINE_DAYS_MAX: i64 = 14;
/// Minutes between `time` and `signedtime` beyond which a note says that it is late (F5).
pub const LATE_MINUTES: i64 = 15;
/// How far `time` may lie ahead of the service's clock, in milliseconds (F16).
pub const CLOCK_SKEW_MS: i64 = 120_000;
/// How far the service's clock may go back before it refuses to write, in milliseconds (F16).
pub const CLOCK_BACK_MS: i64 = 5_000;
/// Hours that a count may be missing before it is a discrepancy (F12).
pub const GAP_HOURS: i64 = 24;
/// Longest `latereason`, in code points (F5).
pub const LATE_REASON_CHARS_MAX: usize = 200;
/// Longest `correlationid` and `causationid`, in code points.
pub const CORRELATION_CHARS_MAX: usize = 200;
/// Longest label of an egg, animal or tank, in code points.
pub const LABEL_CHARS_MAX: usize = 24;
/// Largest CloudEvents Integer (CloudEvents 1.0.2, type system).
pub const INTEGER_MAX: u64 = 2_147_483_647;
/// Largest magnitude of an integer in I-JSON (RFC 7493 2.2): 2^53 - 1.
pub const JSON_INTEGER_MAX: u64 = 9_007_199_254_740_991;
/// First and last year that a time may name (F2).
pub const YEAR_MIN: i32 = 1800;
/// See [`YEAR_MIN`].
pub const YEAR_MAX: i32 = 9998;
/// Fewest and most root keys of a collection (F10).
pub const ROOT_KEYS_MIN: usize = 2;
/// See [`ROOT_KEYS_MIN`].
pub const ROOT_KEYS_MAX: usize = 8;

/// Requests that may wait for the journal before the service answers 503.
pub const JOURNAL_QUEUE_MAX: usize = 1024;
/// Most events the journal commits together.
pub const COMMIT_EVENTS_MAX: usize = 512;
/// Events read from the store at once.
pub const PAGE_EVENTS_MAX: usize = 4096;
/// Items on one page of a list, if the caller does not say.
pub const LIST_ITEMS_DEFAULT: usize = 100;
/// Most items on one page of a list; more is refused, not clamped.
pub const LIST_ITEMS_MAX: usize = 1000;
/// Most bytes of a house's own jurisdiction profile.
pub const PROFILE_BYTES_MAX: u64 = 64 * 1024;
/// Longest reason for releasing a report whose lines do not add up, in code points: the words of its note.
pub const RELEASE_CHARS_MAX: usize = 200;
/// Most notes that are named behind a cell of a report for one key.
pub const CELL_NOTES_MAX: usize = 10_000;
/// How long the typesetter may take for a report, in seconds.
pub const TYPESET_SECONDS_MAX: u64 = 30;
/// Most address space the typesetter may have, in bytes.
pub const TYPESET_BYTES_MAX: u64 = 2 * 1024 * 1024 * 1024;
/// Most cases that a decision about openings lists as having met the criteria; the whole answer
/// names all. So many ids and their commas take a quarter of a body.
pub const ASSESSED_CASES_MAX: usize = 128;
/// Cases of one hatch ribbon: more leaves than this nobody tells apart.
pub const RIBBON_CASES_MAX: usize = 200;
/// How far ahead the list of what is due may look, in hours: a leap year.
pub const DUE_WITHIN_HOURS_MAX: u32 = 8_784;
/// Most readings of water in one answer.
pub const WATER_READINGS_MAX: usize = 50_000;
/// Most rows of a logger's file.
pub const LOGGER_ROWS_MAX: u64 = 1_000_000;
/// Readings of a logger's file that are signed and sent at once.
pub const LOGGER_SEND_MAX: usize = 500;
/// Characters of a logger file's name that its notes carry.
pub const LOGGER_NAME_CHARS_MAX: usize = 80;
/// Days for which the record is asked at once what it knows of a logger's readings.
pub const LOGGER_ASK_DAYS: i64 = 30;
/// Digits of a page's hash that stand on a round sheet.
pub const PAGE_HASH_CHARS: usize = 16;
/// Threads that verify signatures ahead of the journal, per processor.
pub const VERIFY_TASKS_PER_CORE: usize = 4;
/// SQLite page size in bytes.
pub const STORE_PAGE_BYTES: usize = 16 * 1024;
/// How long a writer waits for another's lock on the store, in milliseconds.
pub const STORE_BUSY_MS: u64 = 5_000;
/// Frames in the write-ahead log before it is copied back, off the append path.
pub const STORE_CHECKPOINT_FRAMES: u32 = 4_000;
/// Smallest SQLite that we trust with a live log (3.51.3 mends the WAL-reset fault).
pub const SQLITE_VERSION_MIN: i32 = 3_051_003;
/// Seconds a client waits for an answer of the service.
pub const CLIENT_TIMEOUT_S: u64 = 30;
/// Seconds a client waits between two pieces of a stream: while a table is written the service is silent.
pub const CLIENT_STREAM_SILENCE_S: u64 = 80;
/// Seconds a client waits for a connection.
pub const CLIENT_CONNECT_TIMEOUT_S: u64 = 5;
/// Hours after which a note that waits on its device is pointed out.
pub const WAITING_WARN_HOURS: i64 = 48;
/// Times a client asks again when the service says that it is busy.
pub const CLIENT_RETRIES_MAX: u32 = 8;
/// Largest answer, other than a bundle, that a client reads, in bytes.
pub const CLIENT_ANSWER_BYTES_MAX: u64 = 256 * 1024 * 1024;
/// Most bytes that a client takes out of an archive, all files together.
pub const ARCHIVE_BYTES_MAX: u64 = 64 * 1024 * 1024 * 1024;
/// Most files that a client takes out of an archive.
pub const BUNDLE_FILES_MAX: usize = 1_000_000;
/// Seconds that `Retry-After` asks a refused writer to wait.
pub const RETRY_AFTER_S: u64 = 1;
/// Most faults that an audit tells one by one; more are only counted.
pub const AUDIT_FAULTS_MAX: usize = 100;
/// Findings of one sort that the verifier tells people one by one; JSON has them all.
pub const AUDIT_FINDINGS_SHOWN_MAX: usize = 10;
/// How far `recorded_at` may run ahead of the clock when commits are many and small, in
/// milliseconds; the journal then waits for the clock (F16).
pub const CLOCK_AHEAD_MS: i64 = 1_000;
/// Read-only connections to the store that are kept open between reads.
pub const STORE_READERS_KEPT: usize = 8;
/// Prepared statements that a connection to the store keeps.
pub const STORE_STATEMENTS_KEPT: usize = 32;
/// How often the write-ahead log is looked at, in milliseconds.
pub const STORE_CHECKPOINT_EVERY_MS: u64 = 200;
/// Frames in the write-ahead log at which writers are held up until it is copied back.
pub const STORE_CHECKPOINT_FRAMES_MAX: u32 = 40_000;
/// How much of a request that is too large is read and thrown away, so that its sender can read
/// the answer, in bytes.
pub const BODY_DRAIN_BYTES_MAX: usize = 64 * 1024 * 1024;
/// Largest file that a note names and the service keeps, in bytes: a photo, a paper.
pub const EVIDENCE_BYTES_MAX: usize = 32 * 1024 * 1024;
/// Longest query string, in bytes.
pub const QUERY_BYTES_MAX: usize = 4096;
/// Most older checkpoints that a bundle carries along.
pub const BUNDLE_CHECKPOINTS_MAX: usize = 256;
/// Milliseconds between two movements of what says that a client is waiting.
pub const PROGRESS_TICK_MS: u64 = 120;
/// Notes after which the rows of some cases are worked out before further cases are looked at.
pub const CASE_NOTES_AT_ONCE: usize = 16_384;
/// Most memory, in MiB, that sending an export may take beyond what the service holds anyway.
pub const EXPORT_MEMORY_MIB_MAX: u64 = 64;
/// Bytes of an export that are sent at once.
pub const EXPORT_CHUNK_BYTES: usize = 64 * 1024;
/// Chunks of an export that may wait for a slow reader.
pub const EXPORT_CHUNKS_WAITING_MAX: usize = 8;
/// Things that are asked about at once while tables are written; others can write between two pages.
pub const EXPORT_PAGE_THINGS: usize = 256;
/// Rows after which a page of a table ends, with those of the thing that filled it.
pub const EXPORT_PAGE_ROWS: usize = 1_024;
/// Memory, in KiB, in which rows are put in order before they lie in a file.
pub const EXPORT_SORT_KIB: i64 = 4_096;
/// Seconds that requests under way are given when the service stops.
pub const SHUTDOWN_GRACE_S: u64 = 10;
/// Leaves that the scrub hashes again before it rests.
pub const SCRUB_EVENTS: usize = 512;
/// Milliseconds that the scrub rests.
pub const SCRUB_REST_MS: u64 = 1_000;
/// Bytes of each of the two places in the high-water mark's file; a checkpoint fits in one.
pub const HIGH_WATER_PLACE_BYTES: usize = 4096;
/// Room, in bytes, that a file system in memory must have before the demo keeps its log there.
pub const DEMO_MEMORY_BYTES_MIN: u64 = 1024 * 1024 * 1024;
/// A death counts as early up to so many whole days after hatch (a convention of this project).
pub const EARLY_DEATH_DAYS_MAX: i64 = 30;
/// Days after which a discrepancy that may be asked about when convenient is on the list of what
/// is due (a convention of this project).
pub const SETTLE_WITHIN_DAYS: i64 = 7;
/// Ages in days up to which reports count open discrepancies together.
pub const DISCREPANCY_FRESH_DAYS: i64 = 7;
/// See [`DISCREPANCY_FRESH_DAYS`].
pub const DISCREPANCY_RECENT_DAYS: i64 = 30;
/// Longest shown name of a person, in code points.
pub const PERSON_NAME_CHARS_MAX: usize = 100;
/// Largest file of shown names, in bytes.
pub const PEOPLE_FILE_BYTES_MAX: u64 = 1024 * 1024;
/// Most half-signed bodies that wait for further signatures.
pub const WAITING_BODIES_MAX: usize = 1000;
/// Most of them by one author's key.
pub const WAITING_BODIES_BY_KEY_MAX: usize = 100;
/// Largest file that the verifier reads whole, in bytes.
pub const BUNDLE_FILE_BYTES_MAX: u64 = 4 * 1024 * 1024 * 1024;
/// Longest life of a token, from iat to exp, in seconds.
pub const TOKEN_LIFE_MAX_S: i64 = 600;
/// Life of the tokens that the client makes, in seconds.
pub const TOKEN_LIFE_S: i64 = 300;
/// Seconds before its end at which the client makes a new token.
pub const TOKEN_RENEW_S: i64 = 60;
/// Longest token, in bytes.
pub const TOKEN_BYTES_MAX: usize = 1024;
/// Shortest `jti`, in bytes.
pub const TOKEN_ID_BYTES_MIN: usize = 16;
/// Longest `jti`, in bytes.
pub const TOKEN_ID_BYTES_MAX: usize = 64;
/// Living tokens of one key that the service remembers; of more it forgets those that end first.
pub const TOKENS_KEPT_PER_KEY_MAX: usize = 1024;
/// Refused writes that are kept for an auditor; older ones are only counted.
pub const REFUSALS_KEPT_MAX: i64 = 10_000;
/// Refused writes that may wait to be kept; more are only counted.
pub const REFUSALS_QUEUE_MAX: usize = 1024;
/// Requests a second that one address may go on making.
pub const PEER_REQUESTS_PER_S: u32 = 50;
/// Seconds' worth of requests that an address which was quiet may make at once.
pub const PEER_BURST_S: u32 = 4;
/// Addresses whose rate is kept; of more, those that were quiet are forgotten.
pub const PEERS_KEPT_MAX: usize = 10_000;
/// Connections that the service holds at once; more wait to be taken.
pub const CONNECTIONS_MAX: usize = 1024;
/// Connections that one address may hold at once; more are closed.
pub const PEER_CONNECTIONS_MAX: usize = 64;
/// Seconds that a TLS handshake may take.
pub const TLS_HANDSHAKE_S: u64 = 10;
/// Seconds after which a connection on which nothing moves is closed.
pub const CONNECTION_IDLE_S: u64 = 90;
/// Connections that are ready and wait for the server.
pub const CONNECTIONS_READY_MAX: usize = 64;
/// Days that a house's certificate authority lasts.
pub const CA_DAYS: i64 = 3650;
/// Days that a server certificate lasts.
pub const SERVER_CERTIFICATE_DAYS: i64 = 397;
/// Most different rows, after like ones were counted together, that `selachron compute` takes.
pub const COMPUTE_DIFFERENT_ROWS_MAX: usize = 1_000_000;
/// Rows of a table that are held before like ones are counted together.
pub const COMPUTE_ROWS_HELD_MAX: usize = 2_000_000;
/// Seconds that one live stream lasts; who listens comes again, with a token that still holds.
pub const LIVE_STREAM_MAX_S: u64 = 600;
/// Seconds of quiet after which a live stream says that it is there.
pub const LIVE_QUIET_S: u64 = 20;
/// Milliseconds that a listener waits before it comes again.
pub const LIVE_AGAIN_MS: u64 = 2_000;
/// Numbers of a table lie below this: beyond it neighbouring whole numbers cannot be told apart for long,
/// and it is a slip.
pub const COMPUTE_NUMBER_MAX: f64 = 1e15;
/// Most strata or clusters of a table.
pub const COMPUTE_STRATA_MAX: usize = 100_000;
/// Most groups or causes of a table.
pub const COMPUTE_LABELS_MAX: usize = 1_000;
/// Most rows that the notes of an answer list one by one; more are only counted.
pub const COMPUTE_LISTED_MAX: usize = 20;
/// Steps of a curve that are drawn; a page shows no more.
pub const COMPUTE_PIECES_DRAWN_MAX: usize = 2_000;
/// Characters of a cell that a sentence about it shows.
pub const COMPUTE_CELL_CHARS_SHOWN: usize = 40;

// A full batch of the largest envelopes must fit in one request.
const _: () = assert!(BATCH_EVENTS_MAX * ENVELOPE_BYTES_MAX <= BODY_BYTES_MAX);
// The largest body must fit in an envelope: base64 is four bytes for three.
const _: () = assert!(EVENT_BYTES_MAX.div_ceil(3) * 4 + SIGNATURES_MAX * 160 < ENVELOPE_BYTES_MAX);
// A whole request can be committed at once.
const _: () = assert!(BATCH_EVENTS_MAX <= COMMIT_EVENTS_MAX);
const _: () = assert!(ROOT_KEYS_MAX <= SIGNATURES_MAX);
// Running ahead must never look like a clock that has gone back.
const _: () = assert!(CLOCK_AHEAD_MS < CLOCK_BACK_MS);
const _: () = assert!(BODY_BYTES_MAX < BODY_DRAIN_BYTES_MAX);
const _: () = assert!(EVIDENCE_BYTES_MAX < BODY_DRAIN_BYTES_MAX);
const _: () = assert!(STORE_CHECKPOINT_FRAMES < STORE_CHECKPOINT_FRAMES_MAX);
const _: () = assert!(LIST_ITEMS_DEFAULT <= LIST_ITEMS_MAX);
// A waiting note is pointed out before it needs a registrar.
const _: () = assert!(WAITING_WARN_HOURS < OFFLINE_DAYS_MAX * 24);
// What may wait is asked about before what mends itself is given up.
const _: () = assert!(SETTLE_WITHIN_DAYS < OFFLINE_DAYS_MAX);
const _: () = assert!(DISCREPANCY_FRESH_DAYS < DISCREPANCY_RECENT_DAYS);
// One key cannot fill the waiting place.
const _: () = assert!(WAITING_BODIES_BY_KEY_MAX < WAITING_BODIES_MAX);
// Nobody waits longer for a connection than for an answer.
const _: () = assert!(CLIENT_CONNECT_TIMEOUT_S <= CLIENT_TIMEOUT_S);
// A token that the client makes is taken, and is renewed before it ends.
const _: () = assert!(TOKEN_LIFE_S <= TOKEN_LIFE_MAX_S && TOKEN_RENEW_S < TOKEN_LIFE_S);
// A device whose clock is behind as far as a note's may be ahead can still read.
const _: () = assert!(CLOCK_SKEW_MS < TOKEN_LIFE_S * 1000);
const _: () = assert!(TOKEN_ID_BYTES_MAX < TOKEN_BYTES_MAX);
const _: () = assert!(PEER_CONNECTIONS_MAX <= CONNECTIONS_MAX && CONNECTIONS_READY_MAX <= CONNECTIONS_MAX);
// A connection under way is not closed while its client still waits for the answer.
const _: () = assert!(CLIENT_STREAM_SILENCE_S < CONNECTION_IDLE_S && CLIENT_TIMEOUT_S < CLIENT_STREAM_SILENCE_S);
const _: () = assert!(BUNDLE_FILE_BYTES_MAX <= ARCHIVE_BYTES_MAX);
// What waits for a slow reader is a small part of what an export may take.
const _: () = assert!(((EXPORT_CHUNKS_WAITING_MAX + 2) * EXPORT_CHUNK_BYTES) as u64 * 4 <= EXPORT_MEMORY_MIB_MAX * 1024 * 1024);
const _: () = assert!(CLIENT_TIMEOUT_S < CONNECTION_IDLE_S && TLS_HANDSHAKE_S < CONNECTION_IDLE_S);
// A stream is not closed as idle, and outlives no token that opened it by more than a token lives.
const _: () = assert!(LIVE_QUIET_S < CONNECTION_IDLE_S && LIVE_STREAM_MAX_S as i64 <= TOKEN_LIFE_MAX_S);
// The authority outlasts what it signs.
const _: () = assert!(SERVER_CERTIFICATE_DAYS < CA_DAYS);
// After gathering there is room for new rows.
const _: () = assert!(COMPUTE_DIFFERENT_ROWS_MAX < COMPUTE_ROWS_HELD_MAX);
// The list of an assessment leaves room for the decision itself; an id and its comma take 33 bytes.
const _: () = assert!(ASSESSED_CASES_MAX * 33 <= EVENT_BYTES_MAX / 2);
