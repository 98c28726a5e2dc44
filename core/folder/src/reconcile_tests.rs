//! Tests of a look on manifests and files that are made to differ; what needs no such making is in `tests`.

use std::fs::{self, File};
use std::path::Path;
use std::time::{Duration, UNIX_EPOCH};

use crate::manifest::State;
use crate::{Dirty, Folder, Manifest, RecordPath};

/// Scans a folder with the record `a.md`, changes the manifest and then the disk, and gives
/// the number of changes that a second scan finds.
#[track_caller]
fn check(
    change_state: impl Fn(&mut State),
    change_disk: impl Fn(&Path),
    expected_n_changes: usize,
) {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("a.md");
    fs::write(&path, "cut 1 in").unwrap();
    set_mtime(&path);
    let folder = Folder::open(home.path()).unwrap();
    let (mut manifest, mut n_changes) = (Manifest::default(), 0);
    folder.reconcile(&mut manifest, &Dirty::Everything, |_| {}).unwrap();
    let mut entry = manifest.entries.get("a.md").unwrap();
    change_state(&mut entry.state);
    manifest.entries.put(RecordPath::new("a.md").unwrap(), entry);
    change_disk(&path);
    folder.reconcile(&mut manifest, &Dirty::Everything, |_| n_changes += 1).unwrap();
    assert_eq!(n_changes, expected_n_changes);
}

fn set_mtime(path: &Path) {
    File::open(path).unwrap().set_modified(UNIX_EPOCH + Duration::from_secs(1)).unwrap();
}

/// As if the record had been read long after it was written.
fn rested(state: &mut State) {
    let State::Read { fresh, .. } = state else { panic!("{state:?}") };
    assert!(*fresh, "it was written a moment ago");
    *fresh = false;
}

fn with_another_hash(state: &mut State) {
    let State::Read { key, .. } = state else { panic!("{state:?}") };
    key.hash[0] ^= 1;
}

#[test]
fn a_key_that_rested_is_trusted_and_a_fresh_one_is_not() {
    let both = |state: &mut State| {
        rested(state);
        with_another_hash(state);
    };
    check(both, |_| {}, 0);
    check(with_another_hash, |_| {}, 1);
}

#[test]
fn the_same_size_with_the_time_set_back_differs_in_its_key() {
    let written_in_place = |path: &Path| {
        fs::write(path, "cut 2 in").unwrap();
        set_mtime(path);
    };
    check(rested, written_in_place, 1);
    let another_file = |path: &Path| {
        let other = path.with_extension("tmp");
        fs::write(&other, "cut 2 in").unwrap();
        set_mtime(&other);
        fs::rename(&other, path).unwrap();
    };
    check(rested, another_file, 1);
}
