//! Leaves (F15), and the receipt a client keeps: a C2SP `tlog-proof@v1` whose `extra` is the
//! leaf (F17).

use crate::encoding::{base64, from_base64, from_base64_32};
use crate::envelope::SignatureBytes;
use crate::limits::SIGNATURES_MAX;
use crate::merkle::{Hash, includes, leaf_hash};
use crate::names::KeyId;
use crate::note::{SignedCheckpoint, VerifierKey, plain_number};
use crate::time::Instant;
use std::fmt::Write as _;

/// The first line of a leaf.
const LEAF_HEAD: &str = "selachron-leaf/v1";
/// The first line of a receipt.
const PROOF_HEAD: &str = "c2sp.org/tlog-proof@v1";

/// What the tree holds of a note: nothing of its content, so that a body can be withheld
/// without breaking a proof.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Leaf {
    /// The leaf index.
    pub seq: u64,
    /// When the log took it.
    pub recorded_at: Instant,
    /// 1 + number of earlier notes with exactly this subject.
    pub subject_version: u64,
    /// SHA-256 of the body.
    pub body_sha256: Hash,
    /// Signatures, ascending by key id.
    pub signatures: Vec<(KeyId, SignatureBytes)>,
}

impl Leaf {
    /// The text of F15.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!(
            "{LEAF_HEAD}\n{}\n{}\n{}\n{}\n",
            self.seq,
            self.recorded_at.utc_text(),
            self.subject_version,
            base64(&self.body_sha256)
        );
        for (keyid, signature) in &self.signatures {
            let _ = writeln!(text, "sig {keyid} {}", base64(signature));
        }
        text
    }

    /// Reads the text of F15; `None` for anything that is not its one form.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let mut lines = text.strip_suffix('\n')?.split('\n');
        if lines.next()? != LEAF_HEAD {
            return None;
        }
        let seq = plain_number(lines.next()?)?;
        let recorded_at = Instant::parse_recorded(lines.next()?)?;
        let subject_version = plain_number(lines.next()?).filter(|version| *version > 0)?;
        let body_sha256 = from_base64_32(lines.next()?)?;
        let signatures = lines.map(parse_signature).collect::<Option<Vec<_>>>()?;
        let ascending = signatures.windows(2).all(|pair| pair[0].0 < pair[1].0);
        let counted = (1..=SIGNATURES_MAX).contains(&signatures.len());
        (ascending && counted).then_some(Self { seq, recorded_at, subject_version, body_sha256, signatures })
    }

    /// The leaf's hash in the tree.
    #[must_use]
    pub fn hash(&self) -> Hash {
        leaf_hash(self.text().as_bytes())
    }
}

fn parse_signature(line: &str) -> Option<(KeyId, SignatureBytes)> {
    let (keyid, signature) = line.strip_prefix("sig ")?.split_once(' ')?;
    Some((KeyId::parse(keyid)?, from_base64(signature)?.try_into().ok()?))
}

/// A receipt: the leaf, its inclusion proof, and the checkpoint that the proof leads to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Receipt {
    /// The leaf's exact text.
    pub leaf_text: String,
    /// The leaf, read.
    pub leaf: Leaf,
    /// Inclusion proof.
    pub proof: Vec<Hash>,
    /// The signed checkpoint.
    pub checkpoint: SignedCheckpoint,
}

impl Receipt {
    /// Writes a receipt.
    #[must_use]
    pub fn write(leaf: &Leaf, proof: &[Hash], checkpoint_note: &str) -> String {
        let mut text = format!("{PROOF_HEAD}\nextra {}\nindex {}\n", base64(leaf.text().as_bytes()), leaf.seq);
        for hash in proof {
            let _ = writeln!(text, "{}", base64(hash));
        }
        let _ = write!(text, "\n{checkpoint_note}");
        text
    }

    /// Reads a receipt.
    ///
    /// # Errors
    /// A sentence that says what is wrong.
    pub fn parse(text: &str) -> Result<Self, String> {
        let (head, note) = text.split_once("\n\n").ok_or("a receipt has an empty line before its checkpoint")?;
        let mut lines = head.split('\n');
        if lines.next() != Some(PROOF_HEAD) {
            return Err(format!("a receipt begins with {PROOF_HEAD}"));
        }
        let extra = lines.next().and_then(|line| line.strip_prefix("extra ")).and_then(from_base64);
        let leaf_text = extra.and_then(|bytes| String::from_utf8(bytes).ok()).ok_or("the receipt's extra line is not a leaf")?;
        let leaf = Leaf::parse(&leaf_text).ok_or("the receipt's extra line is not a leaf")?;
        let index = lines.next().and_then(|line| line.strip_prefix("index ")).and_then(plain_number);
        if index != Some(leaf.seq) {
            return Err("the receipt's index is not its leaf's".to_owned());
        }
        let proof =
            lines.map(from_base64_32).collect::<Option<Vec<_>>>().ok_or("a hash of the receipt's proof is not base64 of 32 bytes")?;
        Ok(Self { leaf_text, leaf, proof, checkpoint: SignedCheckpoint::parse(note)? })
    }

    /// Whether the checkpoint is signed by `key` and the leaf stands in its tree.
    ///
    /// # Errors
    /// A sentence that says which check failed.
    pub fn check(&self, key: &VerifierKey) -> Result<(), String> {
        let checkpoint = &self.checkpoint.checkpoint;
        if checkpoint.origin != key.name() || !self.checkpoint.signed_by(key) {
            return Err("the receipt's checkpoint is not signed by the log key that is pinned here".to_owned());
        }
        let hash = leaf_hash(self.leaf_text.as_bytes());
        if !includes(&checkpoint.root, checkpoint.size, self.leaf.seq, &hash, &self.proof) {
            return Err("the receipt's proof does not lead from its leaf to its checkpoint".to_owned());
        }
        Ok(())
    }
}
