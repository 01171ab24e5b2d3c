//! What a person types, turned into what a note holds. The form says what is wanted; labels are
//! looked up by whoever is asked for them.

use crate::fault::Fault;
use crate::forms::{Form, Member, Shape};
use crate::when::read_time;
use chrono_tz::Tz;
use selachron_schemas::encoding::hex;
use selachron_schemas::merkle::sha256;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde_json::{Map, Value, json};

/// What is needed to read values: labels, new subjects, and the day and zone of bare times.
pub trait Helper {
    /// The subject that a label or id names, with this noun.
    ///
    /// # Errors
    /// No such thing, or several.
    fn subject(&self, noun: &str, text: &str) -> Result<Subject, Fault>;

    /// The subject that a label or id names, with one of these nouns.
    ///
    /// # Errors
    /// No such thing, or several.
    fn any_of(&self, nouns: &[&str], text: &str) -> Result<Subject, Fault> {
        let mut found = nouns.iter().map(|noun| self.subject(noun, text));
        let first = found.find(|found| !matches!(found, Err(Fault::NoSuchThing(_))));
        first.unwrap_or_else(|| Err(Fault::NoSuchThing(format!("there is no {} {text:?}", nouns.join(", ")))))
    }

    /// A subject for something that this note brings into the record.
    ///
    /// # Errors
    /// The system has no random bytes.
    fn fresh(&self, noun: &str) -> Result<Subject, Fault>;

    /// The collection's zone and the present moment.
    ///
    /// # Errors
    /// The zone is not known yet and the service does not answer.
    fn zone_and_now(&self) -> Result<(Tz, Instant), Fault>;
}

/// One value of a shape. `name` is how the person knows the member: a flag or a name.
///
/// # Errors
/// A sentence that names the member and says what is wanted.
pub fn read_value(shape: &Shape, name: &str, text: &str, helper: &dyn Helper) -> Result<Value, Fault> {
    let wrong = |wanted: String| Fault::Usage(format!("{name}: {text:?} is not {wanted}"));
    match shape {
        Shape::Text => Ok(json!(text)),
        Shape::Instant => {
            let (zone, now) = helper.zone_and_now()?;
            read_time(text, zone, now).map(|time| json!(time)).map_err(|reason| Fault::Usage(format!("{name}: {reason}")))
        }
        Shape::Choice(words) => {
            let plain = |word: &str| word.to_lowercase().replace(['-', '_', '\''], " ");
            let word = words.iter().find(|word| plain(word) == plain(text));
            word.map(|word| json!(word)).ok_or_else(|| wrong(format!("one of: {}", words.join(", "))))
        }
        Shape::Number => number(text).ok_or_else(|| wrong("a number".to_owned())),
        Shape::Whole => text.parse::<i64>().map(|whole| json!(whole)).map_err(|_| wrong("a whole number".to_owned())),
        Shape::Truth => match text {
            "true" | "yes" => Ok(json!(true)),
            "false" | "no" => Ok(json!(false)),
            _ => Err(wrong("true or false".to_owned())),
        },
        Shape::Reference(noun) => helper.subject(noun, text).map(|subject| json!(subject)),
        Shape::AnyOf(nouns) => helper.any_of(nouns, text).map(|subject| json!(subject)),
        Shape::FileHash => file_hash(name, text),
        Shape::Parentage => read_parentage(name, text, helper),
        Shape::List(item) => read_list(item, name, &[text.to_owned()], helper),
        Shape::Group(members) => read_group(members, name, text, helper),
        Shape::Json => serde_json::from_str(text).map_err(|error| wrong(format!("JSON ({error})"))),
    }
}

/// A hash as it stands, or that of the file named after `@`: nobody copies 64 digits by hand.
fn file_hash(name: &str, text: &str) -> Result<Value, Fault> {
    let Some(file) = text.strip_prefix('@') else { return Ok(json!(text)) };
    let bytes = std::fs::read(file).map_err(|error| Fault::Usage(format!("{name}: {file} cannot be read: {error}")))?;
    Ok(json!(hex(&sha256(&bytes))))
}

