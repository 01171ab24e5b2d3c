// Checks of the agreement that run in node and, by the same code, inside the page: two machines,
// one answer. The vectors were made from the rules by independent code (tests/reference/log), and
// the Rust side runs them too (tests/suite/agreement).

/** @typedef {Record<string, any>} Modules */

const NAMES = ["bytes", "names", "time", "json", "envelope", "event", "ed25519", "curve", "merkle", "note", "receipt", "token", "gate", "refusal", "limits"];

/** Loads the agreement from where it stands. @param {string} base ending with a slash @returns {Promise<Modules>} */
export async function load(base) {
  const modules = await Promise.all(NAMES.map((name) => import(`${base}${name}.js`)));
  return Object.fromEntries(NAMES.map((name, at) => [name, modules[at]]));
}

/** @param {unknown} found @param {unknown} wanted @param {string} what */
function same(found, wanted, what) {
  const [a, b] = [JSON.stringify(found), JSON.stringify(wanted)];
  if (a !== b) throw new Error(`${what}: found ${a}, wanted ${b}`);
}

/**
 * Every check: what it says, and how it is made. `files` are the vectors by name.
 * @type {[string, (m: Modules, files: Record<string, any>) => Promise<void>|void][]}
 */
export const CHECKS = [
  ["key ids are those of the vectors", keyIds],
  ["every note of the vectors is reproduced byte for byte", notes],
  ["the receipt and the proofs of the vectors hold, and forged ones do not", receipts],
  ["roots are those of RFC 6962", roots],
  ["every envelope is refused with its problem or accepted", envelopes],
  ["a body is written as the vectors' client wrote it", bodies],
  ["signatures are as strict as F6", strictness],
  ["keys are as strict as F8", admissible],
  ["base64 is strict", base64],
  ["ULIDs sort as their moments", ulids],
  ["the signed note example of C2SP verifies", signedNote],
  ["the token example of RFC 8037 is reproduced", tokens],
];

/** @param {Modules} m @param {Record<string, any>} files */
async function keyIds(m, { vectors }) {
  for (const [name, key] of Object.entries(vectors.keys)) same(await m.names.keyidOf(m.bytes.fromHex(key.public_hex)), key.keyid, name);
}

/** The nine notes, opened one after the other as the log grew. @param {Modules} m @param {any} vectors */
async function openAll(m, vectors) {
  let ring = new Map();
  /** @type {any[]} */
  const opened = [];
  for (const expected of vectors.events) {
    const body = m.bytes.fromBase64(expected.body_base64);
    const signatures = expected.signatures.map((/** @type {any} */ one) => ({ keyid: one.keyid, sig: m.bytes.fromBase64(one.sig) }));
    const written = m.bytes.utf8(m.envelope.writeEnvelope(body, signatures));
    const note = await m.gate.open(written, { origin: opened.length === 0 ? null : vectors.origin, ring });
    ring = await m.gate.withKeysOf(note.event, ring);
    opened.push(note);
  }
  return { ring, opened };
}

/** @param {Modules} m @param {Record<string, any>} files */
async function notes(m, { vectors }) {
  const { opened } = await openAll(m, vectors);
  const key = await m.note.parseVerifierKey(vectors.log_vkey);
  same(m.note.writeVerifierKey(key), vectors.log_vkey, "verifier key");
  /** @type {Uint8Array[]} */
  const hashes = [];
  for (const [seq, expected] of vectors.events.entries()) {
    const note = opened[seq];
    same(note.event.type, expected.type, "type");
    same(m.bytes.base64(note.bodySha256), expected.body_sha256_base64, "body hash");
    same(m.bytes.hex(await m.bytes.sha256(m.envelope.signedBytes(note.body))), expected.pae_sha256_hex, "signed bytes");
    const recorded_ms = m.time.parseRecorded(expected.recorded_at);
    const leaf = { seq, recorded_ms, subjectVersion: expected.subject_version, bodySha256: note.bodySha256, signatures: note.signatures };
    same(m.receipt.writeLeaf(leaf), expected.leaf_utf8, "leaf");
    same(m.receipt.writeLeaf(m.receipt.parseLeaf(expected.leaf_utf8)), expected.leaf_utf8, "leaf, read again");
    hashes.push(await m.merkle.leafHash(m.bytes.utf8(expected.leaf_utf8)));
    same(m.bytes.hex(hashes[seq] ?? new Uint8Array()), expected.leaf_hash_hex, "leaf hash");
    same(m.bytes.hex(await m.merkle.rootOf(hashes)), expected.root_after_hex, "root");
    const checkpoint = m.note.parseCheckpoint(expected.checkpoint_after);
    same(m.note.writeCheckpoint(checkpoint), expected.checkpoint_after, "checkpoint, written again");
    same(await m.note.isSignedBy(checkpoint, key), true, "checkpoint signed");
    same(m.bytes.hex(checkpoint.checkpoint.root), expected.root_after_hex, "checkpoint root");
  }
}

