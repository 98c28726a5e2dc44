//! The ways in which editors save, each without and with a fence.

use std::fs::{File, OpenOptions};
use std::io::Write as _;
use std::os::unix::fs::PermissionsExt as _;
use std::time::Duration;

use taperbook_folder::{Change, Settle};

use crate::shop::Shop;

/// Saves twice in one way; the first save is found by its events alone, the second by a fence.
#[track_caller]
fn check(save: impl Fn(&Shop, &str)) {
    let mut shop = Shop::watched();
    shop.write("a.md", "first");
    shop.fence();
    save(&shop, "second");
    shop.wait_for("a.md", "second");
    save(&shop, "third");
    shop.fence();
    assert_eq!(shop.text("a.md"), Some("third"));
    shop.check_fresh();
    let written = shop.take_log().into_iter().filter(|change| change.path().as_str() == "a.md");
    for change in written {
        match change {
            Change::Written { bytes, .. } => assert_ne!(bytes, b"", "an empty state was told"),
            other => panic!("{other:?}"),
        }
    }
}

#[test]
fn truncate_and_write() {
    check(|shop, text| shop.write("a.md", text));
}

#[test]
fn truncate_and_write_in_two_halves() {
    check(|shop, text| {
        let mut file = File::create(shop.path("a.md")).unwrap();
        let (first, second) = text.split_at(2);
        file.write_all(first.as_bytes()).unwrap();
        file.flush().unwrap();
        file.write_all(second.as_bytes()).unwrap();
    });
}

#[test]
fn temporary_and_rename() {
    check(|shop, text| {
        shop.write(".a.md.tmp", text);
        shop.rename(".a.md.tmp", "a.md");
    });
}

#[test]
fn temporary_from_outside_and_rename() {
    check(|shop, text| {
        std::fs::write(shop.outside("a.md.tmp"), text).unwrap();
        std::fs::rename(shop.outside("a.md.tmp"), shop.path("a.md")).unwrap();
    });
}

#[test]
fn backup_and_rename() {
    check(|shop, text| {
        shop.rename("a.md", "a.md~");
        shop.write("a.md", text);
        shop.remove("a.md~");
    });
}

#[test]
fn remove_and_write() {
    check(|shop, text| {
        shop.remove("a.md");
        shop.write("a.md", text);
    });
}

#[test]
fn temporary_and_hard_link() {
    check(|shop, text| {
        shop.write("a.md.tmp", text);
        shop.remove("a.md");
        std::fs::hard_link(shop.path("a.md.tmp"), shop.path("a.md")).unwrap();
        shop.remove("a.md.tmp");
    });
}

#[test]
fn write_then_permissions() {
    check(|shop, text| {
        shop.write("a.md", text);
        let mode = std::fs::Permissions::from_mode(0o600);
        std::fs::set_permissions(shop.path("a.md"), mode).unwrap();
    });
}

#[test]
fn in_place_without_truncating() {
    check(|shop, text| {
        let mut file = OpenOptions::new().write(true).open(shop.path("a.md")).unwrap();
        file.write_all(text.as_bytes()).unwrap();
        file.set_len(text.len() as u64).unwrap();
    });
}

#[test]
fn append() {
    let mut shop = Shop::watched();
    shop.write("a.md", "one");
    shop.fence();
    shop.append("a.md", " two");
    shop.wait_for("a.md", "one two");
    shop.append("a.md", " three");
    shop.fence();
    assert_eq!(shop.text("a.md"), Some("one two three"));
}

#[test]
fn a_file_that_stays_open_is_found_without_its_close() {
    let mut shop = Shop::watched();
    let mut file = File::create(shop.path("a.md")).unwrap();
    file.write_all(b"one").unwrap();
    shop.wait_for("a.md", "one");
    file.write_all(b" two").unwrap();
    shop.fence();
    assert_eq!(shop.text("a.md"), Some("one two"));
}

#[test]
fn a_touch_is_no_change() {
    let mut shop = Shop::watched();
    shop.write("a.md", "one");
    shop.fence();
    shop.take_log();
    let file = OpenOptions::new().append(true).open(shop.path("a.md")).unwrap();
    file.set_modified(std::time::UNIX_EPOCH + Duration::from_secs(5)).unwrap();
    drop(file);
    shop.fence();
    assert_eq!(shop.take_log(), []);
}

