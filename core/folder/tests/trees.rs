//! Directories that appear full, move, and go.

use std::fs;

use rustix::fs::{CWD, RenameFlags, renameat_with};
use taperbook_folder::{Mode, Settle};

use crate::shop::Shop;

#[test]
fn a_thousand_files_in_the_instant_after_a_directory_appears() {
    let mut shop = Shop::watched();
    shop.make("new");
    for number in 0..1000 {
        shop.write(format!("new/{number}.md"), "x");
    }
    shop.wait_until("all files", |shop| shop.paths().len() == 1000);
    shop.check_after_fence();
}

#[test]
fn deep_directories_made_at_once() {
    let mut shop = Shop::watched();
    for round in 0..50 {
        let deep = format!("r{round}/a/b/c/d");
        shop.make(&deep);
        shop.write(format!("{deep}/x.md"), "one");
        shop.fence();
        assert_eq!(shop.text(&format!("{deep}/x.md")), Some("one"), "round {round}");
    }
    // Each of them is watched by now.
    for round in 0..50 {
        shop.write(format!("r{round}/a/b/c/d/x.md"), "two");
    }
    shop.wait_until("all of the second", |shop| {
        (0..50).all(|round| shop.text(&format!("r{round}/a/b/c/d/x.md")) == Some("two"))
    });
    assert_eq!(shop.watcher().mode(), Mode::Live);
}

#[test]
fn a_full_folder_moved_in_out_and_renamed() {
    let mut shop = Shop::watched();
    let outside = shop.outside("full");
    fs::create_dir_all(outside.join("sub")).unwrap();
    fs::write(outside.join("a.md"), "one").unwrap();
    fs::write(outside.join("sub/b.md"), "one").unwrap();

    fs::rename(&outside, shop.path("in")).unwrap();
    shop.wait_until("both", |shop| shop.paths() == ["in/a.md", "in/sub/b.md"]);
    shop.write("in/sub/b.md", "two");
    shop.wait_for("in/sub/b.md", "two");

    shop.rename("in", "renamed");
    shop.wait_until("both", |shop| shop.paths() == ["renamed/a.md", "renamed/sub/b.md"]);
    shop.write("renamed/sub/b.md", "three");
    shop.wait_for("renamed/sub/b.md", "three");

    fs::rename(shop.path("renamed"), &outside).unwrap();
    shop.wait_until("none", |shop| shop.paths().is_empty());
    shop.take_log();
    fs::write(outside.join("sub/b.md"), "four").unwrap();
    shop.fence();
    assert_eq!(shop.take_log(), []);
    shop.check_fresh();
}

#[test]
fn another_directory_takes_the_place_of_one_that_moved() {
    let mut shop = Shop::watched();
    shop.make("a/sub");
    shop.write("a/sub/x.md", "old");
    shop.fence();
    shop.rename("a", "b");
    shop.make("a/sub");
    shop.write("a/sub/x.md", "new");
    shop.check_after_fence();
    shop.write("b/sub/x.md", "old two");
    shop.write("a/sub/x.md", "new two");
    shop.wait_for("b/sub/x.md", "old two");
    shop.wait_for("a/sub/x.md", "new two");
}

#[test]
fn two_directories_change_places() {
    let mut shop = Shop::watched();
    for (directory, text) in [("a", "of a"), ("b", "of b")] {
        shop.make(format!("{directory}/sub"));
        shop.write(format!("{directory}/sub/x.md"), text);
    }
    shop.fence();
    let (a, b) = (shop.path("a"), shop.path("b"));
    renameat_with(CWD, &a, CWD, &b, RenameFlags::EXCHANGE).unwrap();
    shop.wait_for("a/sub/x.md", "of b");
    shop.wait_for("b/sub/x.md", "of a");
    shop.write("a/sub/x.md", "later a");
    shop.write("b/sub/x.md", "later b");
    shop.wait_for("a/sub/x.md", "later a");
    shop.wait_for("b/sub/x.md", "later b");
}

#[test]
fn a_directory_deleted_and_made_again() {
    let mut shop = Shop::watched();
    for round in 0..30 {
        shop.make("a/b");
        shop.write("a/b/x.md", &format!("{round}"));
        if round % 2 == 0 {
            shop.check_after_fence();
        }
        fs::remove_dir_all(shop.path("a")).unwrap();
        if round % 3 == 0 {
            shop.check_after_fence();
        }
    }
    shop.make("a/b");
    shop.write("a/b/x.md", "last");
    shop.wait_for("a/b/x.md", "last");
    shop.write("a/b/x.md", "very last");
    shop.wait_for("a/b/x.md", "very last");
    shop.check_after_fence();
}