/** @param {Modules} m @param {Record<string, any>} files */
async function receipts(m, { vectors }) {
  const key = await m.note.parseVerifierKey(vectors.log_vkey);
  const text = vectors.receipt_of_5_at_size_9;
  const receipt = m.receipt.parseReceipt(text);
  same(await m.receipt.receiptFault(receipt, key), null, "receipt");
  same(receipt.proof.map(m.bytes.base64), vectors.inclusion_of_5_in_9_base64, "inclusion proof");
  const bent = m.receipt.parseReceipt(text);
  bent.proof[0][3] ^= 1;
  same(await m.receipt.receiptFault(bent, key), "the receipt's proof does not lead from its leaf to its checkpoint", "bent proof");
  const other = { ...key, publicKey: m.bytes.fromHex(vectors.keys.keeper.public_hex) };
  same(await m.receipt.receiptFault(receipt, other), "the receipt's checkpoint is not signed by the log key that is pinned here", "other log key");
  const at = (/** @type {number} */ size) => m.note.parseCheckpoint(vectors.events[size - 1].checkpoint_after).checkpoint;
  const proof = vectors.consistency_5_to_9_base64.map(m.bytes.fromBase64Of32);
  same(await m.merkle.consistent(at(5), at(9), proof), true, "consistency");
  same(await m.merkle.consistent(at(5), { ...at(9), root: at(8).root }, proof), false, "another newer root");
  same(await m.merkle.consistent({ ...at(5), root: at(4).root }, at(9), proof), false, "another older root");
  same(await m.merkle.consistent(at(5), at(9), proof.slice(1)), false, "a proof cut short");
}

/** @param {Modules} m @param {Record<string, any>} files */
async function roots(m, { vectors }) {
  const { leaves_hex: leaves, roots_0_to_8_hex: wanted } = vectors.merkle;
  const hashes = await Promise.all(leaves.map((/** @type {string} */ leaf) => m.merkle.leafHash(m.bytes.fromHex(leaf))));
  same(m.bytes.hex(await m.merkle.rootOf([])), wanted[0], "root of nothing");
  await m.merkle.rootOf(hashes, async (/** @type {number} */ size, /** @type {() => Promise<Uint8Array>} */ root) => same(m.bytes.hex(await root()), wanted[size], `root of ${size}`));
}

/** Problems that need the whole log; everything before them in F7's order must have passed. */
const BEYOND_THE_GATE = ["not-permitted", "subject-unknown"];

/** @param {Modules} m @param {Record<string, any>} files */
async function envelopes(m, files) {
  const { ring } = await openAll(m, files.vectors);
  const log = { origin: files.vectors.origin, ring };
  const key = await m.note.parseVerifierKey(files.vectors.log_vkey);
  const wrong = [];
  const cases = [...files.bad.cases, ...files.more.cases];
  for (const { name, problem, envelope } of cases) {
    const found = await judged(m, envelope, log, key);
    const wanted = BEYOND_THE_GATE.includes(problem) ? "ACCEPTED" : problem;
    if (found !== wanted) wrong.push(`${name}: wanted ${wanted}, found ${found}`);
  }
  same(wrong, [], "envelopes");
  same(cases.length, 139, "cases in the two files");
}

