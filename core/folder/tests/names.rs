//! Names of every kind, and symbolic links.

use std::ffi::OsStr;
use std::fs;
use std::os::unix::ffi::OsStrExt as _;
use std::os::unix::fs::symlink;

use crate::shop::Shop;

const LINK: &str =
    "it is a symbolic link, and links are not followed; put the file or the folder itself here";
const NOT_UTF8: &str = "its name is not UTF-8; rename it";

#[test]
fn names_that_are_unusual_and_right() {
    let mut shop = Shop::watched();
    let longest = format!("{}.md", "n".repeat(252));
    let names = [
        "a heron with spaces.md",
        "line\nbreak.md",
        "\"quoted\" 'twice'.md",
        "🎣 heron.md",
        "back\\slash.md",
        // The same letter in two Unicode normal forms is two names, as is a case.
        "b\u{e9}ton.md",
        "be\u{301}ton.md",
        "Heron.md",
        "heron.md",
        // The ending counts in capitals too, beside the same name in small letters.
        "heron.MD",
        "notes.md.md",
        longest.as_str(),
    ];
    for name in names {
        shop.write(name, name);
    }
    shop.wait_until("all names", |shop| shop.paths().len() == names.len());
    for name in names {
        assert_eq!(shop.text(name), Some(name));
    }
    shop.check_after_fence();
}

#[test]
fn a_name_that_is_not_utf8_is_reported_and_not_lost() {
    let mut shop = Shop::watched();
    let bad = OsStr::from_bytes(b"caf\xE9.md");
    shop.make("notes");
    shop.fence();
    fs::write(shop.path("notes").join(bad), "one").unwrap();
    fs::write(shop.path(OsStr::from_bytes(b"caf\xE9.jpg")), "one").unwrap();
    let shown = r"notes/caf\xE9.md (not UTF-8)";
    shop.wait_until("the report", |shop| shop.why_unreadable(shown) == Some(NOT_UTF8));
    assert_eq!(shop.paths(), [shown]);
    shop.check_after_fence();
    fs::rename(shop.path("notes").join(bad), shop.path("notes/café.md")).unwrap();
    shop.wait_until("the record", |shop| shop.paths() == ["notes/café.md"]);
}

#[test]
fn a_name_with_two_endings_is_reported() {
    let mut shop = Shop::watched();
    shop.write("heron.MD.md", "one");
    shop.fence();
    assert_eq!(
        shop.why_unreadable("heron.MD.md"),
        Some("its name has two endings; rename it so that one `.md` is left")
    );
    shop.rename("heron.MD.md", "heron.MD");
    shop.wait_for("heron.MD", "one");
    shop.check_after_fence();
}

#[test]
fn a_folder_whose_name_is_not_utf8_is_reported_as_a_whole() {
    let mut shop = Shop::watched();
    let bad = OsStr::from_bytes(b"g\xFFr");
    shop.make(bad);
    fs::write(shop.path(bad).join("a.md"), "one").unwrap();
    let shown = r"g\xFFr (not UTF-8)";
    shop.wait_until("the report", |shop| shop.why_unreadable(shown) == Some(NOT_UTF8));
    shop.check_after_fence();
    shop.rename(bad, "good");
    shop.wait_until("the record", |shop| shop.paths() == ["good/a.md"]);
    shop.write("good/a.md", "two");
    shop.wait_for("good/a.md", "two");
}

#[test]
fn links_are_reported_and_not_followed() {
    let mut shop = Shop::watched();
    shop.write("a.md", "one");
    shop.make("builds");
    fs::create_dir(shop.outside("elsewhere")).unwrap();
    fs::write(shop.outside("elsewhere/secret.md"), "secret").unwrap();
    shop.fence();

    symlink("a.md", shop.path("in.md")).unwrap();
    symlink(shop.outside("elsewhere/secret.md"), shop.path("out.md")).unwrap();
    symlink("nowhere", shop.path("dangling.md")).unwrap();
    symlink("self.md", shop.path("self.md")).unwrap();
    symlink(shop.outside("elsewhere"), shop.path("folder out")).unwrap();
    symlink("..", shop.path("builds/loop")).unwrap();
    // What is no record and leads to none is nobody's concern.
    symlink("nowhere", shop.path("dangling")).unwrap();
    symlink("a.md", shop.path("photo.jpg")).unwrap();

    let links = ["builds/loop", "dangling.md", "folder out", "in.md", "out.md", "self.md"];
    shop.wait_until("all links", |shop| {
        links.iter().all(|link| shop.why_unreadable(link) == Some(LINK))
    });
    assert_eq!(shop.paths().len(), links.len() + 1);
    shop.check_after_fence();

    // A change behind a link is none of this folder.
    shop.take_log();
    fs::write(shop.outside("elsewhere/secret.md"), "changed").unwrap();
    shop.fence();
    assert_eq!(shop.take_log(), []);

    shop.remove("in.md");
    shop.write("in.md", "itself");
    shop.remove("folder out");
    shop.remove("builds/loop");
    shop.wait_for("in.md", "itself");
    shop.wait_until("the links to be gone", |shop| {
        shop.paths() == ["a.md", "dangling.md", "in.md", "out.md", "self.md"]
    });
    shop.check_after_fence();
}

#[test]
fn a_record_with_another_name_is_known_for_it() {
    let mut shop = Shop::watched();
    shop.write("a.md", "one");
    shop.write("b.md", "one");
    shop.fence();
    assert_eq!(shop.linked(), [""; 0]);
    fs::hard_link(shop.path("a.md"), shop.outside("elsewhere.md")).unwrap();
    fs::hard_link(shop.path("b.md"), shop.path("c.md")).unwrap();
    // The event is of `c.md` alone.
    shop.fence();
    assert_eq!(shop.linked(), ["a.md", "b.md", "c.md"]);
    // What is written through the other name has no event, and is found by a look.
    fs::write(shop.outside("elsewhere.md"), "two").unwrap();
    shop.look(&taperbook_folder::Dirty::path("a.md"));
    assert_eq!(shop.text("a.md"), Some("two"));
    shop.write("c.md", "three");
    shop.scan();
    assert_eq!((shop.text("b.md"), shop.text("c.md")), (Some("three"), Some("three")));
    fs::remove_file(shop.outside("elsewhere.md")).unwrap();
    shop.remove("c.md");
    shop.scan();
    assert_eq!(shop.linked(), [""; 0]);
    shop.check_after_fence();
}

#[test]
fn a_directory_replaced_by_a_link_is_left() {
    let mut shop = Shop::watched();
    shop.make("builds");
    shop.write("builds/a.md", "one");
    shop.fence();
    fs::rename(shop.path("builds"), shop.outside("moved")).unwrap();
    symlink(shop.outside("moved"), shop.path("builds")).unwrap();
    shop.wait_until("the link", |shop| shop.paths() == ["builds"]);
    assert_eq!(shop.why_unreadable("builds"), Some(LINK));
    shop.check_after_fence();
}
