//! Small things that tests of several crates need.
//!
//! Temporary folders are not here: the tempfile crate makes them.

use std::io;
use std::path::Path;
use std::time::{Duration, Instant};

/// Writes files into a folder by their relative paths, making the folders in between.
///
/// # Errors
/// When a folder or file can't be written.
pub fn write_files<P: AsRef<Path>, T: AsRef<[u8]>>(
    folder: &Path,
    files: impl IntoIterator<Item = (P, T)>,
) -> io::Result<()> {
    std::fs::create_dir_all(folder)?;
    let mut made = std::collections::BTreeSet::new();
    for (path, text) in files {
        let path = folder.join(path);
        if let Some(parent) = path.parent()
            && made.insert(parent.to_owned())
        {
            std::fs::create_dir_all(parent)?;
        }
        std::fs::write(path, text)?;
    }
    Ok(())
}

/// Asks again until there is an answer, for tests that wait for an event; the deadline only keeps a broken test from hanging.
///
/// # Panics
/// When there is no answer before the deadline; the message says what was waited for.
#[track_caller]
pub fn wait_for<T>(what: &str, deadline: Duration, mut ask: impl FnMut() -> Option<T>) -> T {
    let start = Instant::now();
    loop {
        if let Some(answer) = ask() {
            return answer;
        }
        assert!(start.elapsed() < deadline, "waited {deadline:?} for {what}");
        std::thread::sleep(Duration::from_millis(5));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waiting_ends_with_the_first_answer() {
        let mut asked = 0;
        let answer = wait_for("the third time", Duration::from_secs(60), || {
            asked += 1;
            (asked == 3).then_some(asked)
        });
        assert_eq!(answer, 3);
    }

    #[test]
    fn files_land_in_folders_that_were_not_there() {
        let folder = std::env::temp_dir().join(format!("taperbook-testkit-{}", std::process::id()));
        let files = [("a.md", "one"), ("deep/er/b.md", "two"), ("deep/er/c.md", "three")];
        write_files(&folder, files).expect("the temporary directory can be written");
        let read = |path: &str| std::fs::read_to_string(folder.join(path));
        let found = files.map(|(path, _)| read(path).expect("it was written"));
        std::fs::remove_dir_all(&folder).expect("it was made here");
        assert_eq!(found, ["one", "two", "three"]);
    }
}
