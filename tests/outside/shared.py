"""What the outside checks share: how to read a bundle and the schemas, and how to end."""

import base64
import json
import sys
from pathlib import Path

from jsonschema import Draft202012Validator
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

ENDING = ".schema.json"


def read_schemas(folder):
    """Every schema of a folder by its file's name without the ending."""
    files = sorted(Path(folder).glob("*" + ENDING))
    if not files:
        sys.exit(f"{folder} holds no file that ends in {ENDING}")
    return {file.name.removesuffix(ENDING): json.loads(file.read_text("utf-8")) for file in files}


def validators(schemas):
    """A validator for each schema; references are looked up among the schemas and nowhere else."""
    resources = [(schema["$id"], Resource.from_contents(schema, DRAFT202012)) for schema in schemas.values()]
    registry = Registry().with_resources(resources)
    formats = Draft202012Validator.FORMAT_CHECKER
    for needed in ("date", "date-time"):
        if needed not in formats.checkers:
            sys.exit(f"the format {needed} would not be checked: install tests/outside/requirements.txt")
    return {name: Draft202012Validator(schema, registry=registry, format_checker=formats) for name, schema in schemas.items()}


def envelopes(bundle):
    """Pairs of seq and envelope, in order; the place of a withheld body is passed over."""
    with open(Path(bundle) / "envelopes.ndjson", encoding="utf-8", newline="\n") as lines:
        for seq, line in enumerate(lines):
            envelope = json.loads(line)
            if "withheld" not in envelope:
                yield seq, envelope


def body_of(envelope):
    """The signed bytes of an envelope."""
    return base64.b64decode(envelope["payload"], validate=True)


def end(faults, closing):
    """Prints the faults and fails, or prints the closing line."""
    for fault in faults:
        print(fault)
    if faults:
        sys.exit(f"{len(faults)} faults")
    print(closing)