#[test]
fn a_directory_with_the_name_of_a_record() {
    let mut shop = Shop::watched();
    shop.write("a.md", "file");
    shop.fence();
    shop.remove("a.md");
    shop.make("a.md");
    shop.write("a.md/b.md", "below");
    shop.wait_until("the record below", |shop| shop.paths() == ["a.md/b.md"]);
    shop.write("a.md/b.md", "below two");
    shop.wait_for("a.md/b.md", "below two");
    fs::remove_dir_all(shop.path("a.md")).unwrap();
    shop.write("a.md", "file again");
    shop.wait_until("the file", |shop| shop.paths() == ["a.md"]);
    shop.check_after_fence();
}

#[test]
fn a_shop_folder_in_a_shop_folder_is_reported_and_not_entered() {
    let mut shop = Shop::new();
    shop.write("shop.yaml", "name: one\n");
    shop.make("old/builds");
    shop.write("old/shop.yaml", "name: two\n");
    shop.write("old/builds/a.md", "old");
    shop.write("b.md", "one");
    shop = shop.watch(Settle::default());
    shop.check_after_fence();
    assert_eq!(shop.paths(), ["b.md", "old", "shop.yaml"]);
    assert!(shop.why_unreadable("old").unwrap().starts_with("it is a shop folder of its own"));
    shop.write("old/builds/a.md", "older");
    shop.check_after_fence();

    // It comes and goes with the file that makes it one, by events alone.
    shop.remove("old/shop.yaml");
    shop.wait_for("old/builds/a.md", "older");
    shop.write("old/builds/a.md", "oldest");
    shop.wait_for("old/builds/a.md", "oldest");
    shop.write("old/builds/shop.yaml", "");
    shop.wait_until("the nested shop", |shop| shop.paths() == ["b.md", "old/builds", "shop.yaml"]);
    shop.rename("old/builds/shop.yaml", "old/shop.yaml");
    shop.wait_until("the outer one", |shop| shop.paths() == ["b.md", "old", "shop.yaml"]);
    shop.check_after_fence();
}

#[test]
fn a_hidden_directory_is_seen_when_it_is_no_longer_hidden() {
    let mut shop = Shop::watched();
    shop.make(".draft");
    shop.write(".draft/a.md", "one");
    shop.fence();
    assert_eq!(shop.paths(), [""; 0]);
    shop.rename(".draft", "draft");
    shop.wait_for("draft/a.md", "one");
    shop.rename("draft", ".draft");
    shop.wait_until("none", |shop| shop.paths().is_empty());
}

#[test]
fn a_directory_that_may_not_be_read_is_polled_until_it_may() {
    let mut shop = Shop::new();
    if !shop.can_forbid() {
        return;
    }
    shop.make("builds");
    shop.write("builds/a.md", "one");
    shop.permit("builds", 0o000);
    shop = shop.watch(Settle::default());
    shop.fence();
    assert_eq!(
        shop.watcher().mode().to_string(),
        "degraded: Permission denied (os error 13): `builds`"
    );
    assert_eq!(shop.paths(), ["builds"]);
    shop.permit("builds", 0o755);
    shop.wait_for("builds/a.md", "one");
    shop.wait_for_mode("all to be watched", |mode| *mode == Mode::Live);
    shop.write("builds/a.md", "two");
    shop.wait_for("builds/a.md", "two");

    shop.permit("builds", 0o000);
    shop.wait_until("the folder to be told of", |shop| shop.paths() == ["builds"]);
    shop.permit("builds", 0o755);
    shop.wait_for("builds/a.md", "two");
    shop.check_after_fence();
}

#[test]
fn a_file_that_may_not_be_read_for_a_while() {
    let mut shop = Shop::watched();
    if !shop.can_forbid() {
        return;
    }
    shop.write("a.md", "one");
    shop.fence();
    shop.permit("a.md", 0o000);
    shop.wait_until("the report", |shop| shop.why_unreadable("a.md").is_some());
    shop.permit("a.md", 0o644);
    shop.wait_for("a.md", "one");
    shop.check_after_fence();
}
