//! Makes a shop folder of many records: `cargo run -p taperbook-testkit --release --example generate -- DIR COUNT [SEED]`.

use std::error::Error;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (folder, count, seed) = match arguments.as_slice() {
        [folder, count] => (folder, count, "1"),
        [folder, count, seed] => (folder, count, seed.as_str()),
        _ => return Err("write: generate DIR COUNT [SEED]".into()),
    };
    let count =
        count.parse().map_err(|_| format!("`{count}` is not a count: write one such as 20000"))?;
    let seed = seed.parse().map_err(|_| format!("`{seed}` is not a seed: write a whole number"))?;
    taperbook_testkit::folder::write(Path::new(folder), count, seed)?;
    Ok(())
}