/** @param {Modules} m @param {string} envelope @param {any} log @param {any} key */
async function judged(m, envelope, log, key) {
  try {
    const { event } = await m.gate.open(m.bytes.utf8(envelope), log);
    m.gate.checkTimes(event, m.time.parseInstant("2026-07-05T08:00:30Z"));
    if (event.seen) await m.gate.checkSeen(event.seen, key);
    return "ACCEPTED";
  } catch (error) {
    if (!(error instanceof Error && "problem" in error)) throw error;
    return error.problem;
  }
}

/** @param {Modules} m @param {Record<string, any>} files */
function bodies(m, { vectors }) {
  const draft = { id: "01JDH3G6C0TEST000000000009", nonce: "AAAAAAAAAAAAAAAAAAAAAA", type: "egg.candled.v1", subject: "egg/01JDH3G6C0EGG0000000000001", data: { seen_into: true, band: 4, remark: "a\nb" }, time_ms: 1_783_238_400_000 };
  const by = { origin: vectors.origin, keyid: vectors.keys.keeper.keyid, keycount: 7, signed_ms: 1_783_238_401_250, seen: null };
  const wanted =
    '{"specversion":"1.0","id":"01JDH3G6C0TEST000000000009","source":"https://records.example.org/nursery","type":"egg.candled.v1","subject":"egg/01JDH3G6C0EGG0000000000001","time":"2026-07-05T08:00:00.000Z","keyid":"1c166b56d81110ab278247ec460e8ed3","keycount":7,"nonce":"AAAAAAAAAAAAAAAAAAAAAA","signedtime":"2026-07-05T08:00:01.250Z","data":{"seen_into":true,"band":4,"remark":"a\\nb"}}';
  const body = m.event.writeBody(draft, by);
  same(m.bytes.fromUtf8(body), wanted, "body");
  same(m.event.parseEvent(body).keycount, 7, "read again");
  const seen = { size: 9, root: new Uint8Array(32), signature: new Uint8Array(68) };
  const late = m.event.writeBody({ ...draft, late: "power was off", correlation: "round/01JDH3G6C0RUND000000000001" }, { ...by, signed_ms: by.signed_ms + 16 * 60_000, seen });
  const read = m.event.parseEvent(late);
  same([read.late, read.latereason, read.seen.size, read.correlationid], [true, "power was off", 9, "round/01JDH3G6C0RUND000000000001"], "a late note that says what was seen");
}

/** @param {Modules} m */
async function strictness(m) {
  const { fromHex, utf8 } = m.bytes;
  // RFC 8032 7.1, TEST 2.
  const [key, sig] = ["3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"].map(fromHex);
  same(await m.ed25519.verify(key, fromHex("72"), sig), true, "the example of RFC 8032");
  same(await m.ed25519.verify(key, fromHex("73"), sig), false, "another message");
  // The identity as key, R = S·B with S = 0: the bare equation holds for every message.
  const identity = fromHex(`01${"00".repeat(31)}`);
  const forged = m.bytes.concat(identity, new Uint8Array(32));
  same(await m.ed25519.verify(identity, utf8("anything"), forged), false, "a key of small order");
  // S + L satisfies the equation too, and is another signature.
  const order = 2n ** 252n + 27742317777372353535851937790883648493n;
  const s = sig.slice(32).reduceRight((/** @type {bigint} */ sum, /** @type {number} */ byte) => (sum << 8n) | BigInt(byte), 0n) + order;
  const high = Uint8Array.from({ length: 32 }, (_, at) => Number((s >> BigInt(8 * at)) & 255n));
  same(await m.ed25519.verify(key, fromHex("72"), m.bytes.concat(sig.slice(0, 32), high)), false, "S not below the order");
}

/** @param {Modules} m @param {Record<string, any>} files */
function admissible(m, { vectors }) {
  for (const [name, key] of Object.entries(vectors.keys)) same(m.curve.inadmissible(m.bytes.fromHex(key.public_hex)), null, name);
  const identity = m.bytes.fromHex(`01${"00".repeat(31)}`);
  same(m.curve.inadmissible(identity), "the public key is of small order", "identity");
  same(m.curve.inadmissible(m.bytes.fromHex(`ee${"ff".repeat(30)}7f`)), "the public key is not in its canonical encoding", "y = p + 1");
  same(m.curve.inadmissible(m.bytes.fromHex(`02${"00".repeat(31)}`)), "the public key is no point of the curve", "y = 2");
  // The base point plus the point of order two: (-x, -y) of RFC 8032's B, whose y is 4/5.
  same(m.curve.inadmissible(m.bytes.fromHex(`95${"99".repeat(30)}99`)), "the public key is not torsion-free", "B plus torsion");
}

