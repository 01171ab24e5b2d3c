//! One animal from the cells of a table.
//!
//! `sire` and `dam` hold an id or one of the words `unknown`, `none`, `wild_caught`, `candidates`; so
//! no animal can have one of these for its id. An empty sire is `candidates` where `sire_candidates`
//! is not empty, `none` where the mode needs no sire, and otherwise `unknown`; an empty dam is
//! `unknown`. Without a mode a sire of `none` means automixis. Without a rho automixis has rho = 1.

use super::refusal::{At, Refusal};
use super::row::{Born, Candidate, Mode, Parent, Row, Sex};

/// The cells of one row; a column that the table lacks is empty.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Cells<'a> {
    /// The animal.
    pub id: &'a str,
    /// Its sire: an id or a word.
    pub sire: &'a str,
    /// Its dam: an id or a word.
    pub dam: &'a str,
    /// `female`, `male`, `unknown` or empty.
    pub sex: &'a str,
    /// A date (`2025-11-03`), a number, or empty.
    pub born: &'a str,
    /// `sexual`, `selfing`, `automixis`, `clone`, or empty.
    pub mode: &'a str,
    /// A number in [0, 1], or empty.
    pub rho: &'a str,
    /// `ID:WEIGHT;ID:WEIGHT`, or empty.
    pub sire_candidates: &'a str,
    /// The clutch, or empty.
    pub clutch: &'a str,
    /// `1`, `0`, or empty for 1.
    pub living: &'a str,
}

/// Reads one row; `row` is its number from 1, for the refusal.
pub fn read(row: usize, cells: &Cells<'_>) -> Result<Row, Refusal> {
    let refuse = |column, found: &str, wanted| Refusal::Cell { row, column, found: found.to_owned(), wanted };
    let sire_word = cells.sire.trim();
    let mode = mode(cells, sire_word).map_err(|(column, found, wanted)| refuse(column, found, wanted))?;
    let id = cells.id.trim().to_owned();
    if is_word(&id) {
        return Err(refuse("id", &id, "this word says what is known of a parent; name the animal otherwise"));
    }
    Ok(Row {
        sire: sire(row, cells, sire_word, mode)?,
        dam: dam(row, cells.dam.trim())?,
        sex: sex(cells.sex.trim()).ok_or_else(|| refuse("sex", cells.sex, "give female, male, unknown, or nothing"))?,
        born: born(cells.born.trim()).ok_or_else(|| refuse("born", cells.born, "give a date such as 2025-11-03, a number, or nothing"))?,
        mode: checked(mode, &id, row)?,
        clutch: Some(cells.clutch.trim()).filter(|clutch| !clutch.is_empty()).map(str::to_owned),
        living: living(cells.living.trim()).ok_or_else(|| refuse("living", cells.living, "give 1, 0, or nothing for 1"))?,
        id,
    })
}

fn checked(mode: Mode, id: &str, row: usize) -> Result<Mode, Refusal> {
    match mode {
        Mode::Automixis { rho } if !(0.0..=1.0).contains(&rho) => Err(Refusal::Rho { at: At { row, id: id.to_owned() }, found: rho }),
        sound => Ok(sound),
    }
}

fn is_word(text: &str) -> bool {
    ["unknown", "none", "wild_caught", "candidates"].contains(&text)
}

type Odd<'a> = (&'static str, &'a str, &'static str);

fn mode<'a>(cells: &Cells<'a>, sire: &str) -> Result<Mode, Odd<'a>> {
    let rho = match cells.rho.trim() {
        "" => None,
        text => Some(text.parse::<f64>().map_err(|_| ("rho", cells.rho, "give a number from 0 to 1, or nothing"))?),
    };
    let mode = match cells.mode.trim() {
        "" if sire == "none" => Mode::Automixis { rho: rho.unwrap_or(1.0) },
        "" | "sexual" => Mode::Sexual,
        "selfing" => Mode::Selfing,
        "automixis" => Mode::Automixis { rho: rho.unwrap_or(1.0) },
        "clone" => Mode::Clone,
        _ => return Err(("mode", cells.mode, "give sexual, selfing, automixis, clone, or nothing")),
    };
    match rho {
        Some(rho) if mode.rho() != Some(rho) => Err(("rho", cells.rho, "only automixis takes a rho of its own; leave it out")),
        _ => Ok(mode),
    }
}

