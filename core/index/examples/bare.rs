//! Puts the text of every `.md` file of a folder into a bare tantivy index: what a full-text index alone costs.
//!
//! `cargo run --release -p taperbook-index --example bare -- FOLDER INDEX [words]`
//!
//! Each file is a path and a text with its positions; the text is stored too, since a hit shows a piece of it, unless
//! `words` is said. Front matter is not read and no number can be asked for. Threads, memory and the directory without
//! fsync are those of the project's own index, so that only the work differs. `tests/beside_others.py` runs it.
#![expect(clippy::print_stdout, reason = "printing is all that this example does")]

#[path = "../src/directory.rs"]
#[expect(dead_code, reason = "the index uses more of it")]
mod directory;
#[path = "../src/seal.rs"]
#[expect(dead_code, reason = "the index uses more of it")]
mod seal;

use std::error::Error;
use std::path::{Path, PathBuf};
use std::time::Instant;

use tantivy::indexer::IndexWriterOptions;
use tantivy::schema::{STORED, STRING, Schema, TEXT};
use tantivy::{IndexSettings, TantivyDocument};

use crate::directory::PlainDirectory;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (folder, place, is_stored) = match arguments.as_slice() {
        [folder, place] => (folder, place, true),
        [folder, place, words] if words == "words" => (folder, place, false),
        _ => return Err("write: bare FOLDER INDEX [words]".into()),
    };
    let begun = Instant::now();
    std::fs::create_dir_all(place)?;
    let mut schema = Schema::builder();
    let path = schema.add_text_field("path", STRING | STORED);
    let text = schema.add_text_field("text", if is_stored { TEXT | STORED } else { TEXT });
    let settings =
        IndexSettings { docstore_compress_dedicated_thread: false, ..Default::default() };
    let index = tantivy::Index::builder()
        .schema(schema.build())
        .settings(settings)
        .open_or_create(PlainDirectory::at(Path::new(place)))?;
    let options = IndexWriterOptions::builder()
        .num_worker_threads(2)
        .memory_budget_per_thread(20_000_000)
        .num_merge_threads(1)
        .build();
    let mut writer = index.writer_with_options(options)?;
    let mut n_files = 0;
    let mut folders = vec![PathBuf::from(folder)];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder)? {
            let entry = entry?;
            let at = entry.path();
            if entry.file_type()?.is_dir() {
                folders.push(at);
            } else if at.extension().is_some_and(|extension| extension == "md") {
                let bytes = std::fs::read(&at)?;
                let mut document = TantivyDocument::default();
                document.add_text(path, at.to_string_lossy());
                document.add_text(text, String::from_utf8_lossy(&bytes));
                writer.add_document(document)?;
                n_files += 1;
            }
        }
    }
    writer.commit()?;
    let committed = begun.elapsed().as_secs_f64();
    writer.wait_merging_threads()?;
    let merged = begun.elapsed().as_secs_f64();
    println!("{n_files} files, committed after {committed:.3} s, merged after {merged:.3} s");
    Ok(())
}
