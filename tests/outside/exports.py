"""Lets other people's programs read what the service exports: frictionless and csvw by the descriptors,
pandas and R by the one-line commands of ops/EXPORTS.md, plink on the pedigree, python-dwca-reader on the
Darwin Core archive. What they read must be what the service's JSON says, and what the page's lines read
must be, cell by cell, what stands in the files: also where every text of a column is one that a reader
would take for something else.

    exports.py FOLDER EXPORTS.md

FOLDER holds `tables/`, `studbook/`, `pedigree/`, `trade.csv`, `studbook_changes.csv`, `stock-list.csv` and
`egg-ledger.csv` with their metadata, `darwin-core.zip`, `events.ndjson` and `said.json`: what the service's
JSON says of the same moment. A fault is printed on a line of its own. R and plink1.9 are left out, loudly,
where there are none.
"""

import collections
import csv
import json
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import frictionless
import pandas

import archives
from shared import end

CSVWVALIDATE = Path(sys.executable).parent / "csvwvalidate"
PACKAGES = ("tables", "studbook", "pedigree")
SINGLE = ("trade.csv", "studbook_changes.csv", "stock-list.csv", "egg-ledger.csv")
# The tables that the page's lines read, by the names that they give them.
READ = {
    "animals": "tables/animals.csv", "studbook": "studbook/studbook.csv", "trade": "trade.csv", "changes": "studbook_changes.csv",
    "stock": "stock-list.csv", "ledger": "egg-ledger.csv", "losses": "pedigree/losses.csv",
}
# Texts that readers take for something else: truth values, nothing, numbers.
MISREAD = (("F", "T"), ("NA", "NA"), ("007", "08"), ("1e5", "NaN"))
# What a pandas column of each type of the data package must come out as.
KINDS = {"integer": "iu", "number": "iuf", "boolean": "b", "datetime": "M", "date": "M"}


def main(folder, page):
    folder, page = Path(folder).resolve(), Path(page).read_text("utf-8")
    said = json.loads((folder / "said.json").read_text("utf-8"))
    faults, left_out = [], []
    for name in PACKAGES:
        faults += validated(folder / name)
        faults += frames(folder / name)
    for name in SINGLE:
        faults += by_metadata(folder / f"{name}-metadata.json", name) + single_frame(folder / name)
    if faults:
        # What is no table any more need not be counted.
        end(faults, "")
    has_r = shutil.which("Rscript")
    faults += counted(folder, said) + cells(folder, said) + python_block(folder, page)
    faults += linkage(folder / "pedigree")
    faults += archives.faults(folder / "darwin-core.zip", said, left_out)
    faults += r(folder, page) if has_r else missing(left_out, "R")
    faults += plink(folder, said) if shutil.which("plink1.9") else missing(left_out, "plink1.9")
    # It takes long, and what is misread as it stands need not be told another time.
    faults += [] if faults else misread(folder, page, has_r)
    for name in left_out:
        print(f"SKIPPED: {name}")
    end(faults, "read by frictionless, csvw, pandas, python-dwca-reader, and but for what is skipped R and plink")


def missing(left_out, name):
    left_out.append(f"{name} is not here")
    return []


def validated(folder):
    """What frictionless and csvw find by the descriptors."""
    report = frictionless.Package(str(folder / "datapackage.json")).validate()
    faults = [f"frictionless: {folder.name}: {error}" for task in report.tasks for error in map(str, task.errors)]
    faults += [f"frictionless: {folder.name}: {error}" for error in report.errors]
    if not (report.valid or faults):
        faults.append(f"frictionless: {folder.name}: not valid")
    return faults + by_metadata(folder / "csv-metadata.json", folder.name)


def by_metadata(path, name):
    """What csvw finds by the metadata."""
    ran = subprocess.run([CSVWVALIDATE, path], capture_output=True, text=True)
    return [f"csvwvalidate: {name}: {ran.stdout}{ran.stderr}"] if ran.returncode != 0 or "FAIL" in ran.stdout else []


