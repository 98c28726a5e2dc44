//! What is to be known of a kind of file system: which give no events for changes made elsewhere, and which count the
//! folders of a folder.
//!
//! A watch can be set on the former without an error, and then stays silent when another machine, or
//! the program behind the mount, changes a file. So they are known by their kind.

use std::path::Path;

/// Names the kind of file system a path is on, if it is one without events for all changes.
#[cfg(target_os = "linux")]
pub(crate) fn without_events(path: &Path) -> Option<&'static str> {
    kind_without_events(magic_of(path)?)
}

/// Whether the file system that a path is on counts the folders of each folder as names of it.
///
/// Those that don't, such as btrfs, give 1 for all; some that are told by another machine give 2 for want of a number.
#[cfg(target_os = "linux")]
pub(crate) fn counts_folders(path: &Path) -> bool {
    magic_of(path).is_some_and(|magic| COUNTING.contains(&magic))
}

/// Elsewhere nothing is known of that.
#[cfg(not(target_os = "linux"))]
pub(crate) fn counts_folders(_path: &Path) -> bool {
    false
}

/// ext2 to ext4, xfs and tmpfs; the numbers are from statfs(2), and that they count was tried for ext4 and tmpfs,
/// and is from memory for xfs.
#[cfg(target_os = "linux")]
const COUNTING: [u32; 3] = [0xef53, 0x5846_5342, 0x0102_1994];

#[cfg(target_os = "linux")]
fn magic_of(path: &Path) -> Option<u32> {
    // Asking fails only where listing fails as well, which is reported in its own place.
    let magic = rustix::fs::statfs(path).ok()?.f_type;
    // The C type of the field differs between machines; only the low 32 bits are used.
    #[expect(clippy::cast_possible_truncation, reason = "magic numbers have 32 bits")]
    #[expect(clippy::cast_sign_loss, reason = "some C libraries declare the field signed")]
    Some(magic as u32)
}

/// Elsewhere the system's own events are trusted.
#[cfg(not(target_os = "linux"))]
pub(crate) fn without_events(_path: &Path) -> Option<&'static str> {
    None
}

/// Names a kind of file system by its magic number.
///
/// Source of the numbers: the manual page statfs(2) of the Linux man-pages project and
/// `linux/magic.h` of the Linux kernel.
#[cfg(target_os = "linux")]
fn kind_without_events(magic: u32) -> Option<&'static str> {
    Some(match magic {
        0x6969 => "nfs",
        0x517b => "smb",
        0xff53_4d42 => "cifs",
        0xfe53_4d42 => "smb2",
        0x6573_5546 => "fuse",
        0x0102_1997 => "9p",
        0x00c3_6400 => "ceph",
        0x5346_414f => "afs",
        0x6b41_4653 => "kafs",
        0x7375_7245 => "coda",
        0x786f_4256 => "vboxsf",
        _ => return None,
    })
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::*;

    #[test]
    fn network_and_fuse_mounts_are_known_and_local_ones_are_trusted() {
        // Values from statfs(2), Linux man-pages.
        assert_eq!(kind_without_events(0x6969), Some("nfs"));
        assert_eq!(kind_without_events(0x6573_5546), Some("fuse"));
        for (name, magic) in
            [("ext4", 0xef53), ("btrfs", 0x9123_683e), ("xfs", 0x5846_5342), ("tmpfs", 0x0102_1994)]
        {
            assert_eq!(kind_without_events(magic), None, "{name}");
        }
    }

    #[test]
    fn a_file_system_that_is_said_to_count_folders_does() {
        use std::os::unix::fs::MetadataExt as _;
        for place in [std::env::temp_dir(), "/dev/shm".into()] {
            let Ok(home) = tempfile::tempdir_in(&place) else { continue };
            if counts_folders(home.path()) {
                for n in 2..6 {
                    assert_eq!(home.path().metadata().unwrap().nlink(), n, "{}", place.display());
                    std::fs::create_dir(home.path().join(n.to_string())).unwrap();
                    std::fs::write(home.path().join(format!("{n}.md")), "a file").unwrap();
                }
            }
        }
    }
}
