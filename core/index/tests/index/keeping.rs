//! Opening, committing, reopening, damage.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use taperbook_index::{Catalogue, Index, IndexError};
use taperbook_plugin::Number;
use taperbook_record::Kind;

use crate::shop::{Entry, catalogue, ids, put, small_shop};

#[track_caller]
fn unusable(outcome: Result<Index, IndexError>) -> String {
    match outcome {
        Err(IndexError::Unusable { why }) => why,
        Err(other) => panic!("{other:?}"),
        Ok(_) => panic!("it could be used"),
    }
}

fn files(dir: &Path) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> =
        fs::read_dir(dir).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort_unstable();
    files
}

#[test]
fn what_was_committed_is_there_after_reopening() {
    let dir = tempfile::tempdir().unwrap();
    let shop = small_shop();
    let before = {
        let mut index = Index::create(Some(dir.path()), catalogue()).unwrap();
        assert_eq!(index.payload(), "");
        put(&mut index, &shop);
        let searcher = index.commit("generation 7\nand a second line").unwrap();
        // What is queued and not committed is lost.
        put(&mut index, &[Entry::new(Kind::Note, "late", "late")]);
        searcher
    };
    let index = Index::open(Some(dir.path()), catalogue()).unwrap();
    index.verify().unwrap();
    assert_eq!(index.payload(), "generation 7\nand a second line");
    let after = index.searcher();
    assert_eq!(after.count(), shop.len());
    assert_eq!(after.ids().unwrap(), before.ids().unwrap());
    for query in
        ["", "spoons", "tip_cut>=1in", "\"sea trout\"", "ferrule:brass", "blank.material:carbon"]
    {
        let [one, other] = [&before, &after]
            .map(|searcher| searcher.find(&searcher.parse(query).unwrap(), 10).unwrap());
        assert_eq!(one, other, "{query}");
        assert!(0 < one.total, "{query}");
    }
}

#[test]
fn a_searcher_stays_at_its_moment() {
    let mut index = Index::create(None, catalogue()).unwrap();
    put(&mut index, &[Entry::new(Kind::Note, "a", "one"), Entry::new(Kind::Note, "b", "one")]);
    let first = index.commit("1").unwrap();
    put(&mut index, &[Entry::new(Kind::Note, "a", "two"), Entry::new(Kind::Note, "c", "one")]);
    assert_eq!(ids(&index.searcher(), "one"), ["a", "b"]);
    index.remove("b").unwrap();
    index.remove("nobody").unwrap();
    let second = index.commit("2").unwrap();
    assert_eq!(ids(&first, "one"), ["a", "b"]);
    assert_eq!(ids(&second, "one"), ["c"]);
    assert_eq!(ids(&second, "two"), ["a"]);
    assert_eq!((first.count(), second.count()), (2, 2));
    // A query is bound to no moment.
    let query = first.parse("one").unwrap();
    assert_eq!(second.find(&query, 10).unwrap().total, 1);
    assert_eq!(index.payload(), "2");
    index.commit("3").unwrap();
    assert_eq!(index.payload(), "3");
    assert_eq!(index.searcher().ids().unwrap(), ["a", "c"]);
}

#[test]
fn what_was_merged_is_taken_up_without_a_commit() {
    let dir = tempfile::tempdir().unwrap();
    let mut index = Index::create(Some(dir.path()), catalogue()).unwrap();
    let deadline = Instant::now() + Duration::from_secs(60);
    let mut n_records = 0;
    // A merge may be over before its commit is read, and is taken up with it; then it is for the next one to show.
    let merged = loop {
        assert!(Instant::now() < deadline, "nothing was merged after {n_records} commits");
        put(&mut index, &[Entry::new(Kind::Note, &format!("note-{n_records}"), "one")]);
        let before = index.commit("kept").unwrap();
        n_records += 1;
        let until = Instant::now() + Duration::from_millis(20);
        let mut merged = None;
        while merged.is_none() && Instant::now() < until {
            merged = index.refresh().unwrap();
        }
        if let Some(merged) = merged {
            assert_eq!(merged.ids().unwrap(), before.ids().unwrap());
            break merged;
        }
    };
    assert_eq!(merged.count(), n_records);
    // The writer may be given up in between, and nothing that was queued with it.
    put(&mut index, &[Entry::new(Kind::Note, "late", "late")]);
    for _ in 0..3 {
        index.refresh().unwrap();
    }
    assert_eq!(ids(&index.searcher(), "late"), [""; 0]);
    assert_eq!(ids(&index.commit("more").unwrap(), "late"), ["late"]);
    index.remove("late").unwrap();
    index.refresh().unwrap();
    assert_eq!(index.commit("more").unwrap().count(), n_records);
    drop(index);
    assert_eq!(Index::open(Some(dir.path()), catalogue()).unwrap().payload(), "more");
}

