//! Descriptors that go with CSV files, so that a reader need not guess: a Frictionless data package
//! (Data Package and Table Schema, version 1) and metadata of CSV on the Web (W3C Recommendation, 17
//! December 2015).

use super::cell::GUARD_SAYS;
use super::shape::{Column, Of, SUSPECTED, Shape};
use selachron_schemas::encoding::base64;
use selachron_schemas::merkle::Hash;
use selachron_schemas::time::Instant;
use serde::Serialize;
use serde_json::{Value, json};

/// The name of a data package's descriptor, by its specification.
pub const PACKAGE_FILE: &str = "datapackage.json";

/// The name of the CSV on the Web metadata of a folder, by its recommendation (5.3).
pub const CSVW_FILE: &str = "csv-metadata.json";

/// From where in the record an export is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Provenance {
    /// V.
    pub as_of: Instant,
    /// S.
    pub known_at: u64,
    /// The root of size S, base64.
    pub root: String,
    /// The log's origin.
    pub origin: String,
    /// The collection's name.
    pub collection: String,
    /// The collection's time zone: days are dates in it.
    pub time_zone: String,
    /// Bodies withheld among the notes behind it.
    pub withheld: u64,
    /// Notes behind it that were recorded while their author's key was suspected (F11).
    pub suspected: u64,
    /// Present and true: an invented season with a simulated clock.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub simulated_clock: bool,
    /// What wrote it.
    pub software: String,
}

impl Provenance {
    /// The root as it is written.
    #[must_use]
    pub fn root_text(root: &Hash) -> String {
        base64(root)
    }

    /// One sentence for people.
    #[must_use]
    pub fn says(&self) -> String {
        self.says_and(&format!(" Days are dates in {}.", self.time_zone))
    }

    /// The same for whoever is not to know where: a time zone names a country, and often a town.
    #[must_use]
    pub fn says_without_zone(&self) -> String {
        self.says_and("")
    }

    fn says_and(&self, of_days: &str) -> String {
        let season = if self.simulated_clock { " Invented season, simulated clock." } else { "" };
        let suspected = match self.suspected {
            0 => String::new(),
            1 => " 1 of these notes was recorded while its author's key was suspected.".to_owned(),
            many => format!(" {many} of these notes were recorded while their authors' keys were suspected."),
        };
        let withheld = match self.withheld {
            0 => String::new(),
            1 => " The body of 1 is withheld.".to_owned(),
            many => format!(" The bodies of {many} are withheld."),
        };
        format!(
            "From the record {} of {}, as of {}, with {} notes known; the root over them is {}.{of_days}{suspected}{withheld}{season}",
            self.origin,
            self.collection,
            self.as_of.utc_text(),
            self.known_at,
            self.root
        )
    }

    /// As a member of a descriptor.
    #[must_use]
    pub fn value(&self) -> Value {
        serde_json::to_value(self).unwrap_or(Value::Null)
    }
}

/// The descriptor of a Frictionless data package of these tables.
#[must_use]
pub fn data_package(name: &str, title: &str, tables: &[&Shape], from: &Provenance) -> Value {
    json!({
        "profile": "tabular-data-package",
        "name": name,
        "title": title,
        "description": format!("{} {GUARD_SAYS}", from.says()),
        "selachron": from.value(),
        "resources": tables.iter().map(|table| resource(table)).collect::<Vec<_>>(),
    })
}

fn resource(table: &Shape) -> Value {
    let mut schema = json!({
        "fields": table.columns.iter().chain([&SUSPECTED]).map(|column| field(column, table.key.contains(&column.name))).collect::<Vec<_>>(),
        "missingValues": [""],
    });
    if !table.key.is_empty() {
        schema["primaryKey"] = json!(table.key);
    }
    if !table.refers.is_empty() {
        let refers =
            table.refers.iter().map(|(field, other, there)| json!({"fields": field, "reference": {"resource": other, "fields": there}}));
        schema["foreignKeys"] = refers.collect();
    }
    json!({
        "profile": "tabular-data-resource",
        "name": table.name,
        "path": table.file(),
        "title": table.name.replace('_', " "),
        "description": table.about,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": ",", "lineTerminator": "\n", "quoteChar": "\"", "doubleQuote": true, "header": true},
        "schema": schema,
    })
}

fn field(column: &Column, needed: bool) -> Value {
    let kind = match column.of {
        Of::Text | Of::Several => "string",
        Of::Time => "datetime",
        Of::Day => "date",
        Of::Number => "number",
        Of::Count => "integer",
        Of::Flag => "boolean",
    };
    let mut field = json!({"name": column.name, "type": kind, "description": column.about});
    if column.of == Of::Time {
        field["format"] = "%Y-%m-%dT%H:%M:%S.%fZ".into();
    }
    if needed {
        field["constraints"] = json!({"required": true});
    }
    field
}

/// The CSV on the Web metadata of these tables.
#[must_use]
pub fn csvw(title: &str, tables: &[&Shape], from: &Provenance) -> Value {
    csvw_of(title, &tables.iter().map(|table| csvw_table(table)).collect::<Vec<_>>(), from)
}

fn csvw_of(title: &str, tables: &[Value], from: &Provenance) -> Value {
    json!({
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "dc:title": title,
        "dc:description": format!("{} {GUARD_SAYS}", from.says()),
        "dialect": {"encoding": "utf-8", "lineTerminators": ["\n"], "header": true},
        "tables": tables,
    })
}

fn csvw_table(table: &Shape) -> Value {
    let columns = table.columns.iter().chain([&SUSPECTED]);
    let columns: Vec<Value> = columns.map(|one| csvw_column(one.name, one.of, one.about, table.key.contains(&one.name))).collect();
    let mut schema = json!({"columns": columns});
    if !table.key.is_empty() {
        schema["primaryKey"] = json!(table.key);
    }
    json!({"url": table.file(), "dc:description": table.about, "tableSchema": schema})
}

/// The same of one table whose columns are those that it happens to have: name, type and meaning of each.
#[must_use]
pub fn csvw_of_columns(title: &str, file: &str, about: &str, columns: &[(&str, Of, String)], from: &Provenance) -> Value {
    let columns: Vec<Value> = columns.iter().map(|(name, of, about)| csvw_column(name, *of, about, false)).collect();
    csvw_of(title, &[json!({"url": file, "dc:description": about, "tableSchema": {"columns": columns}})], from)
}

fn csvw_column(name: &str, of: Of, about: &str, needed: bool) -> Value {
    let datatype = match of {
        Of::Text | Of::Several => json!("string"),
        Of::Time => json!({"base": "dateTime", "format": "yyyy-MM-ddTHH:mm:ss.SSSX"}),
        Of::Day => json!({"base": "date", "format": "yyyy-MM-dd"}),
        Of::Number => json!("double"),
        Of::Count => json!("integer"),
        Of::Flag => json!({"base": "boolean", "format": "true|false"}),
    };
    let mut described = json!({"name": name, "titles": name, "dc:description": about, "datatype": datatype, "required": needed});
    if of == Of::Several {
        described["separator"] = " ".into();
    }
    described
}