/// The value of a member that may be given several times.
///
/// # Errors
/// As [`read_value`]; or it was given twice and takes one value.
pub fn read_values(shape: &Shape, name: &str, texts: &[String], helper: &dyn Helper) -> Result<Value, Fault> {
    match (shape, texts) {
        (Shape::List(item), texts) => read_list(item, name, texts, helper),
        (shape, [text]) => read_value(shape, name, text, helper),
        _ => Err(Fault::Usage(format!("{name} was given {} times; it takes one value", texts.len()))),
    }
}

/// A list: a JSON array, or one item an occurrence; words of a closed list also with commas.
fn read_list(item: &Shape, name: &str, texts: &[String], helper: &dyn Helper) -> Result<Value, Fault> {
    let mut items = Vec::new();
    for text in texts {
        if text.trim_start().starts_with('[') {
            let whole: Vec<Value> =
                serde_json::from_str(text).map_err(|error| Fault::Usage(format!("{name}: not a JSON list: {error}")))?;
            items.extend(whole);
        } else if matches!(item, Shape::Choice(_) | Shape::Reference(_) | Shape::AnyOf(_)) {
            for part in text.split(',').map(str::trim).filter(|part| !part.is_empty()) {
                items.push(read_value(item, name, part, helper)?);
            }
        } else if !(text.is_empty() || text == "none" && matches!(item, Shape::Group(_))) {
            items.push(read_value(item, name, text, helper)?);
        }
    }
    Ok(Value::Array(items))
}

/// A group: a JSON object, or `member=value,member=value`. A comma is part of a value unless a
/// name and `=` follow it.
fn read_group(members: &[Member], name: &str, text: &str, helper: &dyn Helper) -> Result<Value, Fault> {
    if text.trim_start().starts_with('{') {
        return serde_json::from_str(text).map_err(|error| Fault::Usage(format!("{name}: not a JSON object: {error}")));
    }
    let mut group = Map::new();
    for (key, value) in pairs(text) {
        let names = || members.iter().map(|member| member.name.as_str()).collect::<Vec<_>>().join(", ");
        let member = members.iter().find(|member| member.name == key);
        let member = member.ok_or_else(|| Fault::Usage(format!("{name}: {key:?} is none of: {}", names())))?;
        let value = read_value(&member.shape, &format!("{name} {key}"), &value, helper)?;
        if group.insert(member.name.clone(), value).is_some() {
            return Err(Fault::Usage(format!("{name}: {key} is given twice")));
        }
    }
    add_fresh_animal(members, &mut group, helper)?;
    Ok(Value::Object(group))
}

/// Young get their subject here: nobody makes up a ULID by hand.
fn add_fresh_animal(members: &[Member], group: &mut Map<String, Value>, helper: &dyn Helper) -> Result<(), Fault> {
    let creates = |member: &&Member| member.name == "animal" && member.required && members.iter().any(|other| other.name == "state");
    if members.iter().find(creates).is_some() && !group.contains_key("animal") {
        group.insert("animal".to_owned(), json!(helper.fresh("animal")?));
    }
    Ok(())
}

/// A part begins a new pair when it looks like `name=`; any other comma belongs to the value.
fn pairs(text: &str) -> Vec<(String, String)> {
    let is_name = |key: &str| {
        let key = key.trim();
        key.starts_with(|c: char| c.is_ascii_lowercase())
            && key.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b"_-".contains(&b))
    };
    let mut pairs: Vec<(String, String)> = Vec::new();
    for part in text.split(',') {
        match (part.split_once('=').filter(|(key, _)| is_name(key)), pairs.last_mut()) {
            (Some((key, value)), _) => pairs.push((normal(key), value.trim().to_owned())),
            (None, Some((_, value))) => *value = format!("{value},{part}"),
            (None, None) => pairs.push((normal(part), String::new())),
        }
    }
    pairs
}

fn normal(key: &str) -> String {
    key.trim().replace('-', "_")
}