#[test]
fn a_compact_index_says_the_same() {
    let dir = tempfile::tempdir().unwrap();
    let mut index = Index::create(Some(dir.path()), catalogue()).unwrap();
    let segments = || {
        let names = fs::read_dir(dir.path()).unwrap().map(|entry| entry.unwrap().file_name());
        names.filter(|name| name.to_str().unwrap().ends_with(".store")).count()
    };
    for number in 0..5 {
        put(&mut index, &[Entry::new(Kind::Note, &format!("note-{number}"), "one")]);
        index.commit("kept").unwrap();
    }
    index.remove("note-3").unwrap();
    let before = index.commit("kept").unwrap();
    assert!(1 < segments());
    index.compact().unwrap();
    let deadline = Instant::now() + Duration::from_secs(60);
    let merged = loop {
        assert!(Instant::now() < deadline, "it is never merged");
        if let Some(merged) = index.refresh().unwrap() {
            break merged;
        }
    };
    assert_eq!(merged.ids().unwrap(), before.ids().unwrap());
    assert_eq!(ids(&merged, "one"), ids(&before, "one"));
    // One that is compact has nothing to merge.
    index.compact().unwrap();
    put(&mut index, &[Entry::new(Kind::Note, "late", "one")]);
    assert_eq!(index.commit("late").unwrap().count(), 5);
    drop((index, before, merged));
    let index = Index::open(Some(dir.path()), catalogue()).unwrap();
    assert_eq!((index.searcher().count(), index.payload()), (5, "late"));
}

/// Takes up what is merged until all is one segment.
#[track_caller]
fn until_compact(index: &mut Index, n_segments: impl Fn() -> usize) {
    let deadline = Instant::now() + Duration::from_secs(120);
    loop {
        index.refresh().unwrap();
        if n_segments() == 1 {
            return;
        }
        assert!(Instant::now() < deadline, "{} segments are left", n_segments());
        std::thread::yield_now();
    }
}

#[test]
fn what_fills_an_empty_index_is_merged_when_there_is_time() {
    let dir = tempfile::tempdir().unwrap();
    let mut index = Index::create(Some(dir.path()), catalogue()).unwrap();
    let n_segments = || {
        let names = fs::read_dir(dir.path()).unwrap().map(|entry| entry.unwrap().file_name());
        names.filter(|name| name.to_str().unwrap().ends_with(".store")).count()
    };
    let fill = |index: &mut Index, numbers: std::ops::Range<usize>| {
        for number in numbers {
            put(index, &[Entry::new(Kind::Note, &format!("note-{number}"), "one")]);
            index.commit("kept").unwrap();
        }
    };
    fill(&mut index, 0..20);
    assert_eq!(index.settle().unwrap().count(), 20);
    assert_eq!(n_segments(), 20, "nothing was merged while it was filled");
    index.compact().unwrap();
    until_compact(&mut index, n_segments);
    // What is being merged at the moment is no hindrance.
    fill(&mut index, 20..40);
    index.compact().unwrap();
    until_compact(&mut index, n_segments);
    assert_eq!(index.searcher().count(), 40);
    drop(index);

    // Many are merged even while they come.
    let mut index = Index::create(Some(dir.path()), catalogue()).unwrap();
    fill(&mut index, 0..40);
    assert_eq!(index.settle().unwrap().count(), 40);
    assert!(n_segments() < 24, "{}", n_segments());
}

