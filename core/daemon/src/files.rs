//! Reads a record's text again when the engine wants it; which files are records is not decided here.

use std::fs::File;
use std::io::{self, Read as _};
use std::path::{Path, PathBuf};

use rustix::fs::{Mode, OFlags};
use taperbook_engine::Files;
use taperbook_folder::{LARGEST_RECORD, RecordPath};

/// The files of a shop folder.
pub(crate) struct FolderFiles {
    pub(crate) root: PathBuf,
}

impl Files for FolderFiles {
    fn read(&self, path: &str) -> io::Result<Vec<u8>> {
        let inside = RecordPath::new(Path::new(path)).ok_or_else(|| {
            io::Error::new(io::ErrorKind::InvalidInput, "the path leaves the shop folder")
        })?;
        // A pipe or a link may have been put where the record was; neither is waited for or followed.
        let flags = OFlags::RDONLY | OFlags::NOFOLLOW | OFlags::NONBLOCK | OFlags::CLOEXEC;
        let file =
            File::from(rustix::fs::open(self.root.join(inside.as_path()), flags, Mode::empty())?);
        if !file.metadata()?.is_file() {
            return Err(io::Error::new(io::ErrorKind::InvalidInput, "it is not a file any more"));
        }
        let mut bytes = Vec::new();
        file.take(LARGEST_RECORD + 1).read_to_end(&mut bytes)?;
        if LARGEST_RECORD < bytes.len() as u64 {
            return Err(io::Error::new(io::ErrorKind::FileTooLarge, "it has grown too large"));
        }
        Ok(bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_files_inside_are_read() {
        let home = tempfile::tempdir().unwrap();
        let root = home.path().join("shop");
        std::fs::create_dir_all(root.join("folder.md")).unwrap();
        std::fs::write(root.join("a.md"), "text").unwrap();
        std::fs::write(home.path().join("outside.md"), "secret").unwrap();
        std::os::unix::fs::symlink("../outside.md", root.join("link.md")).unwrap();
        let files = FolderFiles { root };
        assert_eq!(files.read("a.md").unwrap(), b"text");
        for path in ["../outside.md", "/etc/passwd", "link.md", "folder.md", "none.md"] {
            assert!(files.read(path).is_err(), "{path}");
        }
    }
}