fn sire(row: usize, cells: &Cells<'_>, word: &str, mode: Mode) -> Result<Parent, Refusal> {
    let list = cells.sire_candidates.trim();
    match word {
        "" | "candidates" if !list.is_empty() => candidates(row, list),
        _ if !list.is_empty() => Err(Refusal::Cell {
            row,
            column: "sire_candidates",
            found: list.to_owned(),
            wanted: "the sire is given as well; leave out one of the two",
        }),
        "candidates" => {
            Err(Refusal::Cell { row, column: "sire_candidates", found: String::new(), wanted: "list them as ID:WEIGHT;ID:WEIGHT" })
        }
        "" if mode != Mode::Sexual => Ok(Parent::None),
        _ => Ok(parent(word)),
    }
}

fn dam(row: usize, word: &str) -> Result<Parent, Refusal> {
    if word == "candidates" {
        let wanted = "a table lists candidates for the sire only; name the dam, or say unknown";
        return Err(Refusal::Cell { row, column: "dam", found: word.to_owned(), wanted });
    }
    Ok(parent(word))
}

fn parent(word: &str) -> Parent {
    match word {
        "" | "unknown" => Parent::Unknown,
        "none" => Parent::None,
        "wild_caught" => Parent::WildCaught,
        id => Parent::Known(id.to_owned()),
    }
}

fn candidates(row: usize, list: &str) -> Result<Parent, Refusal> {
    let wanted = "list them as ID:WEIGHT;ID:WEIGHT, with weights that sum to 1";
    let odd = || Refusal::Cell { row, column: "sire_candidates", found: list.to_owned(), wanted };
    let one = |part: &str| {
        let (id, weight) = part.rsplit_once(':').ok_or_else(odd)?;
        let weight = weight.trim().parse().map_err(|_| odd())?;
        Ok(Candidate { id: id.trim().to_owned(), weight })
    };
    let parts = list.split(';').filter(|part| !part.trim().is_empty());
    Ok(Parent::Candidates(parts.map(one).collect::<Result<Vec<_>, Refusal>>()?))
}

fn sex(word: &str) -> Option<Option<Sex>> {
    match word {
        "" | "unknown" => Some(None),
        "female" | "f" | "F" => Some(Some(Sex::Female)),
        "male" | "m" | "M" => Some(Some(Sex::Male)),
        _ => None,
    }
}

fn living(word: &str) -> Option<bool> {
    match word {
        "" | "1" => Some(true),
        "0" => Some(false),
        _ => None,
    }
}

fn born(word: &str) -> Option<Option<Born>> {
    if word.is_empty() {
        return Some(None);
    }
    let number = word.parse::<f64>().ok().filter(|n| n.is_finite()).map(Born::Number);
    number.or_else(|| date(word).map(Born::Date)).map(Some)
}

/// Days since 1970-01-01 of `YYYY-MM-DD` (proleptic Gregorian calendar).
fn date(text: &str) -> Option<i64> {
    let mut parts = text.split('-');
    let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    let digits = text.bytes().all(|byte| byte == b'-' || byte.is_ascii_digit());
    if !digits || parts.next().is_some() || (year.len(), month.len(), day.len()) != (4, 2, 2) {
        return None;
    }
    let (year, month, day): (i64, i64, i64) = (year.parse().ok()?, month.parse().ok()?, day.parse().ok()?);
    let leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    let longest = match month {
        2 => 28 + i64::from(leap),
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => return None,
    };
    (1..=longest).contains(&day).then(|| days_since_1970(year, month, day))
}

/// Counts from 1 March, so that the leap day comes last in its year.
fn days_since_1970(year: i64, month: i64, day: i64) -> i64 {
    let (year, month) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    let day_of_year = (153 * month + 2) / 5 + day - 1;
    year * 365 + year.div_euclid(4) - year.div_euclid(100) + year.div_euclid(400) + day_of_year - 719_468
}
