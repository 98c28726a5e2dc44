//! Reconciling without a watcher.

use std::fs::{File, FileTimes};
use std::path::Path;
use std::time::{Duration, SystemTime};

use taperbook_folder::{Change, Dirty, FolderError, LARGEST_RECORD, Manifest};

use crate::shop::Shop;

/// The kinds and paths of changes, in their order.
fn short(log: &[Change]) -> Vec<String> {
    let line = |change: &Change| match change {
        Change::Written { path, .. } => format!("+{path}"),
        Change::Removed { path } => format!("-{path}"),
        Change::Unreadable { path, .. } => format!("?{path}"),
    };
    log.iter().map(line).collect()
}

fn set_mtime(path: &Path, time: SystemTime) {
    File::open(path).unwrap().set_times(FileTimes::new().set_modified(time)).unwrap();
}

fn long_ago() -> SystemTime {
    SystemTime::UNIX_EPOCH + Duration::from_secs(1_000_000_000)
}

#[test]
fn a_scan_finds_records_once() {
    let mut shop = Shop::new();
    shop.make("builds/2026");
    shop.write("shop.yaml", "boards: {}\n");
    shop.write("builds/2026/ilse.md", "a");
    shop.write("builds/notes.txt", "b");
    shop.write("builds/ilse.md~", "c");
    shop.make(".hidden");
    shop.write(".hidden/x.md", "d");
    shop.scan();
    assert_eq!(shop.paths(), ["builds/2026/ilse.md", "shop.yaml"]);
    shop.take_log();
    shop.scan();
    assert_eq!(shop.take_log(), []);
}

#[test]
fn a_scan_finds_what_changed_and_what_went() {
    let mut shop = Shop::new();
    for name in ["a.md", "b.md", "c.md"] {
        shop.write(name, "one");
    }
    shop.scan();
    shop.take_log();
    shop.write("b.md", "two");
    shop.remove("c.md");
    shop.rename("a.md", "d.md");
    shop.scan();
    let mut log = short(&shop.take_log());
    log.sort();
    assert_eq!(log, ["+b.md", "+d.md", "-a.md", "-c.md"]);
    shop.check_fresh();
}

#[test]
fn only_what_is_marked_is_looked_at() {
    let mut shop = Shop::new();
    shop.make("builds");
    shop.write("builds/a.md", "one");
    shop.write("b.md", "one");
    shop.scan();
    shop.take_log();
    shop.write("builds/a.md", "two");
    shop.write("b.md", "two");
    shop.look(&Dirty::path("builds"));
    assert_eq!(short(&shop.take_log()), ["+builds/a.md"]);
    shop.look(&Dirty::path("b.md"));
    assert_eq!(short(&shop.take_log()), ["+b.md"]);
}

#[test]
fn marks_that_leave_the_folder_are_passed_over() {
    let mut shop = Shop::new();
    std::fs::write(shop.outside("secret.md"), "x").unwrap();
    std::os::unix::fs::symlink(shop.outside(""), shop.path("out")).unwrap();
    shop.look(&Dirty::path("../secret.md"));
    shop.look(&Dirty::path(shop.outside("secret.md")));
    assert_eq!(shop.take_log(), []);
    // The way leads through a link, which is told of as a scan would.
    shop.look(&Dirty::path("out/secret.md"));
    assert_eq!(short(&shop.take_log()), ["?out"]);
    shop.check_fresh();
}

#[test]
fn a_touch_without_a_change_is_no_change() {
    let mut shop = Shop::new();
    shop.write("a.md", "one");
    shop.scan();
    shop.take_log();
    set_mtime(&shop.path("a.md"), long_ago());
    shop.scan();
    shop.write("a.md", "one");
    shop.scan();
    assert_eq!(shop.take_log(), []);
}

#[test]
fn a_change_of_the_same_size_with_the_time_set_back_is_seen() {
    let mut shop = Shop::new();
    shop.write("a.md", "cut 1 in");
    set_mtime(&shop.path("a.md"), long_ago());
    shop.scan();
    shop.write("a.md", "cut 2 in");
    set_mtime(&shop.path("a.md"), long_ago());
    shop.scan();
    assert_eq!(shop.text("a.md"), Some("cut 2 in"));
}

