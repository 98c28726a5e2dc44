//! Reads one file: whole, bounded in size, and with a look before and after.

use std::fs::File;
use std::io::{self, Read as _};
use std::path::Path;
use std::time::SystemTime;

use rustix::fs::{Mode, OFlags};
use rustix::io::Errno;

use crate::manifest::Stat;

/// The size in bytes above which a record is not read: 8 MiB.
///
/// A year of notes is well below it, and a file that someone copied into the folder by mistake
/// can't take the memory of the machine.
pub const LARGEST_RECORD: u64 = 8 * 1024 * 1024;

/// How often a file that changes while it is read is read again.
const TRIES: usize = 3;

pub(crate) const LINK: &str =
    "it is a symbolic link, and links are not followed; put the file or the folder itself here";

pub(crate) const NOT_A_FILE: &str = "it is neither a file nor a folder; give it another name";

pub(crate) const TWO_ENDINGS: &str =
    "its name has two endings; rename it so that one `.md` is left";

pub(crate) const NESTED: &str = "it is a shop folder of its own, because a `shop.yaml` is in it; name it with \
                                 `--folder` to ask about it, or take that file away";

pub(crate) const NOT_UTF8: &str = "its name is not UTF-8; rename it";

/// What came of reading a file.
pub(crate) enum Reading {
    Read {
        stat: Stat,
        /// See [`State::Read`](crate::manifest::State::Read).
        fresh: bool,
        bytes: Vec<u8>,
    },
    /// It went away.
    Gone,
    Unreadable(String),
}

/// Reads a file, never through a link in its last part.
///
/// When it changes while being read it is read again, up to three times.
/// After that the last reading counts, under the stat from before it: the next look finds
/// another stat and reads again. So a file that never rests costs bounded time.
pub(crate) fn read(path: &Path) -> Reading {
    attempts(path).unwrap_or_else(|error| match why_unreadable(&error) {
        Some(why) => Reading::Unreadable(why),
        None => Reading::Gone,
    })
}

/// What an error means to the builder, or `None` when it says that nothing is there.
pub(crate) fn why_unreadable(error: &io::Error) -> Option<String> {
    match error.raw_os_error().map(Errno::from_raw_os_error) {
        Some(Errno::NOENT | Errno::NOTDIR) => None,
        Some(Errno::LOOP) => Some(LINK.to_owned()),
        Some(Errno::NXIO) => Some(NOT_A_FILE.to_owned()),
        Some(Errno::ACCESS | Errno::PERM) => {
            Some(format!("it may not be read: {error}; check its permissions"))
        }
        _ => Some(format!("it can't be read: {error}")),
    }
}

pub(crate) fn too_large(size: u64) -> String {
    format!(
        "it is too large, {size} bytes; a record has {LARGEST_RECORD} bytes (8 MiB) at most, so \
         split it or give it another ending than `.md`"
    )
}

fn attempts(path: &Path) -> io::Result<Reading> {
    let mut tries_left = TRIES;
    loop {
        // Not blocking, because a pipe may have been put where the file was.
        let flags = OFlags::RDONLY | OFlags::NOFOLLOW | OFlags::NONBLOCK | OFlags::CLOEXEC;
        let file = File::from(rustix::fs::open(path, flags, Mode::empty())?);
        let now = SystemTime::now();
        let before = file.metadata()?;
        if !before.is_file() {
            return Ok(Reading::Unreadable(NOT_A_FILE.to_owned()));
        }
        let before = Stat::new(&before);
        if LARGEST_RECORD < before.size {
            return Ok(Reading::Unreadable(too_large(before.size)));
        }
        // Room for one byte more, so that the end is found without another buffer.
        let mut bytes = Vec::with_capacity(usize::try_from(before.size).unwrap_or(0) + 1);
        // One byte over the limit tells a file that has grown meanwhile.
        (&file).take(LARGEST_RECORD + 1).read_to_end(&mut bytes)?;
        if LARGEST_RECORD < bytes.len() as u64 {
            return Ok(Reading::Unreadable(too_large(file.metadata()?.len())));
        }
        let is_quiet = Stat::new(&file.metadata()?) == before;
        tries_left -= 1;
        if is_quiet || tries_left == 0 {
            let fresh = !is_quiet || before.is_fresh(now);
            return Ok(Reading::Read { stat: before, fresh, bytes });
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;
    use std::time::Duration;

    use super::*;

    /// Reads on a thread of its own, so that a reading that blocks fails the test.
    #[track_caller]
    fn check(path: &Path, expected: &str) {
        let (sender, receiver) = channel();
        let owned = path.to_path_buf();
        std::thread::spawn(move || sender.send(read(&owned)));
        let shown = match receiver.recv_timeout(Duration::from_secs(60)).unwrap() {
            Reading::Read { bytes, .. } => String::from_utf8(bytes).unwrap(),
            Reading::Gone => "gone".to_owned(),
            Reading::Unreadable(why) => why,
        };
        assert_eq!(shown, expected);
    }

    #[test]
    fn what_took_the_place_of_a_file_is_told_and_does_not_block() {
        let home = tempfile::tempdir().unwrap();
        let path = |name: &str| home.path().join(name);
        std::fs::write(path("a"), "one").unwrap();
        std::os::unix::fs::symlink("a", path("link")).unwrap();
        let (kind, mode) = (rustix::fs::FileType::Fifo, Mode::from_raw_mode(0o600));
        rustix::fs::mknodat(rustix::fs::CWD, path("pipe"), kind, mode, 0).unwrap();
        let _listener = std::os::unix::net::UnixListener::bind(path("socket")).unwrap();
        check(&path("a"), "one");
        check(&path("link"), LINK);
        check(&path("pipe"), NOT_A_FILE);
        check(&path("socket"), NOT_A_FILE);
        check(home.path(), NOT_A_FILE);
        check(&path("missing"), "gone");
        check(&path("a/below"), "gone");
    }
}
