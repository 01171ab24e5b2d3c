"""Asks securesystemslib whether the envelopes of a bundle are DSSE envelopes whose every signature
verifies, and cloudevents whether their bodies are CloudEvents 1.0.

    envelopes.py BUNDLE     (a folder with envelopes.ndjson)

Keys come from the bodies themselves, and their ids are computed here (rule F8), so nothing of
ours is believed.
"""

import base64
import hashlib
import json
import sys

from cloudevents.core.formats.json import JSONFormat
from securesystemslib.dsse import Envelope
from securesystemslib.exceptions import VerificationError
from securesystemslib.signer import SSlibKey

from shared import body_of, end, envelopes

PAYLOAD_TYPE = "application/vnd.selachron.event.v1+json"


def key_from(public_base64):
    public = base64.b64decode(public_base64, validate=True)
    keyid = hashlib.sha256(b"selachron-key/v1\n\x01" + public).digest()[:16].hex()
    return SSlibKey(keyid, "ed25519", "ed25519", {"public": public.hex()})


def keys_in(body):
    """Keys that a body brings into the log."""
    data = body["data"]
    if body["type"] in ("collection.founded.v1", "root.replaced.v1"):
        return [key_from(root["public_key"]) for root in data["root_keys"]]
    if body["type"] == "key.enrolled.v1":
        return [key_from(data["public_key"])]
    return []


def verifies(envelope, keys):
    """Whether every signature is by a known key and right."""
    # The library takes the envelope apart in place, so it gets a copy of its own.
    read = Envelope.from_dict(json.loads(json.dumps(envelope)))
    try:
        return len(read.verify(list(keys.values()), len(envelope["signatures"]))) == len(envelope["signatures"])
    except (VerificationError, ValueError):
        return False


def changed(envelope):
    """The same envelope, with one byte of its body changed."""
    body = bytearray(body_of(envelope))
    body[len(body) // 2] ^= 1
    return envelope | {"payload": base64.b64encode(body).decode()}


def event_faults(raw):
    """What a CloudEvents reader sees other than what was written."""
    body = json.loads(raw)
    event = JSONFormat().read(None, raw)
    seen = event.get_attributes() | {"time": body["time"]}
    wanted = {name: value for name, value in body.items() if name != "data"}
    if seen != wanted or event.get_data() != body["data"]:
        yield f"cloudevents reads {seen}"
    if event.get_specversion() != "1.0" or event.get_time().tzinfo is None:
        yield "cloudevents reads another version, or a time without its offset"


def faults_of(envelope, keys):
    if envelope["payloadType"] != PAYLOAD_TYPE:
        yield f"payloadType {envelope['payloadType']}"
    if not verifies(envelope, keys):
        yield "securesystemslib does not verify every signature"
    if verifies(changed(envelope), keys):
        yield "securesystemslib verifies a changed body too: this check is blind"
    yield from event_faults(body_of(envelope))


def main(bundle):
    keys, faults, checked = {}, [], 0
    for seq, envelope in envelopes(bundle):
        keys.update((key.keyid, key) for key in keys_in(json.loads(body_of(envelope))))
        try:
            faults += [f"seq {seq}: {fault}" for fault in faults_of(envelope, keys)]
        except Exception as error:
            faults.append(f"seq {seq}: {type(error).__name__}: {error}")
        checked += 1
    end(faults if checked else ["no envelope in the bundle"], f"{checked} envelopes checked")


if __name__ == "__main__":
    main(*sys.argv[1:])
