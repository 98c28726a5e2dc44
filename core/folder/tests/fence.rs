//! The fence: after it, everything written before it is held.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use taperbook_folder::{Mode, Settle};

use crate::shop::Shop;

#[test]
fn after_a_fence_every_write_is_held() {
    let mut shop = Shop::watched();
    for number in 0..200 {
        let (path, text) = (format!("{}.md", number % 7), number.to_string());
        shop.write(&path, &text);
        shop.fence();
        assert_eq!(shop.text(&path), Some(&*text));
    }
}

#[test]
fn one_fence_after_two_hundred_writes() {
    let mut shop = Shop::watched();
    for number in 0..200 {
        let directory = format!("d{}", number % 20);
        shop.make(&directory);
        shop.write(format!("{directory}/{number}.md"), "x");
    }
    shop.check_after_fence();
    assert_eq!(shop.paths().len(), 200);
}

#[test]
fn fences_from_several_threads_are_all_answered() {
    let mut shop = Shop::watched();
    let watcher = shop.watcher();
    let fences: Vec<_> = std::thread::scope(|scope| {
        let raise = || (0..20).map(|_| watcher.fence().unwrap()).collect::<Vec<_>>();
        let threads: Vec<_> = (0..8).map(|_| scope.spawn(raise)).collect();
        threads.into_iter().flat_map(|thread| thread.join().unwrap()).collect()
    });
    assert_eq!(fences.len(), 160);
    // A later fence comes later: by its answer all the others have been answered.
    shop.fence();
    let standing = fs::read_dir(shop.outside("state/fence")).unwrap().count();
    assert_eq!(standing, 0);
}

#[test]
fn a_folder_that_is_polled_on_request() {
    let settle =
        Settle { force_polling: true, poll_every: Duration::from_millis(20), ..Settle::default() };
    let mut shop = Shop::new().watch(settle);
    assert_eq!(shop.watcher().mode().to_string(), "polling: polling was asked for");
    shop.write("a.md", "one");
    shop.wait_for("a.md", "one");
    shop.make("b");
    shop.write("b/c.md", "two");
    shop.remove("a.md");
    shop.check_after_fence();
    assert_eq!(shop.paths(), ["b/c.md"]);
}

#[test]
fn a_fence_in_a_polled_folder_does_not_wait_for_the_poll() {
    let settle =
        Settle { force_polling: true, poll_every: Duration::from_secs(3600), ..Settle::default() };
    let mut shop = Shop::new().watch(settle);
    shop.fence();
    shop.write("a.md", "one");
    shop.fence();
    assert_eq!(shop.text("a.md"), Some("one"));
}

/// Random numbers of Marsaglia's xorshift64 ("Xorshift RNGs", J. Stat. Software 8(14), 2003).
struct Random(u64);

impl Random {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % limit
    }

    fn pick<'a>(&mut self, from: &[&'a str]) -> &'a str {
        let number = self.below(from.len() as u64);
        from[usize::try_from(number).unwrap()]
    }
}

/// Does one random thing in a directory; whether it succeeds does not matter.
fn disturb(root: &Path, random: &mut Random) {
    let directory = |random: &mut Random| {
        let depth = random.below(4);
        let names = (0..depth).map(|_| random.pick(&["a", "b", "c"]));
        root.join(names.collect::<PathBuf>())
    };
    let file = |random: &mut Random| {
        let directory = directory(random);
        directory.join(random.pick(&["x.md", "y.md", "z.md", "no.txt"]))
    };
    let text = random.below(1000).to_string();
    let _ = match random.below(11) {
        0..4 => fs::write(file(random), text),
        4 => fs::remove_file(file(random)),
        5 => fs::rename(file(random), file(random)),
        6 | 7 => fs::create_dir_all(directory(random)),
        8 | 9 => {
            let (from, to) = (directory(random), directory(random));
            if from == root || to == root { Ok(()) } else { fs::rename(from, to) }
        }
        _ => {
            let directory = directory(random);
            if directory == root { Ok(()) } else { fs::remove_dir_all(directory) }
        }
    };
}

#[test]
fn what_is_held_is_right_after_random_disturbance() {
    let mut shop = Shop::watched();
    let mut random = Random(0x9E37_79B9_7F4A_7C15);
    for round in 0..40 {
        let seeds = [random.below(u64::MAX) | 1, random.below(u64::MAX) | 1];
        let root = shop.folder.root().to_path_buf();
        std::thread::scope(|scope| {
            for seed in seeds {
                let (root, mut random) = (&root, Random(seed));
                scope.spawn(move || (0..60).for_each(|_| disturb(root, &mut random)));
            }
            // Fences in the middle of it are answered as well.
            shop.fence();
            shop.fence();
        });
        shop.fence();
        let result = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| shop.check_fresh()));
        assert!(result.is_ok(), "round {round}, seeds {seeds:?}");
    }
    assert_eq!(shop.watcher().mode(), Mode::Live);
}