/// `STATUS`, or `STATUS:ANIMAL[*WEIGHT][,ANIMAL…]`, then optionally `;basis=WORDS`; or JSON.
fn read_parentage(name: &str, text: &str, helper: &dyn Helper) -> Result<Value, Fault> {
    if text.trim_start().starts_with('{') {
        return serde_json::from_str(text).map_err(|error| Fault::Usage(format!("{name}: not a JSON object: {error}")));
    }
    let (head, basis) = match text.split_once(';') {
        Some((head, rest)) => (head, Some(rest.trim().strip_prefix("basis=").unwrap_or(rest.trim()))),
        None => (text, None),
    };
    let (status, animals) = head.split_once(':').map_or((head, None), |(status, animals)| (status, Some(animals)));
    let mut parentage = Map::from_iter([("status".to_owned(), json!(status.trim().replace(['-', ' '], "_")))]);
    if let Some(animals) = animals {
        let listed = animals.split(',').map(|animal| read_candidate(name, animal.trim(), helper)).collect::<Result<Vec<_>, _>>()?;
        parentage.insert("animals".to_owned(), Value::Array(listed));
    }
    if let Some(basis) = basis {
        parentage.insert("basis".to_owned(), json!(basis));
    }
    Ok(Value::Object(parentage))
}

fn read_candidate(name: &str, text: &str, helper: &dyn Helper) -> Result<Value, Fault> {
    let (animal, weight) = text.split_once('*').map_or((text, None), |(animal, weight)| (animal, Some(weight)));
    let mut candidate = Map::from_iter([("animal".to_owned(), json!(helper.subject("animal", animal)?))]);
    if let Some(weight) = weight {
        let number = number(weight).ok_or_else(|| Fault::Usage(format!("{name}: the weight {weight:?} is no number")))?;
        candidate.insert("weight".to_owned(), number);
    }
    Ok(Value::Object(candidate))
}

fn number(text: &str) -> Option<Value> {
    serde_json::from_str(text).ok().filter(Value::is_number)
}

/// `key=value` pairs for a kind's `data`; `a.b=value` reaches into a group.
///
/// # Errors
/// A pair without `=`, a name the kind does not have, a value of another shape.
pub fn read_pairs(form: &Form, pairs: &[String], helper: &dyn Helper) -> Result<Map<String, Value>, Fault> {
    let mut data = Map::new();
    for pair in pairs {
        let parts = pair.split_once('=');
        let (path, text) = parts.ok_or_else(|| Fault::Usage(format!("{pair:?} is not of the form member=value")))?;
        let (first, inner) = path.split_once('.').map_or((path, None), |(first, inner)| (first, Some(inner)));
        let member = form.member(first).ok_or_else(|| no_member(form, first))?;
        match (inner, &member.shape) {
            (Some(inner), Shape::Group(members)) => {
                let value = read_group(members, first, &format!("{inner}={text}"), helper)?;
                let group = data.entry(first.to_owned()).or_insert_with(|| json!({}));
                if let (Value::Object(group), Value::Object(more)) = (group, value) {
                    group.extend(more);
                }
            }
            (Some(_), _) => return Err(Fault::Usage(format!("{first} of {} has no members of its own", form.kind))),
            (None, Shape::List(item)) => {
                let more = read_list(item, first, &[text.to_owned()], helper)?;
                append(&mut data, first, more);
            }
            (None, shape) => {
                data.insert(first.to_owned(), read_value(shape, first, text, helper)?);
            }
        }
    }
    Ok(data)
}

fn append(data: &mut Map<String, Value>, name: &str, more: Value) {
    match (data.get_mut(name), more) {
        (Some(Value::Array(items)), Value::Array(more)) => items.extend(more),
        (_, more) => {
            data.insert(name.to_owned(), more);
        }
    }
}