#[test]
fn the_last_of_one_id_counts() {
    let mut index = Index::create(None, catalogue()).unwrap();
    for title in ["one", "two", "three"] {
        put(&mut index, &[Entry::new(Kind::Note, "a", title)]);
    }
    index.remove("b").unwrap();
    put(&mut index, &[Entry::new(Kind::Note, "b", "kept")]);
    put(&mut index, &[Entry::new(Kind::Note, "c", "gone")]);
    index.remove("c").unwrap();
    let searcher = index.commit("").unwrap();
    assert_eq!(searcher.ids().unwrap(), ["a", "b"]);
    assert_eq!(ids(&searcher, "three"), ["a"]);
    assert_eq!(ids(&searcher, "one or two or gone"), [""; 0]);
}

#[test]
fn an_index_of_something_else_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    assert!(unusable(Index::open(Some(dir.path()), catalogue())).starts_with("there is none in "));
    assert!(
        unusable(Index::open(Some(&dir.path().join("missing")), catalogue()))
            .starts_with("there is none in ")
    );

    drop(Index::create(Some(dir.path()), catalogue()).unwrap());
    let other = "it was made by another version or for other plugins";
    let mut fewer_numbers = catalogue();
    fewer_numbers.numbers.pop();
    let mut more_flags = catalogue();
    more_flags.flags.push("a-new-flag".to_owned());
    for catalogue in [fewer_numbers, more_flags, Catalogue::default()] {
        assert_eq!(unusable(Index::open(Some(dir.path()), catalogue)), other);
    }
    // The order in which plugins are listed means nothing.
    let mut turned = catalogue();
    turned.numbers.reverse();
    turned.flags.reverse();
    drop(Index::open(Some(dir.path()), turned).unwrap());

    let meta = dir.path().join("meta.json");
    let text = fs::read_to_string(&meta).unwrap();
    assert!(text.contains("taperbook-index 3 "));
    fs::write(&meta, text.replace("taperbook-index 3 ", "taperbook-index 0 ")).unwrap();
    assert_eq!(unusable(Index::open(Some(dir.path()), catalogue())), other);
    fs::write(&meta, text.replace("\"front\"", "\"fronts\"")).unwrap();
    assert_eq!(unusable(Index::open(Some(dir.path()), catalogue())), other);
    fs::write(&meta, text).unwrap();
    drop(Index::open(Some(dir.path()), catalogue()).unwrap());
}

/// Makes an index with a segment and deletions, damages it, and says whether opening and verifying it find out.
fn finds_damage(name_end: &str, damage: impl Fn(&Path)) -> bool {
    let dir = tempfile::tempdir().unwrap();
    {
        let mut index = Index::create(Some(dir.path()), catalogue()).unwrap();
        put(&mut index, &[Entry::new(Kind::Note, "first", "one")]);
        index.commit("").unwrap();
    }
    {
        // One that is not empty is written by one thread: all of these are in one segment, of which no merge is begun
        // for the one that is removed.
        let mut index = Index::open(Some(dir.path()), catalogue()).unwrap();
        put(&mut index, &small_shop());
        index.commit("").unwrap();
        index.remove("builds/zoe").unwrap();
        index.commit("").unwrap();
    }
    let damaged: Vec<PathBuf> = files(dir.path())
        .into_iter()
        .filter(|file| file.to_str().unwrap().ends_with(name_end))
        .collect();
    assert!(!damaged.is_empty(), "no {name_end}");
    damaged.iter().for_each(|file| damage(file));
    let found = match Index::open(Some(dir.path()), catalogue()) {
        Err(IndexError::Unusable { .. }) => true,
        Err(other) => panic!("{name_end}: {other:?}"),
        Ok(index) => matches!(index.verify(), Err(IndexError::Unusable { .. })),
    };
    // Whatever it was, a new one can be made in its place.
    let mut index = Index::create(Some(dir.path()), catalogue()).unwrap();
    put(&mut index, &small_shop());
    assert_eq!(index.commit("").unwrap().count(), small_shop().len());
    index.verify().unwrap();
    found
}

const SEGMENT_FILES: [&str; 7] = [".store", ".term", ".idx", ".pos", ".fast", ".fieldnorm", ".del"];

