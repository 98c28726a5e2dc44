//! The seal: what the files of an index looked like when it was closed in good order.
//!
//! It is a file of names, sizes and times. Where it agrees with what is there, nobody has touched the index since and
//! its checksums need not be read. It is taken away before the first change and put back at the end, so a process
//! that was killed, or a machine that lost its power, leaves none. It proves nothing about a disk that fails silently.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::io;
use std::os::unix::fs::MetadataExt;
use std::path::Path;

/// The name of the file.
pub(crate) const SEAL: &str = "seal";

/// Whether the index is as it was when it was closed; `segments` are the names that its files begin with.
pub(crate) fn is_whole(dir: &Path, segments: &BTreeSet<String>) -> bool {
    let sealed = fs::read_to_string(dir.join(SEAL));
    sealed.is_ok_and(|sealed| state(dir, segments).is_ok_and(|state| state == sealed))
}

/// Seals an index that nobody writes to any more.
pub(crate) fn set(dir: &Path, segments: &BTreeSet<String>) -> io::Result<()> {
    fs::write(dir.join(SEAL), state(dir, segments)?)
}

/// Takes the seal away.
///
/// # Errors
/// When it is there and stays: the index must not be written to then.
pub(crate) fn remove(dir: &Path) -> io::Result<()> {
    match fs::remove_file(dir.join(SEAL)) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
}

/// One line for each file: its name, size, inode, and when it was written and changed.
fn state(dir: &Path, segments: &BTreeSet<String>) -> io::Result<String> {
    let mut lines = BTreeSet::new();
    for entry in fs::read_dir(dir)? {
        let entry = entry?;
        let name = entry.file_name();
        // A merge that was broken off may leave files of segments that are none: they say nothing.
        let Some(name) = name.to_str().filter(|name| {
            let stem = name.split('.').next().unwrap_or_default();
            *name == "meta.json" || segments.contains(stem)
        }) else {
            continue;
        };
        let data = entry.metadata()?;
        let mut line = format!("{name} {} {}", data.size(), data.ino());
        for (s, ns) in [(data.mtime(), data.mtime_nsec()), (data.ctime(), data.ctime_nsec())] {
            // Writing to a `String` can't fail.
            let _ = write!(line, " {s}.{ns:09}");
        }
        lines.insert(line + "\n");
    }
    Ok(lines.into_iter().collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_change_breaks_the_seal() {
        let home = tempfile::tempdir().unwrap();
        let (dir, segments) = (home.path(), BTreeSet::from(["aa".to_owned()]));
        let write = |name: &str, text: &str| fs::write(dir.join(name), text).unwrap();
        write("meta.json", "{}");
        write("aa.store", "one");
        write("aa.7.del", "x");
        assert!(!is_whole(dir, &segments), "there is none yet");
        set(dir, &segments).unwrap();
        assert!(is_whole(dir, &segments));
        write("bb.store", "of no living segment");
        assert!(is_whole(dir, &segments));

        write("aa.store", "two");
        assert!(!is_whole(dir, &segments), "written in place, with the same size");
        set(dir, &segments).unwrap();
        fs::remove_file(dir.join("aa.7.del")).unwrap();
        assert!(!is_whole(dir, &segments), "deleted");
        set(dir, &segments).unwrap();
        fs::copy(dir.join("aa.store"), dir.join("aa.fresh")).unwrap();
        fs::rename(dir.join("aa.fresh"), dir.join("aa.store")).unwrap();
        assert!(!is_whole(dir, &segments), "replaced by a copy");
        set(dir, &segments).unwrap();
        remove(dir).unwrap();
        remove(dir).unwrap();
        assert!(!is_whole(dir, &segments));
    }
}
