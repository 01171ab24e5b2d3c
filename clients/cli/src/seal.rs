//! Signatures over one body: the author's, and those of others who approve it (F7, F9).

use crate::fault::Fault;
use crate::keyfile::Identity;
use selachron_schemas::envelope::{Envelope, SignatureBytes};
use selachron_schemas::event::Event;
use selachron_schemas::limits::SIGNATURES_MAX;
use selachron_schemas::names::KeyId;

/// Signatures with the ids of the keys they are said to be by.
pub type Signatures = Vec<(KeyId, SignatureBytes)>;

/// The envelope of a body with the signatures of all these keys; a key given twice signs once.
#[must_use]
pub fn sign(body: &[u8], signers: &[&Identity]) -> String {
    written(body, Vec::new(), signers)
}

/// Adds signatures to an envelope, or to a bare body. Signatures that are there stay as they
/// are; a key that has signed already changes nothing.
///
/// # Errors
/// The input is neither an envelope nor a body, a signature in it has no key id beside it, or
/// there would be too many signatures.
pub fn add_signatures(input: &[u8], signers: &[&Identity]) -> Result<String, Fault> {
    let (body, signatures) = open(input)?;
    let envelope = written(&body, signatures, signers);
    check_count(&envelope)?;
    Ok(envelope)
}

/// Joins envelopes (or bare bodies) over the same body into one.
///
/// # Errors
/// They are not over the same body, or one of them cannot be read.
pub fn gather(inputs: &[Vec<u8>], signers: &[&Identity]) -> Result<String, Fault> {
    let mut parts = inputs.iter().map(|input| open(input)).collect::<Result<Vec<_>, _>>()?.into_iter();
    let (body, mut signatures) = parts.next().ok_or_else(|| Fault::Usage("no file was given to sign".to_owned()))?;
    for (other, more) in parts {
        if other != body {
            return Err(Fault::Usage("the files do not hold the same body; signatures are gathered over one".to_owned()));
        }
        signatures.extend(more);
    }
    let envelope = written(&body, signatures, signers);
    check_count(&envelope)?;
    Ok(envelope)
}

/// The body inside an envelope or a bare body file, and who has signed it by their own word.
///
/// # Errors
/// The input is neither.
pub fn open(input: &[u8]) -> Result<(Vec<u8>, Signatures), Fault> {
    let trimmed = input.trim_ascii();
    if let Ok(envelope) = Envelope::read(trimmed) {
        Event::parse(&envelope.body)?;
        let named = |(hint, signature): &(Option<String>, SignatureBytes)| Some((KeyId::parse(hint.as_deref()?)?, *signature));
        let signatures = envelope.signatures.iter().map(named).collect::<Option<Vec<_>>>();
        let signatures =
            signatures.ok_or_else(|| Fault::Usage("a signature in the envelope does not say whose it is (keyid)".to_owned()))?;
        return Ok((envelope.body, signatures));
    }
    match Event::parse(trimmed) {
        Ok(_) => Ok((trimmed.to_vec(), Vec::new())),
        Err(refusal) => Err(Fault::Usage(format!("the file is neither an envelope nor the body of a note: {}", refusal.detail))),
    }
}

fn written(body: &[u8], mut signatures: Signatures, signers: &[&Identity]) -> String {
    for signer in signers {
        if !signatures.iter().any(|(keyid, _)| *keyid == signer.keyid()) {
            signatures.push((signer.keyid(), signer.signature(body)));
        }
    }
    signatures.sort_unstable_by_key(|(keyid, _)| *keyid);
    signatures.dedup_by_key(|(keyid, _)| *keyid);
    Envelope::written(body, &signatures)
}

fn check_count(envelope: &str) -> Result<(), Fault> {
    match Envelope::read(envelope.as_bytes()) {
        Ok(_) => Ok(()),
        Err(refusal) => Err(Fault::Usage(format!("{} (at most {SIGNATURES_MAX} signatures)", refusal.detail))),
    }
}
