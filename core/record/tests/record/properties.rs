//! Whatever the bytes are: no panic, spans inside the file, the same answer twice, and edits that touch nothing else.
//!
//! `PROPTEST_CASES` sets how many cases are tried; the longer run is the example `fuzz`.

use proptest::prelude::*;

use crate::invariants::{check_append, check_read};
use crate::samples::{ITEMS, PIECES, SAMPLES};

/// A sample with pieces put in and stretches taken out, repeated or exchanged.
fn spoiled() -> impl Strategy<Value = (&'static str, Vec<u8>)> {
    let change = (
        any::<prop::sample::Index>(),
        any::<prop::sample::Index>(),
        0..5_u8,
        prop::sample::select(&PIECES[..]),
    );
    (prop::sample::select(&SAMPLES[..]), prop::collection::vec(change, 0..8)).prop_map(
        |((path, text), changes)| {
            let mut bytes = text.as_bytes().to_vec();
            for (one, two, change, piece) in changes {
                if bytes.is_empty() {
                    bytes.extend_from_slice(piece.as_bytes());
                }
                let (start, end) = (one.index(bytes.len()), two.index(bytes.len()));
                let (start, end) = (start.min(end), start.max(end));
                match change {
                    0 | 1 => drop(bytes.splice(start..start, piece.bytes())),
                    2 => drop(bytes.splice(start..(start + 4).min(bytes.len()), piece.bytes())),
                    3 => drop(bytes.drain(start..(start + 9).min(end))),
                    _ => {
                        let copy: Vec<u8> = bytes[start..end.min(start + 40)].to_vec();
                        drop(bytes.splice(end..end, copy));
                    }
                }
            }
            (path, bytes)
        },
    )
}

/// Text made of nothing but what has a meaning of its own.
fn pieces() -> impl Strategy<Value = String> {
    prop::collection::vec(prop::sample::select(&PIECES[..]), 0..40)
        .prop_map(|pieces| pieces.concat())
}

proptest! {
    // What was found once stands in `past_failures.rs`, where it can be read, and not in a file of seeds.
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        for path in ["a.md", "shop.yaml"] {
            prop_assert!(check_read(path, &bytes).is_ok());
        }
    }

    #[test]
    fn any_front_matter(text in ".{0,200}", kind in prop::sample::select(&["blank", "build", "fitting", "offcut"][..])) {
        let text = format!("---\nkind: {kind}\n{text}\n---\n{text}");
        prop_assert_eq!(check_read("a.md", text.as_bytes()).err(), None);
    }

    #[test]
    fn front_matter_of_pieces(text in pieces(), item in prop::sample::select(&ITEMS[..]), kind in prop::sample::select(&["blank", "build", "fitting", "offcut"][..])) {
        let text = format!("---\nkind: {kind}\nblank: a\nbench:\n  - {text}\n---\n");
        prop_assert_eq!(check_read("a.md", text.as_bytes()).err(), None);
        prop_assert_eq!(check_append("a.md", &text, item).err(), None);
    }

    #[test]
    fn spoiled_records((path, bytes) in spoiled(), item in prop::sample::select(&ITEMS[..])) {
        prop_assert_eq!(check_read(path, &bytes).err(), None);
        if let Ok(text) = std::str::from_utf8(&bytes) {
            prop_assert_eq!(check_append(path, text, item).err(), None);
        }
    }
}