def resources(folder):
    return json.loads((folder / "datapackage.json").read_text("utf-8"))["resources"]


def frames(folder):
    """Columns that pandas takes for something else than the descriptor says."""
    faults = []
    for resource in resources(folder):
        fields = {field["name"]: field["type"] for field in resource["schema"]["fields"]}
        faults += frame_of(folder / resource["path"], fields)
    return faults


# Types of the data package by those of CSV on the Web.
CSVW_KINDS = {"integer": "integer", "double": "number", "boolean": "boolean"}


def single_frame(path):
    """The same by the metadata of one table."""
    described = json.loads(path.with_name(f"{path.name}-metadata.json").read_text("utf-8"))
    columns = described["tables"][0]["tableSchema"]["columns"]
    kind = {column["name"]: column["datatype"] for column in columns}
    bases = {name: of["base"] if isinstance(of, dict) else of for name, of in kind.items()}
    return frame_of(path, {name: CSVW_KINDS.get(base, "string") for name, base in bases.items()})


def frame_of(path, fields):
    days = [name for name, kind in fields.items() if kind in ("datetime", "date")]
    try:
        frame = pandas.read_csv(path, parse_dates=days)
    except ValueError as error:
        return [f"pandas: {path.stem}: {error}"]
    if list(frame.columns) != list(fields):
        return [f"pandas: {path.stem}: columns {list(frame.columns)}"]
    faults = []
    for name, kind in fields.items():
        column = frame[name].dropna()
        if kind not in KINDS or column.empty:
            continue
        # Whole numbers and flags with gaps come as floats and objects; without the gaps they do not.
        column = column.infer_objects()
        whole = kind == "integer" and column.dtype.kind == "f" and (column % 1 == 0).all()
        if column.dtype.kind not in KINDS[kind] and not whole:
            faults.append(f"pandas: {path.stem}.{name}: {column.dtype}, not {kind}")
    return faults


def linkage(folder):
    """What is at odds in the LINKAGE form, read by pandas: families apart, parents elsewhere or of the other
    sex, numbers that the table beside it does not have. No program that wants this form is asked."""
    names = ["family", "id", "sire", "dam", "sex", "affected"]
    try:
        lines = pandas.read_csv(folder / "pedigree.pre", sep=" ", header=None, names=names, dtype="int64")
    except ValueError as error:
        return [f"pedigree.pre: {error}"]
    ids = pandas.read_csv(folder / "pedigree_ids.csv", dtype={"animal": str, "family": str})
    faults = []
    if list(lines["id"]) != list(ids["number"]):
        faults.append("pedigree.pre: its numbers are not those of pedigree_ids.csv")
    elif len(set(zip(lines["family"], ids["family"]))) != lines["family"].nunique() or lines["family"].nunique() != ids["family"].nunique():
        faults.append("pedigree.pre: its families are not those of pedigree_ids.csv")
    if (lines["family"] != lines["family"].shift()).sum() != lines["family"].nunique():
        faults.append("pedigree.pre: a family is in several places")
    if ((lines["sire"] == 0) != (lines["dam"] == 0)).any():
        faults.append("pedigree.pre: one parent alone")
    by_id = lines.set_index("id")
    for parent, wrong in (("sire", 2), ("dam", 1)):
        for line in lines[lines[parent] != 0].itertuples():
            number = getattr(line, parent)
            if number not in by_id.index or by_id.at[number, "family"] != line.family or by_id.at[number, "sex"] == wrong:
                faults.append(f"pedigree.pre: the {parent} of {line.id} is not in its family, or of the other sex")
    return faults


def rows(path):
    return len(pandas.read_csv(path, dtype=str, keep_default_na=False))


def counted(folder, said):
    """Tables with another number of rows than the JSON has items."""
    lines = (folder / "events.ndjson").read_text("utf-8").splitlines()
    counts = {f"tables/{name}.csv": count for name, count in said["tables"].items()}
    counts["studbook/studbook.csv"] = len(said["studbook"])
    counts |= said["single"]
    faults = [f"{name}: {rows(folder / name)} rows, {count} said" for name, count in counts.items() if rows(folder / name) != count]
    if len(lines) != said["events"]:
        faults.append(f"events.ndjson: {len(lines)} notes, {said['events']} said")
    return faults


