//! The shop folder itself is renamed, deleted, made again and replaced.

use std::fs;
use std::time::Duration;

use taperbook_folder::{Event, Folder, Mode, Settle, WatchError, Watcher};

use crate::shop::Shop;

fn quick() -> Settle {
    Settle {
        poll_every: Duration::from_millis(20),
        rescan_pause: Duration::from_millis(20),
        ..Settle::default()
    }
}

fn is_degraded(mode: &Mode) -> bool {
    matches!(mode, Mode::Degraded { .. })
}

#[test]
fn the_root_is_deleted_and_made_again() {
    let mut shop = Shop::new().watch(quick());
    shop.make("builds");
    shop.write("builds/a.md", "one");
    shop.fence();
    fs::remove_dir_all(shop.path("")).unwrap();
    shop.wait_for_mode("the root to be missed", is_degraded);
    assert_eq!(shop.watcher().mode().to_string(), "degraded: the shop folder is not there: `.`");

    shop.make("builds");
    shop.write("builds/b.md", "two");
    shop.wait_for_mode("the root to be back", |mode| *mode == Mode::Live);
    shop.wait_until("the new record alone", |shop| shop.paths() == ["builds/b.md"]);
    shop.write("builds/b.md", "three");
    shop.wait_for("builds/b.md", "three");
    shop.check_after_fence();
    assert!(shop.troubles().iter().any(|trouble| trouble.contains("is not there")));
}

#[test]
fn the_root_is_renamed_and_renamed_back() {
    let mut shop = Shop::new().watch(quick());
    shop.write("a.md", "one");
    shop.fence();
    fs::rename(shop.path(""), shop.outside("moved")).unwrap();
    shop.wait_for_mode("the root to be missed", is_degraded);
    assert_eq!(shop.paths(), ["a.md"], "a folder that is gone is not an empty one");
    fs::write(shop.outside("moved/a.md"), "two").unwrap();
    fs::rename(shop.outside("moved"), shop.path("")).unwrap();
    shop.wait_for("a.md", "two");
    shop.write("a.md", "three");
    shop.wait_for("a.md", "three");
    assert_eq!(shop.watcher().mode(), Mode::Live);
}

#[test]
fn the_root_is_replaced_between_two_fences() {
    let mut shop = Shop::new().watch(quick());
    shop.make("builds");
    shop.write("builds/a.md", "old");
    shop.fence();
    for round in 0..20 {
        fs::rename(shop.path(""), shop.outside(&format!("old {round}"))).unwrap();
        shop.make("builds");
        shop.write("builds/b.md", &format!("{round}"));
        shop.check_after_fence();
        assert_eq!(shop.text("builds/b.md"), Some(&*format!("{round}")));
    }
}

#[test]
fn a_parent_of_the_root_is_renamed() {
    let home = tempfile::tempdir().unwrap();
    let root = home.path().join("parent/shop");
    fs::create_dir_all(&root).unwrap();
    let folder = Folder::open(&root).unwrap();
    let (watcher, events) = Watcher::start(&folder, &home.path().join("state"), quick()).unwrap();
    fs::rename(home.path().join("parent"), home.path().join("other")).unwrap();
    // No directory that is watched has an event for this, so the fence has to notice.
    let fence = watcher.fence().unwrap();
    let deadline = Duration::from_secs(60);
    while events.recv_timeout(deadline).unwrap() != Event::Fence(fence) {}
    assert!(is_degraded(&watcher.mode()), "{}", watcher.mode());
}

#[test]
fn the_state_may_not_be_in_the_shop_folder() {
    let home = tempfile::tempdir().unwrap();
    let folder = Folder::open(home.path()).unwrap();
    for state in ["state", "new/state"] {
        let result = Watcher::start(&folder, &home.path().join(state), Settle::default());
        assert!(matches!(result, Err(WatchError::StateInside { .. })), "{result:?}");
    }
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0);
}

#[test]
fn the_state_directory_is_deleted() {
    let mut shop = Shop::new().watch(quick());
    shop.write("a.md", "one");
    shop.fence();
    for round in 0..5 {
        // The watcher may make it again at the same moment.
        while let Err(error) = fs::remove_dir_all(shop.outside("state"))
            && error.kind() != std::io::ErrorKind::NotFound
        {}
        shop.write("a.md", &format!("{round}"));
        shop.fence();
        assert_eq!(shop.text("a.md"), Some(&*format!("{round}")));
    }
}
