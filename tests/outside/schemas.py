"""Asks PyPI's jsonschema about our schemas: each obeys the metaschema of draft 2020-12, and each
accepts and refuses its examples as our own code does.

    schemas.py SCHEMAS      (the folder schemas/v1)
"""

import json
import sys
from pathlib import Path

from jsonschema import Draft202012Validator
from jsonschema.exceptions import SchemaError

from shared import end, read_schemas, validators


def against_the_metaschema(schemas):
    for name, schema in schemas.items():
        if schema.get("$schema") != "https://json-schema.org/draft/2020-12/schema":
            yield f"{name}: $schema is not that of draft 2020-12"
        try:
            Draft202012Validator.check_schema(schema, format_checker=Draft202012Validator.FORMAT_CHECKER)
        except SchemaError as error:
            yield f"{name}: {error.json_path}: {error.message}"


def against_the_examples(checks, examples):
    for kind, shown in examples.items():
        for at, data in enumerate(shown["good"]):
            for error in checks[kind].iter_errors(data):
                yield f"{kind}: good example {at}: {error.json_path}: {error.message}"
        for bad in shown["bad"]:
            if checks[kind].is_valid(bad["data"]):
                yield f"{kind}: accepted although: {bad['why']}"


def main(folder):
    schemas = read_schemas(folder)
    examples = json.loads((Path(folder) / "examples.json").read_text("utf-8"))
    faults = list(against_the_metaschema(schemas))
    faults += against_the_examples(validators(schemas), examples)
    shown = sum(len(kind["good"]) + len(kind["bad"]) for kind in examples.values())
    end(faults, f"{len(schemas)} schemas and {shown} examples checked")


if __name__ == "__main__":
    main(*sys.argv[1:])