fn no_member(form: &Form, name: &str) -> Fault {
    let names: Vec<&str> = form.members.iter().map(|member| member.name.as_str()).collect();
    Fault::Usage(format!("{name:?} is no member of {}; it has: {}", form.kind, names.join(", ")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::forms::form;

    /// Knows every label as the id that ends in it.
    struct Labels;

    impl Helper for Labels {
        fn subject(&self, noun: &str, text: &str) -> Result<Subject, Fault> {
            let id = format!("{noun}/01JDH3G6C0{text:0>16}");
            Subject::parse(&id).ok_or_else(|| Fault::NoSuchThing(format!("there is no {noun} {text:?}")))
        }

        fn fresh(&self, noun: &str) -> Result<Subject, Fault> {
            self.subject(noun, "NEW")
        }

        fn zone_and_now(&self) -> Result<(Tz, Instant), Fault> {
            Ok((Tz::UTC, Instant(0)))
        }
    }

    fn read(kind: &str, pairs: &[&str]) -> Result<Value, String> {
        let pairs: Vec<String> = pairs.iter().map(|pair| (*pair).to_owned()).collect();
        let form = form(kind).expect("a kind");
        read_pairs(form, &pairs, &Labels).map(Value::Object).map_err(|fault| fault.to_string())
    }

    #[test]
    fn parents_are_told_in_one_word_or_with_candidates_and_weights() {
        let dam = |text: &str| read("egg.collected.v1", &[&format!("dam={text}")]).map(|data| data["dam"].clone());
        assert_eq!(dam("unknown"), Ok(json!({"status": "unknown"})));
        assert_eq!(
            dam("wild-caught; basis=the paper that came along"),
            Ok(json!({"status": "wild_caught", "basis": "the paper that came along"}))
        );
        let told = dam("candidates:F1*0.75,F2*0.25;basis=shared the water").expect("a parentage");
        assert_eq!(told["animals"][0], json!({"animal": "animal/01JDH3G6C000000000000000F1", "weight": 0.75}));
        assert_eq!(told["animals"].as_array().map(Vec::len), Some(2));
        assert!(dam("candidates:F1*heavy").is_err_and(|text| text.contains("heavy")));
        assert_eq!(dam(r#"{"status":"none"}"#), Ok(json!({"status": "none"})));
    }

    #[test]
    fn a_comma_belongs_to_the_value_unless_a_name_follows() {
        let data = read("animal.fed.v1", &["offered=food=squid, minced,amount_g=2.5", "offered=food=shrimp,pieces=3", "eaten=spat-out"]);
        assert_eq!(
            data,
            Ok(json!({"offered": [{"food": "squid, minced", "amount_g": 2.5}, {"food": "shrimp", "pieces": 3}], "eaten": "spat out"}))
        );
        assert!(
            read("animal.fed.v1", &["offered=food=squid,grams=2"]).is_err_and(|text| text.contains("grams") && text.contains("amount_g"))
        );
        assert!(read("animal.fed.v1", &["offered=food=a,food=b"]).is_err_and(|text| text.contains("twice")));
    }

    #[test]
    fn young_get_a_subject_and_none_is_an_answer() {
        let young = read("egg.hatched.v1", &["young=state=dead"]).expect("young");
        assert_eq!(young["young"][0]["animal"], "animal/01JDH3G6C00000000000000NEW");
        assert_eq!(read("egg.hatched.v1", &["young=none"]), Ok(json!({"young": []})));
    }

    #[test]
    fn values_of_another_shape_are_refused_by_name() {
        for (kind, pair, named) in [
            ("egg.candled.v1", "band=high", "band"),
            ("egg.candled.v1", "seen_into=perhaps", "seen_into"),
            ("egg.candled.v1", "findings=cloudy,shiny", "shiny"),
            ("egg.candled.v1", "band", "member=value"),
            ("egg.candled.v1", "remark.x=1", "remark"),
            ("water.measured.v1", "temperature_c=warm", "temperature_c"),
            ("egg.moved.v1", "to_tank=lower case", "tank"),
            ("policy.set.v1", "candling_interval_days_by_band=often", "JSON"),
        ] {
            assert!(read(kind, &[pair]).is_err_and(|text| text.contains(named)), "{pair}");
        }
        assert_eq!(
            read("policy.set.v1", &[r#"candling_interval_days_by_band={"7":3}"#]),
            Ok(json!({"candling_interval_days_by_band": {"7": 3}}))
        );
        assert_eq!(
            read("animal.died.v1", &["how_known=by-a-veterinarian's-decision"]),
            Ok(json!({"how_known": "by a veterinarian's decision"}))
        );
        assert_eq!(
            read("animal.died.v1", &["last_seen_alive=1970-01-01 07:30"]),
            Ok(json!({"last_seen_alive": "1970-01-01T07:30:00.000Z"}))
        );
    }
}