#[test]
fn a_change_within_the_same_instant_as_the_scan_is_seen() {
    // A clock of a file system may stand still between two writes; many rounds make it likely
    // that one pair of writes gets the same times.
    let mut shop = Shop::new();
    for round in 0..200 {
        let text = format!("{:04}", round);
        shop.write("a.md", &text);
        shop.scan();
        assert_eq!(shop.text("a.md"), Some(&*text));
    }
}

#[test]
fn a_file_that_is_too_large_is_refused_until_it_is_not() {
    let mut shop = Shop::new();
    shop.write("b.md", "small");
    // The file has no blocks on the disk, so the test needs no room for its 200 MB.
    File::create(shop.path("a.md")).unwrap().set_len(200_000_000).unwrap();
    shop.scan();
    assert_eq!(
        shop.why_unreadable("a.md"),
        Some(
            "it is too large, 200000000 bytes; a record has 8388608 bytes (8 MiB) at most, so \
             split it or give it another ending than `.md`"
        )
    );
    assert_eq!(shop.text("b.md"), Some("small"));
    shop.take_log();
    shop.scan();
    assert_eq!(shop.take_log(), [], "it is told of once");

    File::create(shop.path("a.md")).unwrap().set_len(LARGEST_RECORD).unwrap();
    shop.scan();
    assert_eq!(shop.text("a.md").map(str::len), Some(8 * 1024 * 1024));
    File::create(shop.path("a.md")).unwrap().set_len(LARGEST_RECORD + 1).unwrap();
    shop.scan();
    assert!(shop.why_unreadable("a.md").is_some());
    shop.remove("a.md");
    shop.scan();
    assert_eq!(shop.paths(), ["b.md"]);
}

#[test]
fn a_pipe_does_not_block() {
    let mut shop = Shop::new();
    let mode = rustix::fs::Mode::from_raw_mode(0o600);
    let kind = rustix::fs::FileType::Fifo;
    rustix::fs::mknodat(rustix::fs::CWD, shop.path("a.md"), kind, mode, 0).unwrap();
    shop.scan();
    assert_eq!(
        shop.why_unreadable("a.md"),
        Some("it is neither a file nor a folder; give it another name")
    );
}

#[test]
fn a_file_that_may_not_be_read_is_told_of_and_read_when_it_may() {
    let mut shop = Shop::new();
    shop.write("a.md", "one");
    shop.make("builds");
    shop.write("builds/b.md", "two");
    shop.scan();
    if !shop.can_forbid() {
        return;
    }
    shop.permit("a.md", 0o000);
    shop.permit("builds", 0o000);
    shop.scan();
    for path in ["a.md", "builds"] {
        assert_eq!(
            shop.why_unreadable(path),
            Some("it may not be read: Permission denied (os error 13); check its permissions")
        );
    }
    assert_eq!(shop.paths(), ["a.md", "builds"]);
    shop.check_fresh();
    // A look at a single path answers as a scan does.
    shop.look(&Dirty::path("builds/b.md"));
    assert_eq!(shop.paths(), ["a.md", "builds"]);

    shop.permit("a.md", 0o644);
    shop.permit("builds", 0o755);
    shop.look(&Dirty::path("builds/b.md"));
    shop.look(&Dirty::path("a.md"));
    assert_eq!(shop.paths(), ["a.md", "builds/b.md"]);
    shop.check_fresh();
}

#[test]
fn a_missing_folder_is_an_error_and_not_an_empty_folder() {
    let mut shop = Shop::new();
    shop.write("a.md", "one");
    let mut manifest = Manifest::default();
    shop.folder.reconcile(&mut manifest, &Dirty::Everything, |_| {}).unwrap();
    std::fs::rename(shop.path(""), shop.outside("elsewhere")).unwrap();
    for dirty in [Dirty::Everything, Dirty::path("a.md")] {
        let result = shop.folder.reconcile(&mut manifest, &dirty, |change| panic!("{change:?}"));
        assert!(matches!(result, Err(FolderError::NotThere { .. })), "{result:?}");
    }
    assert!(manifest.key("a.md").is_some());
    std::fs::rename(shop.outside("elsewhere"), shop.path("")).unwrap();
    shop.scan();
    assert_eq!(shop.paths(), ["a.md"]);
}