def text(value):
    """A value of the JSON as it stands in a table, its guard taken away."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return " ".join(value) if isinstance(value, list) else str(value)


def cells(folder, said):
    """Cells of the studbook that are not those of the JSON."""
    book = pandas.read_csv(folder / "studbook/studbook.csv", dtype=str, keep_default_na=False).set_index("animal", drop=False)
    faults = []
    for row in said["studbook"]:
        for name, value in row.items():
            if name == "notes":
                continue
            found = book.at[row["animal"], name].removeprefix("'") if row["animal"] in book.index else None
            if found != text(value):
                faults.append(f"studbook.{name} of {row['animal']}: {found!r}, {text(value)!r} said")
    return faults


def block(page, language):
    return re.search(rf"```{language}\n(.*?)```", page, re.DOTALL).group(1)


def python_block(folder, page):
    """Runs the lines that the page shows for Python, each as it stands, and compares what they read."""
    faults, names = [], {"collections": collections, "frictionless": frictionless, "pandas": pandas}
    for line in block(page, "python").splitlines():
        inside = line.replace('("', f'("{folder}/')
        try:
            exec(inside, names)  # noqa: S102: these are our own lines
        except Exception as error:
            faults.append(f"the page's line for Python: {line}: {error}")
    if faults:
        return faults
    for name, path in READ.items():
        faults += otherwise("pandas", name, [[shown(value) for value in row] for row in names[name].itertuples(index=False)], folder / path)
    return faults


def shown(value):
    """A value as it stands in a table."""
    if value is pandas.NaT or value is pandas.NA or value != value:
        return ""
    if isinstance(value, pandas.Timestamp):
        return value.strftime("%Y-%m-%dT%H:%M:%S.%f")[:-3] + "Z"
    return str(value).lower() if str(value) in ("True", "False") else str(value)


def otherwise(reader, name, found, path):
    """Cells that were read as something else than what stands there."""
    with path.open(newline="", encoding="utf-8") as file:
        header, *wanted = csv.reader(file)
    if len(found) != len(wanted):
        return [f"{reader}: {name}: {len(found)} rows, {len(wanted)} in the file"]
    pairs = [(column, *pair) for row in zip(found, wanted) for column, *pair in zip(header, *row)]
    return sorted({f"{reader}: {name}.{column}: {read!r}, {there!r} in the file" for column, read, there in pairs if read != there})


def misread(folder, page, has_r):
    """The same of tables in which every text of a column is one that readers guess wrong."""
    faults = []
    for texts in MISREAD:
        with tempfile.TemporaryDirectory() as scratch:
            copy = Path(scratch) / "copy"
            shutil.copytree(folder, copy)
            for path in READ.values():
                retell(copy / path, texts)
            faults += python_block(copy, page) + (r_cells(copy, page) if has_r else [])
    return faults


def text_columns(path):
    """Columns of text, by the descriptor of a table."""
    package = path.with_name("datapackage.json")
    if package.exists():
        fields = next(one for one in resources(path.parent) if one["path"] == path.name)["schema"]["fields"]
        return {field["name"] for field in fields if field["type"] == "string"}
    described = json.loads(path.with_name(f"{path.name}-metadata.json").read_text("utf-8"))
    return {column["name"] for column in described["tables"][0]["tableSchema"]["columns"] if column["datatype"] == "string"}


def retell(path, texts):
    """Writes one of the texts, in turn, into every cell of text."""
    with path.open(newline="", encoding="utf-8") as file:
        header, *lines = csv.reader(file)
    columns = text_columns(path)
    told = [[texts[at % len(texts)] if name in columns else cell for name, cell in zip(header, line)] for at, line in enumerate(lines)]
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file, lineterminator="\n").writerows([header, *told])


R_COUNTS = """
for (file in Sys.glob(c("tables/*.csv", "studbook/*.csv", "pedigree/*.csv", "*.csv"))) {
  table <- read.csv(file, na.strings = "", quote = "\\"", comment.char = "")
  cat(file, nrow(table), ncol(table), "\\n")
}
cat("pedigree", nrow(pedigree), ncol(pedigree), "\\n")
cat("studbook", nrow(studbook), ncol(studbook), "\\n")
cat("trade", nrow(trade), ncol(trade), "\\n")
cat("linkage", nrow(linkage), ncol(linkage), "\\n")
"""


R_CELLS = """
dir.create("read_by_r")
for (name in c(NAMES)) {
  table <- get(name)
  table[] <- lapply(table, function(cells) if (is.logical(cells)) tolower(cells) else as.character(cells))
  write.csv(table, file.path("read_by_r", name), row.names = FALSE, na = "")
}
"""


def r_cells(folder, page):
    """Cells that the page's lines for R read as something else."""
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch) / "copy"
        shutil.copytree(folder, copy)
        names = ", ".join(f'"{name}"' for name in READ)
        command = block(page, "r") + R_CELLS.replace("NAMES", names)
        ran = subprocess.run(["Rscript", "-e", command], cwd=copy, capture_output=True, text=True)
        if ran.returncode != 0:
            return [f"R: {ran.stderr}"]
        faults = []
        for name, path in READ.items():
            with (copy / "read_by_r" / name).open(newline="", encoding="utf-8") as file:
                _, *found = csv.reader(file)
            faults += otherwise("R", name, found, folder / path)
    return faults


