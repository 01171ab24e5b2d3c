//! `meta.xml` (Darwin Core text guide) and `eml.xml` (Ecological Metadata Language 2.1.1, as far as an
//! archive wants it). What the record does not say, such as a licence, is not made up.

use super::For;
use super::terms::{DWC, EXTENSIONS, OCCURRENCES, STATUS, Target, WITHHELD};
use crate::export::cell::GUARD_SAYS;
use crate::export::describe::Provenance;
use crate::export::shape::Shape;
use crate::failure::{Failure, io};
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event};

type Xml = Writer<Vec<u8>>;

fn written(tell: impl FnOnce(&mut Xml) -> std::io::Result<()>) -> Result<Vec<u8>, Failure> {
    let mut xml = Writer::new_with_indent(Vec::new(), b' ', 2);
    let told = xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None))).and_then(|()| tell(&mut xml));
    told.map_err(|error| io("writing a paper of an archive", &error))?;
    let mut bytes = xml.into_inner();
    bytes.push(b'\n');
    Ok(bytes)
}

/// Where the XML Schema of this paper is, by the standard itself.
const SCHEMA_LOCATION: &str = "http://rs.tdwg.org/dwc/text/ http://rs.tdwg.org/dwc/text/tdwg_dwc_text.xsd";

/// Which files there are, which term each column is, and whose words it is written in.
///
/// # Errors
/// None that can be expected: it is written into memory.
pub fn meta(target: Target) -> Result<Vec<u8>, Failure> {
    written(|xml| {
        let archive = xml.create_element("archive").with_attributes([
            ("xmlns", "http://rs.tdwg.org/dwc/text/"),
            ("xmlns:xsi", "http://www.w3.org/2001/XMLSchema-instance"),
            ("xsi:schemaLocation", SCHEMA_LOCATION),
            ("metadata", "eml.xml"),
        ]);
        let files = |xml: &mut Xml| {
            file(xml, ("core", "id"), &OCCURRENCES, "Occurrence", target)?;
            EXTENSIONS.iter().try_for_each(|(shape, kind)| file(xml, ("extension", "coreid"), shape, kind, target))
        };
        archive.write_inner_content(files).map(drop)
    })
}

fn file(xml: &mut Xml, (role, id): (&str, &str), shape: &Shape, kind: &str, target: Target) -> std::io::Result<()> {
    let row_type = format!("{DWC}{kind}");
    let element = xml.create_element(role).with_attributes([
        ("encoding", "UTF-8"),
        ("fieldsTerminatedBy", ","),
        ("linesTerminatedBy", "\\n"),
        ("fieldsEnclosedBy", "\""),
        ("ignoreHeaderLines", "1"),
        ("rowType", row_type.as_str()),
    ]);
    let inside = |xml: &mut Xml| {
        xml.create_element("files").write_inner_content(|xml| text(xml, "location", &shape.file()))?;
        xml.create_element(id).with_attribute(("index", "0")).write_empty()?;
        shape.columns.iter().enumerate().try_for_each(|(index, column)| field(xml, index, column.name, target))
    };
    element.write_inner_content(inside).map(drop)
}

fn field(xml: &mut Xml, index: usize, name: &str, target: Target) -> std::io::Result<()> {
    let (index, term) = (index.to_string(), format!("{DWC}{name}"));
    let vocabulary = target.vocabulary_address().filter(|_| name == STATUS).map(|address| ("vocabulary", address));
    let attributes = [("index", index.as_str()), ("term", term.as_str())].into_iter().chain(vocabulary);
    xml.create_element("field").with_attributes(attributes).write_empty().map(drop)
}

fn text(xml: &mut Xml, name: &str, words: &str) -> std::io::Result<()> {
    xml.create_element(name).write_text_content(BytesText::new(words)).map(drop)
}

/// What the data set is.
///
/// # Errors
/// None that can be expected: it is written into memory.
pub fn eml(wanted: &For, from: &Provenance) -> Result<Vec<u8>, Failure> {
    written(|xml| {
        let root = xml.create_element("eml:eml").with_attributes([
            ("xmlns:eml", "eml://ecoinformatics.org/eml-2.1.1"),
            ("packageId", from.root.as_str()),
            ("system", from.origin.as_str()),
            ("scope", "system"),
        ]);
        let inside = |xml: &mut Xml| xml.create_element("dataset").write_inner_content(|xml| dataset(xml, wanted, from)).map(drop);
        root.write_inner_content(inside).map(drop)
    })
}