#[test]
fn a_manifest_from_a_file_saves_reading() {
    let shop = Shop::new();
    shop.write("a.md", "one");
    shop.write("b.md", "two");
    let mut manifest = Manifest::default();
    manifest.of = "the third".to_owned();
    shop.folder.reconcile(&mut manifest, &Dirty::Everything, |_| {}).unwrap();
    let file = shop.outside("manifest");
    manifest.write(&file).unwrap();

    let mut manifest = Manifest::read(&file).unwrap();
    assert_eq!(manifest.of, "the third");
    assert_eq!(manifest.records().count(), 2);
    shop.write("b.md", "three");
    let mut log = Vec::new();
    shop.folder.reconcile(&mut manifest, &Dirty::Everything, |change| log.push(change)).unwrap();
    assert_eq!(short(&log), ["+b.md"]);
}

#[test]
fn a_manifest_of_another_commit_is_of_use_as_far_as_it_agrees() {
    let mut shop = Shop::new();
    for name in ["same.md", "changed.md", "gone.md", "late.md"] {
        shop.write(name, "one");
        set_mtime(&shop.path(name), long_ago());
    }
    shop.scan();
    let stale = shop.outside("manifest");
    let write = |shop: &Shop| {
        let mut manifest = Manifest::default();
        shop.folder.reconcile(&mut manifest, &Dirty::Everything, |_| {}).unwrap();
        manifest.write(&stale).unwrap();
    };
    write(&shop);
    shop.write("changed.md", "two");
    shop.remove("gone.md");
    shop.remove("late.md");
    shop.write("new.md", "one");
    let contents = |texts: &[(&str, &str)]| -> Vec<(String, [u8; 32])> {
        let hashed = |text: &str| *blake3::hash(text.as_bytes()).as_bytes();
        texts.iter().map(|(path, text)| (path.to_string(), hashed(text))).collect()
    };
    // The index had taken in the change and the removals before it was closed, but not the new file, and the manifest
    // had heard of nothing.
    let index = contents(&[("same.md", "one"), ("changed.md", "two")]);
    let unreadable = [("was/bad", "why")];
    let of_index = |manifest: Manifest| {
        manifest.of_contents(index.clone().into_iter(), unreadable.into_iter())
    };
    for manifest in [Manifest::read(&stale).unwrap(), Manifest::default()] {
        let mut manifest = of_index(manifest);
        assert_eq!(manifest.records().count(), 2);
        let mut log = Vec::new();
        let looked =
            shop.folder.reconcile(&mut manifest, &Dirty::Everything, |change| log.push(change));
        looked.unwrap();
        let mut log = short(&log);
        log.sort();
        assert_eq!(log, ["+new.md", "-was/bad"]);
    }
    // What the index has of a file that is another one now is told.
    let index = contents(&[("same.md", "one"), ("changed.md", "one"), ("new.md", "one")]);
    let mut manifest = Manifest::read(&stale).unwrap();
    manifest = manifest.of_contents(index.into_iter(), std::iter::empty());
    let mut log = Vec::new();
    shop.folder.reconcile(&mut manifest, &Dirty::Everything, |change| log.push(change)).unwrap();
    assert_eq!(short(&log), ["+changed.md"]);

    manifest.forget("same.md");
    log.clear();
    shop.folder
        .reconcile(&mut manifest, &Dirty::path("same.md"), |change| log.push(change))
        .unwrap();
    assert_eq!(short(&log), ["+same.md"], "what was forgotten is told again");
}

