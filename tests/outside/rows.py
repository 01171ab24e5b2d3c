"""Writes the rows of 26 psychiatric inpatients (Woolson 1981), which we check against and do not
copy, from the wheel of PyPI's lifelines: entry age, exit age, event, group.

    rows.py WHEELS FOLDER      (WHEELS holds lifelines-*.whl)
"""

import csv
import sys
import zipfile
from pathlib import Path

INSIDE = "lifelines/datasets/psychiatric_patients.csv"


def main(wheels, folder):
    found = sorted(Path(wheels).glob("lifelines-*.whl"))
    if not found:
        sys.exit(f"{wheels} holds no wheel of lifelines")
    with zipfile.ZipFile(found[-1]) as wheel:
        table = list(csv.DictReader(wheel.read(INSIDE).decode("utf-8").splitlines()))
    with open(Path(folder) / "lefttrunc_psych.csv", "w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out, lineterminator="\n")
        rows.writerow(["id", "entry", "time", "event", "group"])
        for number, line in enumerate(table, start=1):
            entry, stayed = int(line["Age"]), int(line["T"])
            rows.writerow([number, entry, entry + stayed, line["C"], "f" if line["sex"] == "2" else "m"])
    print(f"{len(table)} rows written")


if __name__ == "__main__":
    main(*sys.argv[1:])