/** @param {Modules} m */
function base64(m) {
  const { base64: write, fromBase64: read, fromEitherBase64: either, fromBase64url: url } = m.bytes;
  for (let length = 0; length < 70; length += 1) {
    const bytes = Uint8Array.from({ length }, (_, at) => (at * 37 + length) & 255);
    same([...(read(write(bytes)) ?? [])], [...bytes], `${length} bytes`);
    same([...(url(m.bytes.base64url(bytes)) ?? [])], [...bytes], `${length} bytes, url`);
  }
  for (const wrong of ["A", "AB", "AB=", "AB=A", "AB===", "=", "AC==", "AAC=A", "A B=", "AB==\n", "-_==", "AAB="]) same(read(wrong), null, wrong);
  same(read("AAA=") !== null && either("-_A=") !== null && either("+/A=") !== null, true, "good ones");
  same(either("+_A="), null, "two alphabets in one string");
}

/** @param {Modules} m */
function ulids(m) {
  const make = (/** @type {number} */ ms, /** @type {number} */ fill) => m.names.ulid(ms, new Uint8Array(10).fill(fill));
  const list = [make(0, 0), make(1, 0), make(1, 255), make(1_772_320_440_000, 7), make(2 ** 47, 0)];
  same([...list].sort(), list, "order");
  same(list.every(m.names.isUlid), true, "form");
  // 281474976710655 ms is the last moment that 48 bits hold (the ULID specification's example).
  same(make(281_474_976_710_655, 255), "7ZZZZZZZZZZZZZZZZZZZZZZZZZ", "the greatest");
  same(m.names.isSubject("egg/01JDH3G6C0EGG0000000000001") && !m.names.isSubject("egg/01jdh3g6c0egg0000000000001") && m.names.isSubject("collection"), true, "subjects");
}

/** @param {Modules} m */
async function signedNote(m) {
  const key = await m.note.parseVerifierKey("PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW");
  const text = "If you think cryptography is the answer to your problem,\nthen you don't know what your problem is.\n";
  const line = m.bytes.fromBase64("x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=");
  same(m.bytes.hex(line.slice(0, 4)), m.bytes.hex(key.hash), "key id");
  same(await m.ed25519.verify(key.publicKey, m.bytes.utf8(text), line.slice(4)), true, "signature");
}

/** @param {Modules} m */
async function tokens(m) {
  // RFC 8037 appendix A: the key, the payload, and the JWS that A.4 prints.
  const jwk = { kty: "OKP", crv: "Ed25519", d: "nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A", x: "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo" };
  const key = await crypto.subtle.importKey("jwk", jwk, { name: "Ed25519" }, false, ["sign"]);
  const sign = async (/** @type {Uint8Array<ArrayBuffer>} */ message) => new Uint8Array(await crypto.subtle.sign({ name: "Ed25519" }, key, message));
  const printed = "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc.hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg";
  same(await m.token.signJws(sign, { alg: "EdDSA" }, m.bytes.utf8("Example of Ed25519 signing")), printed, "A.4");
  const token = await m.token.signToken(sign, { keyid: "aaf7877e2ec05f7b19309cb516c943d8", origin: "records.example.org/nursery", now_ms: 1_772_320_440_999, id: "01JDH3G6C0TEST000000000001" });
  const [header, claims] = token.split(".").slice(0, 2).map((/** @type {string} */ part) => m.bytes.fromUtf8(m.bytes.fromBase64url(part)));
  same(header, '{"alg":"EdDSA","typ":"JWT","kid":"aaf7877e2ec05f7b19309cb516c943d8"}', "header");
  same(claims, '{"aud":"records.example.org/nursery","iat":1772320440,"exp":1772320740,"jti":"01JDH3G6C0TEST000000000001"}', "claims");
}