#[test]
fn damage_is_found() {
    for name_end in SEGMENT_FILES.into_iter().chain(["meta.json"]) {
        assert!(
            finds_damage(name_end, |file| fs::remove_file(file).unwrap()),
            "{name_end} deleted"
        );
        assert!(finds_damage(name_end, |file| fs::write(file, "").unwrap()), "{name_end} emptied");
        let cut = |file: &Path| {
            let bytes = fs::read(file).unwrap();
            fs::write(file, &bytes[..bytes.len() / 2]).unwrap();
        };
        assert!(finds_damage(name_end, cut), "{name_end} cut short");
        let zeroed = |file: &Path| fs::write(file, vec![0; fs::read(file).unwrap().len()]).unwrap();
        assert!(finds_damage(name_end, zeroed), "{name_end} zeroed");
    }
    for name_end in SEGMENT_FILES {
        let flipped = |file: &Path| {
            let mut bytes = fs::read(file).unwrap();
            bytes[1] ^= 4;
            fs::write(file, bytes).unwrap();
        };
        assert!(finds_damage(name_end, flipped), "{name_end} with one bit flipped");
    }
}

/// Makes an index, closes it as told, damages its words, and says whether opening it finds out.
fn opening_finds_damage(close: impl FnOnce(Index), keep_the_time: bool) -> bool {
    let dir = tempfile::tempdir().unwrap();
    let mut index = Index::create(Some(dir.path()), catalogue()).unwrap();
    put(&mut index, &small_shop());
    index.commit("").unwrap();
    close(index);
    for file in files(dir.path()).iter().filter(|file| file.to_str().unwrap().ends_with(".term")) {
        let modified = fs::metadata(file).unwrap().modified().unwrap();
        let mut bytes = fs::read(file).unwrap();
        let middle = bytes.len() / 2;
        bytes[middle] ^= 4;
        fs::write(file, bytes).unwrap();
        if keep_the_time {
            fs::File::options().write(true).open(file).unwrap().set_modified(modified).unwrap();
        }
    }
    matches!(Index::open(Some(dir.path()), catalogue()), Err(IndexError::Unusable { .. }))
}

#[test]
fn damage_is_found_by_opening_however_the_index_was_closed() {
    assert!(opening_finds_damage(drop, false));
    assert!(opening_finds_damage(drop, true), "the other time gives it away");
    // As by a kill: nothing is closed, and the lock is let go with the process, here by the test's end.
    assert!(opening_finds_damage(std::mem::forget, true));
}

#[test]
fn an_index_that_was_closed_in_good_order_is_opened_without_reading_it() {
    let dir = tempfile::tempdir().unwrap();
    let seal = dir.path().join("seal");
    let mut index = Index::create(Some(dir.path()), catalogue()).unwrap();
    assert!(!seal.exists(), "it has been written to");
    put(&mut index, &small_shop());
    index.commit("").unwrap();
    drop(index);
    let sealed = fs::read_to_string(&seal).unwrap();
    drop(Index::open(Some(dir.path()), catalogue()).unwrap());
    assert_eq!(fs::read_to_string(&seal).unwrap(), sealed, "looking changes nothing");

    let mut index = Index::open(Some(dir.path()), catalogue()).unwrap();
    index.remove("builds/zoe").unwrap();
    assert!(!seal.exists(), "it is about to be written to");
    index.commit("").unwrap();
    drop(index);
    assert_ne!(fs::read_to_string(&seal).unwrap(), sealed);

    // What is found whole is sealed again.
    fs::remove_file(&seal).unwrap();
    drop(Index::open(Some(dir.path()), catalogue()).unwrap());
    assert!(seal.exists());
}

#[test]
fn an_index_that_is_written_over_while_it_is_open_ends_in_an_error() {
    let dir = tempfile::tempdir().unwrap();
    let mut index = Index::create(Some(dir.path()), catalogue()).unwrap();
    // Texts that don't compress, so that files are too large to be held in memory.
    let mut bits = 1_u64;
    let mut word = || {
        bits = bits.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        format!("{:x} ", bits >> 16)
    };
    let entries: Vec<Entry> = (0..40)
        .map(|number| {
            let body: String = (0..1000).map(|_| word()).collect();
            Entry::new(Kind::Note, &format!("{number}"), "spoons").body(&body)
        })
        .collect();
    put(&mut index, &entries);
    let searcher = index.commit("").unwrap();
    assert!(index.is_intact());
    for file in files(dir.path()) {
        fs::File::options().write(true).open(file).unwrap().set_len(10).unwrap();
    }
    assert!(!index.is_intact());
    let query = searcher.parse("spoons").unwrap();
    let error = searcher.find(&query, 10).unwrap_err();
    assert!(matches!(error, IndexError::Failed { .. }), "{error:?}");
    // The library's own words for it are not shown to the builder.
    put(&mut index, &entries[..1]);
    let error = index.commit("").err().expect("its files are damaged");
    assert_eq!(
        error.to_string(),
        "the index can't be used: some of its files were damaged or taken away; it is made again"
    );
}