#[test]
fn a_look_can_be_broken_off() {
    let shop = Shop::new();
    for directory in 0..10 {
        shop.make(format!("{directory}"));
        for at in 0..100 {
            shop.write(format!("{directory}/{at}.md"), "one");
        }
    }
    let (mut manifest, mut n_told, mut asked) = (Manifest::default(), 0, 0);
    let goes_on = || {
        asked += 1;
        asked < 5
    };
    let everything = Dirty::Everything;
    let whole =
        shop.folder.reconcile_while(&mut manifest, &everything, goes_on, |_| n_told += 1).unwrap();
    assert!(!whole && 0 < n_told && n_told < 1000, "{n_told}");
    assert_eq!(manifest.records().count(), n_told);
    // What it did not come to is not called removed, and a second look tells the rest.
    let whole = shop.folder.reconcile_while(
        &mut manifest,
        &everything,
        || true,
        |change| {
            assert!(matches!(change, Change::Written { .. }));
            n_told += 1;
        },
    );
    assert!(whole.unwrap());
    assert_eq!(n_told, 1000);
    for at in 0..100 {
        shop.remove(format!("3/{at}.md"));
    }
    let mut removed = 0;
    let marks = Dirty::Paths((0..200).map(|at| format!("{}/{at}.md", at % 10).into()).collect());
    let whole = shop.folder.reconcile_while(&mut manifest, &marks, || false, |_| removed += 1);
    assert!(!whole.unwrap() && removed < 20);
    let edits = manifest.edits();
    shop.folder.reconcile(&mut manifest, &everything, |_| removed += 1).unwrap();
    assert_eq!(removed, 100);
    assert!(edits < manifest.edits());
}

#[test]
fn a_key_that_comes_to_rest_is_an_edit() {
    let shop = Shop::new();
    shop.write("a.md", "one");
    let mut manifest = Manifest::default();
    let scan = |manifest: &mut Manifest| {
        shop.folder.reconcile(manifest, &Dirty::Everything, |_| {}).unwrap();
        manifest.edits()
    };
    let fresh = scan(&mut manifest);
    set_mtime(&shop.path("a.md"), long_ago());
    // Its other time is of now, so it is fresh until that has passed; then the next look is worth keeping.
    let deadline = std::time::Instant::now() + Duration::from_secs(60);
    let mut last = scan(&mut manifest);
    assert!(fresh < last);
    loop {
        let edits = scan(&mut manifest);
        if last < edits {
            break;
        }
        last = edits;
        assert!(std::time::Instant::now() < deadline);
        std::thread::sleep(Duration::from_millis(20));
    }
    assert_eq!(scan(&mut manifest), scan(&mut manifest), "and nothing is left to be kept");
}

#[test]
fn a_conflict_copy_is_marked() {
    let mut shop = Shop::new();
    shop.write("heron (conflicted copy 2026-01-01).md", "one");
    shop.write("heron.md", "one");
    shop.scan();
    let marks = shop.take_log().into_iter().map(|change| match change {
        Change::Written { path, conflict_copy, .. } => (path.to_string(), conflict_copy),
        other => panic!("{other:?}"),
    });
    let mut marks: Vec<_> = marks.collect();
    marks.sort();
    assert_eq!(
        marks,
        [
            ("heron (conflicted copy 2026-01-01).md".to_owned(), true),
            ("heron.md".to_owned(), false)
        ]
    );
}

#[test]
fn nothing_in_the_shop_folder_is_changed() {
    use std::os::unix::fs::MetadataExt as _;
    let mut shop = Shop::new();
    shop.make("builds");
    shop.write("builds/a.md", "one");
    shop.write("b.md", "two");
    let snapshot = |shop: &Shop| -> Vec<_> {
        let stat = |path: std::path::PathBuf| {
            let it = path.symlink_metadata().unwrap();
            (path, it.ino(), it.size(), it.mode(), it.mtime_nsec(), it.ctime_nsec())
        };
        crate::shop::listing(shop.folder.root()).into_iter().map(stat).collect()
    };
    let before = snapshot(&shop);
    shop = shop.watch(taperbook_folder::Settle::default());
    shop.check_after_fence();
    assert_eq!(snapshot(&shop), before);
}