#[test]
fn the_same_size_with_the_time_set_back() {
    let mut shop = Shop::watched();
    shop.write("a.md", "cut 1 in");
    shop.fence();
    let modified = std::fs::metadata(shop.path("a.md")).unwrap().modified().unwrap();
    let mut file = OpenOptions::new().write(true).open(shop.path("a.md")).unwrap();
    file.write_all(b"cut 2 in").unwrap();
    file.set_modified(modified).unwrap();
    drop(file);
    shop.wait_for("a.md", "cut 2 in");
}

#[test]
fn a_delete() {
    let mut shop = Shop::watched();
    shop.write("a.md", "one");
    shop.write("b.md", "one");
    shop.fence();
    shop.remove("a.md");
    shop.wait_until("a.md to be gone", |shop| shop.paths() == ["b.md"]);
    shop.remove("b.md");
    shop.fence();
    assert_eq!(shop.paths(), [""; 0]);
}

#[test]
fn an_emptied_file_keeps_its_last_good_version() {
    let mut shop = Shop::holding_emptied_for(Duration::from_secs(3600)).watch(Settle::default());
    shop.write("a.md", "good");
    shop.fence();
    shop.write("a.md", "");
    // Neither an event nor a fence nor a full scan makes it believed; who asked is told to wait.
    shop.fence();
    shop.scan();
    assert_eq!(shop.text("a.md"), Some("good"));
    assert_eq!(shop.emptied(), ["a.md"]);
    shop.write("a.md", "better");
    shop.wait_for("a.md", "better");
    assert_eq!(shop.emptied(), [""; 0]);

    // A record that is new and empty is what it is, and one that is emptied and removed is gone.
    shop.write("b.md", "");
    shop.fence();
    assert_eq!(shop.text("b.md"), Some(""));
    shop.write("a.md", "");
    shop.fence();
    assert_eq!(shop.emptied(), ["a.md"]);
    shop.remove("a.md");
    shop.fence();
    assert_eq!((shop.text("a.md"), shop.emptied()), (None, Vec::new()));
}

#[test]
fn an_emptied_file_is_told_in_the_end() {
    let mut shop = Shop::holding_emptied_for(Duration::from_millis(300)).watch(Settle::default());
    for round in 0..3 {
        shop.write("a.md", &format!("good {round}"));
        shop.fence();
        // Emptying it over and over does not put it off for ever.
        while shop.text("a.md") != Some("") {
            shop.write("a.md", "");
            shop.scan();
        }
        assert_eq!(shop.emptied(), [""; 0]);
        shop.check_fresh();
    }
    // A file that was emptied long ago, or that a wrong clock dates ahead, is believed at once.
    for s in [-100_000, 100_000_i64] {
        shop.write("a.md", "good");
        shop.fence();
        shop.write("a.md", "");
        let (now, off) = (std::time::SystemTime::now(), Duration::from_secs(s.unsigned_abs()));
        let time = if s < 0 { now - off } else { now + off };
        File::options().write(true).open(shop.path("a.md")).unwrap().set_modified(time).unwrap();
        shop.fence();
        assert_eq!(shop.text("a.md"), Some(""), "{s}");
    }
}

#[test]
fn a_removed_file_gets_a_second_look() {
    let hour = Duration::from_secs(3600);
    let mut shop = Shop::new().watch(Settle { removed: hour, at_most: hour, ..Settle::default() });
    shop.write("a.md", "one");
    shop.fence();
    shop.take_log();
    shop.remove("a.md");
    shop.write("b.md", "one");
    shop.wait_for("b.md", "one");
    assert_eq!(shop.text("a.md"), Some("one"));
    shop.write("a.md", "two");
    shop.wait_for("a.md", "two");
    let removed = |change: &Change| matches!(change, Change::Removed { .. });
    assert!(!shop.take_log().iter().any(removed));
}

#[test]
fn a_close_after_writing_does_not_wait() {
    let hour = Duration::from_secs(3600);
    let mut shop = Shop::new().watch(Settle { quiet: hour, at_most: hour, ..Settle::default() });
    shop.write("a.md", "one");
    shop.wait_for("a.md", "one");
    shop.append("a.md", " two");
    shop.wait_for("a.md", "one two");
}