#[test]
fn a_new_index_leaves_other_files_alone() {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("manifest"), "kept").unwrap();
    let mut index = Index::create(Some(dir.path()), catalogue()).unwrap();
    put(&mut index, &small_shop());
    index.commit("").unwrap();
    drop(index);
    let index = Index::create(Some(dir.path()), catalogue()).unwrap();
    assert_eq!(index.searcher().count(), 0);
    assert_eq!(fs::read_to_string(dir.path().join("manifest")).unwrap(), "kept");
}

#[test]
fn a_second_writer_is_refused_and_a_reader_is_not() {
    let dir = tempfile::tempdir().unwrap();
    let mut first = Index::create(Some(dir.path()), catalogue()).unwrap();
    put(&mut first, &small_shop());
    first.commit("").unwrap();
    let mut second = Index::open(Some(dir.path()), catalogue()).unwrap();
    assert_eq!(second.searcher().count(), small_shop().len());
    let error = second.remove("builds/ilse").unwrap_err();
    assert!(matches!(error, IndexError::Failed { .. }), "{error:?}");
    drop(first);
    second.remove("builds/ilse").unwrap();
    assert_eq!(second.commit("").unwrap().count(), small_shop().len() - 1);
}

#[test]
fn a_commit_that_fails_changes_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let place = dir.path().join("index");
    let mut index = Index::create(Some(&place), catalogue()).unwrap();
    put(&mut index, &small_shop());
    index.commit("good").unwrap();
    fs::rename(&place, dir.path().join("away")).unwrap();
    put(&mut index, &[Entry::new(Kind::Note, "late", "late")]);
    let error = index.commit("bad").err().expect("it can't be written");
    assert!(matches!(error, IndexError::NotWritable { .. }), "{error:?}");
    assert_eq!(
        error.to_string(),
        format!(
            "`{}` can't be written to: see that it is there and yours, and its disk not read-only",
            place.display()
        )
    );
    assert!(std::error::Error::source(&error).is_some());
    assert_eq!(index.payload(), "good");
    assert_eq!(index.searcher().count(), small_shop().len());
    fs::rename(dir.path().join("away"), &place).unwrap();
    put(&mut index, &[Entry::new(Kind::Note, "later", "later")]);
    let searcher = index.commit("better").unwrap();
    assert_eq!(ids(&searcher, "late"), [""; 0]);
    assert_eq!(ids(&searcher, "later"), ["later"]);
    index.verify().unwrap();
}

#[test]
fn many_small_commits_leave_few_files() {
    let dir = tempfile::tempdir().unwrap();
    let mut index = Index::create(Some(dir.path()), catalogue()).unwrap();
    for number in 0..150 {
        let entry =
            Entry::new(Kind::Note, &format!("notes/{}", number % 10), &format!("title {number}"));
        put(&mut index, &[entry]);
        index.commit("").unwrap();
    }
    let searcher = index.settle().unwrap();
    assert_eq!(searcher.count(), 10);
    assert_eq!(ids(&searcher, "149"), ["notes/9"]);
    // Ten records changed fifteen times each: without merging and collecting there would be some 150 segments of 7 files.
    let files = files(dir.path()).len();
    assert!(files < 300, "{files} files");
}

