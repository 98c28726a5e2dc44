//! Prints what one file gives: `cargo run -p taperbook-record --example show -- builds/ilse.md`.
//!
//! A help for whoever works on the reader, not a command for builders.

#![expect(clippy::print_stdout, reason = "an example prints")]

use std::path::PathBuf;

fn main() -> std::io::Result<()> {
    for path in std::env::args_os().skip(1).map(PathBuf::from) {
        let parsed = taperbook_record::read(&path.to_string_lossy(), &std::fs::read(&path)?);
        println!("{:#?}\n{:#?}\n{}", parsed.record, parsed.fields, parsed.body);
        for problem in parsed.problems {
            println!(
                "{}:{}:{}: {}",
                path.display(),
                problem.start.line,
                problem.start.column,
                problem.message
            );
        }
    }
    Ok(())
}
