//! Walks a folder and asks for the size and times of every file: the least that finding out what changed can cost.
//!
//! `cargo run --release -p taperbook-folder --example floor -- FOLDER`
//!
//! `tests/beside_others.py` times it as a whole process, beside a restart and beside a question without a daemon. It
//! knows no records, compares nothing and holds nothing.
#![expect(clippy::print_stdout, reason = "printing is all that this example does")]

use std::error::Error;
use std::os::unix::fs::MetadataExt as _;
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn Error>> {
    let top = std::env::args_os().nth(1).ok_or("write: floor FOLDER")?;
    let mut folders = vec![PathBuf::from(top)];
    let (mut n_files, mut bytes) = (0_u64, 0_u64);
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder)? {
            let entry = entry?;
            if entry.file_type()?.is_dir() {
                folders.push(entry.path());
            } else {
                let metadata = entry.metadata()?;
                n_files += 1;
                // What tells a change must be looked at, or the compiler might not ask for it.
                bytes += metadata.size();
                std::hint::black_box((
                    metadata.ino(),
                    metadata.mtime_nsec(),
                    metadata.ctime_nsec(),
                ));
            }
        }
    }
    println!("{n_files} files, {bytes} bytes");
    Ok(())
}