#[test]
fn records_may_hold_anything() {
    let long = "word ".repeat(100_000);
    let mut odd = Entry::new(Kind::Note, "a\0b/c d.é", "")
        .body(&long)
        .field("", "nothing")
        .field("a\0b", "\0")
        .field("x", "");
    odd.numbers = vec![
        ("length".to_owned(), Number::exact(f64::NAN)),
        ("power".to_owned(), Number::exact(f64::INFINITY)),
        ("unheard_of".to_owned(), Number::exact(1.0)),
    ];
    let mut index = Index::create(None, catalogue()).unwrap();
    put(&mut index, &[odd, Entry::default(), Entry::new(Kind::Note, "b", "竿\u{301}\u{202e}")]);
    let searcher = index.commit("\0 {}").unwrap();
    assert_eq!(index.payload(), "\0 {}");
    assert_eq!(searcher.ids().unwrap(), ["", "a\0b/c d.é", "b"]);
    assert_eq!(ids(&searcher, "word"), ["a\0b/c d.é"]);
    assert_eq!(ids(&searcher, "length:..9m or power:..9kg").len(), 0);
    assert_eq!(ids(&searcher, "竿"), ["b"]);
}

#[test]
fn what_must_cross_threads_can() {
    fn crosses<T: Send + Sync>() {}
    fn moves<T: Send>() {}
    crosses::<taperbook_index::Searcher>();
    crosses::<taperbook_index::Query>();
    crosses::<IndexError>();
    moves::<Index>();
}

/// A small disk of its own; it is taken away when this is dropped.
struct Disk(tempfile::TempDir);

impl Disk {
    /// Mounts one of so many KiB; `None` where the system lets nobody mount.
    fn mount(kib: u32) -> Option<Self> {
        let place = tempfile::tempdir().unwrap();
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", &format!("size={kib}k"), "tmpfs"]).arg(place.path());
        let mounted = mount.stderr(Stdio::null()).status();
        if mounted.is_ok_and(|status| status.success()) {
            return Some(Self(place));
        }
        let may_skip = std::env::var_os("TAPERBOOK_TEST_STRICT").is_none()
            || std::env::var_os("TAPERBOOK_TEST_MAY_MOUNT").is_some_and(|may| may == "no");
        let why = "no small disk can be mounted: that takes the rights of root";
        assert!(may_skip, "skipped: {why}");
        let _ = writeln!(std::io::stderr(), "skipped: {why}");
        None
    }

    /// How many bytes are left.
    fn room(&self) -> usize {
        let disk = rustix::fs::statvfs(self.0.path()).unwrap();
        usize::try_from(disk.f_bavail * disk.f_frsize).unwrap()
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(self.0.path()).status();
    }
}

/// An index of several segments that leave no room for themselves once more.
fn large_index(disk: &Disk) -> Index {
    let mut index = Index::create(Some(disk.0.path()), catalogue()).unwrap();
    let mut number = 0_u64;
    let whole = disk.room();
    while whole / 2 - 200_000 < disk.room() {
        for _ in 0..20 {
            // Words that no other record has, so that they take room.
            let words: Vec<String> = (0..200)
                .map(|_| {
                    number += 1;
                    format!("w{:x}", number.wrapping_mul(0x9e37_79b9_7f4a_7c15))
                })
                .collect();
            let note = Entry::new(Kind::Note, &format!("note-{number}"), "one");
            put(&mut index, &[note.body(&words.join(" "))]);
        }
        index.commit("kept").unwrap();
    }
    index
}

#[test]
fn a_merge_of_all_takes_no_room_that_is_not_there() {
    let Some(disk) = Disk::mount(3000) else { return };
    let mut index = large_index(&disk);
    let (room, n_segments) = (disk.room(), index.n_segments());
    assert!(1 < n_segments);
    index.compact().unwrap();
    // It is over when the writer has no merge left to wait for.
    index.settle().unwrap();
    assert_eq!((disk.room(), index.n_segments()), (room, n_segments));
}

#[test]
fn what_a_broken_merge_has_left_is_in_nobody_s_way() {
    let Some(disk) = Disk::mount(3000) else { return };
    let mut index = large_index(&disk);
    let n_records = index.settle().unwrap().count();
    drop(index);
    let left = disk.0.path().join("0123456789abcdef0123456789abcdef.store");
    fs::write(&left, vec![1; disk.room()]).unwrap();
    assert_eq!(disk.room(), 0);
    let mut index = Index::open(Some(disk.0.path()), catalogue()).unwrap();
    put(&mut index, &[Entry::new(Kind::Note, "late", "late")]);
    assert_eq!(index.commit("late").unwrap().count(), n_records + 1);
    assert!(!left.exists());
}
