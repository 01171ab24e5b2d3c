//! A demonstration: all keys in one folder, which nobody should do with a real record.

use super::{Plan, found, new_key, prepare, random, write_key};
use crate::clock::Clock;
use crate::failure::{Failure, io};
use crate::journal::outside::replace;
use selachron_schemas::envelope::Envelope;
use selachron_schemas::limits::ROOT_KEYS_MIN;
use selachron_schemas::names::KeyId;
use selachron_schemas::signing::sign;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The folder of the root keys, within the log's.
pub const KEYS_FOLDER: &str = "keys";

/// Makes root keys, signs the founding body with them and founds the log. Answers with the
/// files of the root keys.
///
/// # Errors
/// The folder holds a log already, or the plan cannot be founded.
pub fn found_with_new_roots(folder: &Path, mut plan: Plan, clock: Arc<dyn Clock>) -> Result<Vec<PathBuf>, Failure> {
    let keys = (0..ROOT_KEYS_MIN).map(|_| new_key()).collect::<Result<Vec<_>, _>>()?;
    plan.roots = keys.iter().map(|key| Ok((key.verifying_key().to_bytes(), person(&*clock)?))).collect::<Result<_, Failure>>()?;
    plan.root_threshold = ROOT_KEYS_MIN;
    let body = prepare(folder, &plan, &*clock)?;
    let body = std::fs::read(&body).map_err(|error| io("reading the founding body", &error))?;
    let signatures: Vec<_> = keys.iter().map(|key| (KeyId::of(key.verifying_key().as_bytes()), sign(key, &body))).collect();
    found(folder, Envelope::written(&body, &signatures).as_bytes(), clock)?;
    let place = folder.join(KEYS_FOLDER);
    std::fs::create_dir_all(&place).map_err(|error| io("making the folder of the keys", &error))?;
    let mut paths = Vec::new();
    for (number, key) in keys.iter().enumerate() {
        let path = place.join(format!("root-{}.pem", number + 1));
        write_key(&path, key)?;
        begin_counting(&place, number)?;
        paths.push(path);
    }
    Ok(paths)
}

/// The client counts a key's notes in a file beside it (F12). The first root key has written one,
/// the founding note.
fn begin_counting(place: &Path, number: usize) -> Result<(), Failure> {
    let next = if number == 0 { 2 } else { 1 };
    let name = format!("root-{}.pem.count", number + 1);
    let counts = serde_json::json!({"next": next, "free": []}).to_string();
    replace(place, &name, &counts).map_err(|error| io(format!("writing {name}"), &error))
}

fn person(clock: &dyn Clock) -> Result<String, Failure> {
    let chance = u128::from_le_bytes(random::<16>()?);
    let id = ulid::Ulid::from_parts(clock.now().0.max(0).cast_unsigned(), chance);
    Ok(format!("person/{id}"))
}
