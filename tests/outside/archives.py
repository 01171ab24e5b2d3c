"""What python-dwca-reader reads in a Darwin Core archive, and whether `meta.xml` is as the Darwin Core
text guide wants it.

The XML Schema of `meta.xml` is not in this repository: it may not be copied into it. `tests/run` fetches it
from the standard's own address into the build folder, where there is a network, and names it in
SELACHRON_DWC_TEXT_XSD, as whoever has a copy may; lxml checks against it. Without it that check is left out,
loudly, and only our own reading of the guide is checked (`shaped`).
"""

import os
import zipfile

from dwca.read import DwCAReader
from lxml import etree

TEXT = "{http://rs.tdwg.org/dwc/text/}"
TERMS = "http://rs.tdwg.org/dwc/terms/"
FILES = {"meta.xml", "eml.xml", "occurrence.csv", "measurementorfact.csv", "resourcerelationship.csv"}
# Attributes of a core or extension, by the guide.
ATTRIBUTES = {
    "linesTerminatedBy", "fieldsTerminatedBy", "fieldsEnclosedBy", "ignoreHeaderLines", "rowType", "encoding", "dateFormat",
}
ALWAYS = {
    "basisOfRecord": "LivingSpecimen", "degreeOfEstablishment": "captive", "pathway": "publicGardenZooAquaria",
    "occurrenceStatus": "present", "individualCount": "1", "countryCode": "",
}


def faults(path, said, left_out):
    found = []
    with zipfile.ZipFile(path) as archive:
        if archive.testzip() is not None or set(archive.namelist()) != FILES:
            found.append(f"zip: {archive.namelist()}")
        texts = {name: archive.read(name) for name in archive.namelist()}
    found += shaped(etree.fromstring(texts["meta.xml"])) + schema(texts["meta.xml"], left_out)
    found += withheld(texts, said)
    return found + read(path, said)


def shaped(archive):
    """What is not as the guide says: our own reading of it, not its schema."""
    parts = [child.tag for child in archive]
    if archive.tag != TEXT + "archive" or parts[:1] != [TEXT + "core"] or set(parts[1:]) - {TEXT + "extension"}:
        return [f"meta.xml: not an archive of one core and its extensions: {parts}"]
    found = []
    for part in archive:
        id_of = "id" if part.tag == TEXT + "core" else "coreid"
        tags = [child.tag.removeprefix(TEXT) for child in part]
        if tags[:2] != ["files", id_of] or set(tags[2:]) != {"field"}:
            found.append(f"meta.xml: {part.get('rowType')}: {tags}")
        if set(part.keys()) - ATTRIBUTES or not part.get("rowType", "").startswith(TERMS):
            found.append(f"meta.xml: attributes {part.keys()}")
        indexes = [int(field.get("index")) for field in part.iter(TEXT + "field")]
        if indexes != list(range(len(indexes))) or not all(field.get("term").startswith(TERMS) for field in part.iter(TEXT + "field")):
            found.append(f"meta.xml: fields {indexes}")
    return found


def schema(meta, left_out):
    path = os.environ.get("SELACHRON_DWC_TEXT_XSD")
    if not path:
        left_out.append("the XSD check of meta.xml: SELACHRON_DWC_TEXT_XSD names no tdwg_dwc_text.xsd; its structure was checked by our own reading")
        return []
    document = etree.parse(path, etree.XMLParser(no_network=True))
    # What it imports from elsewhere is used by nothing of it, and would be asked for over the network.
    for imported in document.getroot().findall("{http://www.w3.org/2001/XMLSchema}import"):
        document.getroot().remove(imported)
    schema = etree.XMLSchema(document)
    return [] if schema.validate(etree.fromstring(meta)) else [f"meta.xml: {error}" for error in schema.error_log]


def withheld(texts, said):
    """Words that the archive says and must not."""
    found = []
    for name, text in texts.items():
        words = [*said["withheld"], "person/"]
        found += [f"{name}: says {word!r}, which is withheld" for word in words if word in text.decode("utf-8")]
    if b"people are withheld" not in texts["eml.xml"]:
        found.append("eml.xml does not say what is withheld")
    return found


def day_of(row):
    """When an animal came, by its row of the studbook: a hatch that nobody saw lies between two days."""
    after, on = row["hatched_after"], row["hatched_on"]
    if row["origin"] != "hatched":
        return row["came_on"]
    return f"{after}/{on}" if after and after != on else on


def read(path, said):
    found = []
    book = {row["animal"]: row for row in said["studbook"]}
    with DwCAReader(str(path)) as archive:
        if archive.descriptor.core.type != TERMS + "Occurrence" or archive.metadata.find("dataset/title") is None:
            found.append("dwca: no core of occurrences, or no title")
        rows = list(archive)
        names = {}
        for row in rows:
            values = {term.removeprefix(TERMS): value for term, value in row.data.items()}
            animal = "/".join(values["occurrenceID"].split("/")[-2:])
            names[animal] = values
            found += [f"dwca: {animal}: {term} is {values[term]!r}" for term, wanted in ALWAYS.items() if values[term] != wanted]
            if animal in book and values["eventDate"] != day_of(book[animal]):
                found.append(f"dwca: {animal}: eventDate {values['eventDate']!r}, {day_of(book[animal])!r} said")
            if animal in book and values["scientificName"] != (book[animal]["scientific_name"] or ""):
                found.append(f"dwca: {animal}: {values['scientificName']!r}")
        related = [line for row in rows for line in row.extensions if line.rowtype == TERMS + "ResourceRelationship"]
        measured = [line for row in rows for line in row.extensions if line.rowtype == TERMS + "MeasurementOrFact"]
    if set(names) != set(book):
        found.append(f"dwca: {len(names)} animals, {len(book)} said")
    parents = sum(len(row["dams"] or []) + len(row["sires"] or []) for row in said["studbook"])
    if len(related) != parents or len(measured) != said["measures"]:
        found.append(f"dwca: {len(related)} relations and {len(measured)} measures, {parents} and {said['measures']} said")
    certain = sum(line.data[TERMS + "relationshipOfResource"] == "offspring of" for line in related)
    known = sum((row[f"{parent}_state"] == "known") for row in said["studbook"] for parent in ("dam", "sire"))
    return found + ([] if certain == known else [f"dwca: {certain} certain parents, {known} said"])
