"""Asks PyPI's jsonschema whether every note of a bundle obeys the schema of the event and that of
its kind.

    notes.py SCHEMAS BUNDLE     (the folder schemas/v1; a folder with envelopes.ndjson)
"""

import json
import sys

from shared import body_of, end, envelopes, read_schemas, validators


def faults_of(body, checks):
    for error in checks["event"].iter_errors(body):
        yield f"{error.json_path}: {error.message}"
    check = checks.get(body["type"])
    if check is None:
        yield f"no schema for {body['type']}"
        return
    for error in check.iter_errors(body["data"]):
        yield f"{body['type']}: data{error.json_path[1:]}: {error.message}"


def main(schemas, bundle):
    checks = validators(read_schemas(schemas))
    faults, kinds, checked = [], set(), 0
    for seq, envelope in envelopes(bundle):
        body = json.loads(body_of(envelope))
        faults += [f"seq {seq}: {fault}" for fault in faults_of(body, checks)]
        kinds.add(body["type"])
        checked += 1
    end(faults if checked else ["no note in the bundle"], f"{checked} notes of {len(kinds)} kinds checked")


if __name__ == "__main__":
    main(*sys.argv[1:])