def r(folder, page):
    """Runs the page's lines for R, and compares what R counts with what pandas counts."""
    ran = subprocess.run(["Rscript", "-e", block(page, "r") + R_COUNTS], cwd=folder, capture_output=True, text=True)
    if ran.returncode != 0:
        return [f"R: {ran.stderr}"]
    faults = r_cells(folder, page)
    found = {line.split()[0]: tuple(map(int, line.split()[1:])) for line in ran.stdout.splitlines()}
    wanted = {f"{name}/{one['path']}": folder / name / one["path"] for name in PACKAGES for one in resources(folder / name)}
    wanted |= {name: folder / name for name in SINGLE}
    for name, path in wanted.items():
        frame = pandas.read_csv(path, dtype=str, keep_default_na=False)
        if found.get(name) != frame.shape:
            faults.append(f"R: {name}: {found.get(name)}, pandas {frame.shape}")
    animals = rows(folder / "studbook/studbook.csv")
    if {found.get("pedigree"), found.get("linkage")} != {(animals, 6)} or found.get("studbook", (0,))[0] != animals:
        faults.append(f"R: pedigree {found.get('pedigree')}, {animals} animals")
    return faults


def plink(folder, said):
    """plink reads the pedigree and counts founders: animals of which neither parent is written."""
    with tempfile.TemporaryDirectory() as scratch:
        command = ["plink1.9", "--file", folder / "pedigree/pedigree", "--allow-extra-chr", "--allow-no-sex", "--freq"]
        ran = subprocess.run([*command, "--out", Path(scratch) / "out"], capture_output=True, text=True)
        log = ran.stdout + ran.stderr
    if ran.returncode != 0:
        return [f"plink1.9: {log}"]
    people = re.search(r"(\d+) (?:people|samples?|person) \((\d+) males?, (\d+) females?(?:, (\d+) ambiguous)?\)", log)
    founders = re.search(r"(\d+) founders? and (\d+) nonfounders? present", log)
    if not (people and founders):
        return [f"plink1.9 did not say whom it read: {log}"]
    read = {
        "animals": int(people[1]), "males": int(people[2]), "females": int(people[3]), "sex_unknown": int(people[4] or 0),
        "nonfounders": int(founders[2]),
    }
    return [f"plink1.9: {name} {count}, {said['pedigree'][name]} said" for name, count in read.items() if said["pedigree"][name] != count]


if __name__ == "__main__":
    main(*sys.argv[1:])