fn dataset(xml: &mut Xml, wanted: &For, from: &Provenance) -> std::io::Result<()> {
    text(xml, "title", &format!("Animals in the care of {}", from.collection))?;
    party(xml, "creator", &from.collection)?;
    text(xml, "pubDate", from.as_of.utc_text().split('T').next().unwrap_or_default())?;
    text(xml, "language", "en")?;
    let paragraphs = [
        "Sharks and skates that hatched or arrived in the care of one collection. Every animal is captive. Animals kept in groups that \
         cannot be told apart, and egg cases, are not in this archive."
            .to_owned(),
        if wanted.country.is_some() { from.says() } else { from.says_without_zone() },
        format!("Withheld: {WITHHELD}. Bodies withheld among the notes behind this: {}.", from.withheld),
        format!("Words of occurrenceStatus are those of {}.", wanted.target.vocabulary()),
        GUARD_SAYS.to_owned(),
    ];
    paragraphs_in(xml, "abstract", &paragraphs)?;
    paragraphs_in(xml, "intellectualRights", &["No licence is given here: the collection gives one before it publishes.".to_owned()])?;
    party(xml, "contact", &from.collection)
}

fn paragraphs_in(xml: &mut Xml, name: &str, paragraphs: &[String]) -> std::io::Result<()> {
    let inside = |xml: &mut Xml| paragraphs.iter().try_for_each(|words| text(xml, "para", words));
    xml.create_element(name).write_inner_content(inside).map(drop)
}

fn party(xml: &mut Xml, role: &str, name: &str) -> std::io::Result<()> {
    xml.create_element(role).write_inner_content(|xml| text(xml, "organizationName", name)).map(drop)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub(in super::super) fn provenance() -> Provenance {
        Provenance {
            as_of: selachron_schemas::time::Instant::parse("2026-03-02T10:00:00Z").expect("a time"),
            known_at: 7,
            root: "root".to_owned(),
            origin: "records.example.org/nursery".to_owned(),
            collection: "Sea & <Shore>".to_owned(),
            time_zone: "Europe/Helsinki".to_owned(),
            withheld: 0,
            suspected: 0,
            simulated_clock: true,
            software: String::new(),
        }
    }

    fn eml_for(country: Option<&str>) -> String {
        let wanted = For { target: Target::Gbif, country: country.map(str::to_owned) };
        String::from_utf8(eml(&wanted, &provenance()).expect("a paper")).expect("text")
    }

    /// A time zone names a country, and often a town.
    #[test]
    fn the_time_zone_is_withheld_with_the_country() {
        assert!(!eml_for(None).contains("Helsinki") && !eml_for(None).contains("Days are dates in"));
        assert!(eml_for(None).contains("the root over them is root. Invented season"), "{}", eml_for(None));
        assert!(eml_for(Some("FI")).contains("the root over them is root. Days are dates in Europe/Helsinki. Invented season"));
    }

    #[test]
    fn a_name_with_markup_stays_a_name() {
        let eml = eml_for(None);
        assert!(eml.contains("<organizationName>Sea &amp; &lt;Shore&gt;</organizationName>"), "{eml}");
        assert!(eml.contains("Invented season, simulated clock"), "{eml}");
        let meta = String::from_utf8(meta(Target::Gbif).expect("a paper")).expect("text");
        assert!(meta.contains("rowType=\"http://rs.tdwg.org/dwc/terms/MeasurementOrFact\""), "{meta}");
    }

    #[test]
    fn the_words_of_a_status_have_the_address_of_their_list_where_there_is_one() {
        let told = |target| String::from_utf8(meta(target).expect("a paper")).expect("text");
        let address = "terms/occurrenceStatus\" vocabulary=\"http://rs.gbif.org/vocabulary/gbif/occurrence_status\"/>";
        assert!(told(Target::Gbif).contains(address) && told(Target::Gbif).matches(" vocabulary=").count() == 1);
        assert!(!told(Target::Obis).contains("vocabulary="), "a manual is no vocabulary");
    }
}
