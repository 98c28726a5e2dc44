//! What a record of a first look costs the engine: reads the markdown files of a folder, takes them in and commits.
//!
//! `cargo run --release -p taperbook-engine --example taking_in -- FOLDER STATE`
//!
//! `STATE` must not be there yet. No plugin runs and nobody watches; the files are read beforehand, and taken in by as
//! many at a time as a daemon hands over. Processor time is of all threads, and is what to compare on a busy machine.
//! It measures and judges nothing.
#![expect(clippy::print_stdout, reason = "printing is all that this example does")]

use std::error::Error;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use taperbook_engine::{Change, Engine, Files, Setup};

/// As many as the daemon's keeper hands over at once.
const CHUNK: usize = 256;
/// About as many chunks as a daemon takes in between two commits of a first look while nobody asks; it goes by the
/// clock, which would make the work here hang on what else the machine does.
const CHUNKS_OF_A_COMMIT: usize = 80;

/// The folder; nothing is read from it again.
struct Nothing;

impl Files for Nothing {
    fn read(&self, path: &str) -> io::Result<Vec<u8>> {
        Err(io::Error::new(io::ErrorKind::NotFound, path.to_owned()))
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [folder, state] = arguments.as_slice() else {
        return Err("write: taking_in FOLDER STATE".into());
    };
    std::fs::create_dir(state)?;
    let changes = read(Path::new(folder))?;
    let n_records = changes.len();
    let setup =
        Setup { state_dir: Some(state.into()), plugins: Vec::new(), files: Arc::new(Nothing) };
    let mut engine = Engine::open(setup)?;
    let (begun, used) = (Instant::now(), processor_time()?);
    let mut changes = changes.into_iter().peekable();
    for n_chunks in 1.. {
        engine.apply(changes.by_ref().take(CHUNK).collect());
        if changes.peek().is_none() {
            break;
        }
        if n_chunks % CHUNKS_OF_A_COMMIT == 0 {
            engine.commit(engine.generation() + 1)?;
        }
    }
    engine.commit(engine.generation() + 1)?;
    let (took, used) = (begun.elapsed(), processor_time()?.saturating_sub(used));
    println!(
        "{n_records} records searchable after {:.2} s, {:.0} µs of processor time each",
        took.as_secs_f64(),
        used.as_secs_f64() * 1e6 / n_records.max(1) as f64
    );
    Ok(())
}

/// The time that all threads have had, from Linux's `/proc`, in hundredths of a second as all Linux has it.
fn processor_time() -> Result<Duration, Box<dyn Error>> {
    let stat = std::fs::read_to_string("/proc/self/stat")?;
    // What stands after the name, which may hold spaces: the third field and on, of which 14 and 15 are wanted.
    let (_, after) = stat.rsplit_once(')').ok_or("no name in /proc/self/stat")?;
    let ticks: Vec<u64> =
        after.split_whitespace().skip(11).take(2).map(str::parse).collect::<Result<_, _>>()?;
    Ok(Duration::from_millis(10 * ticks.iter().sum::<u64>()))
}

fn read(folder: &Path) -> io::Result<Vec<Change>> {
    let mut changes = Vec::new();
    let mut folders = vec![PathBuf::from(folder)];
    while let Some(within) = folders.pop() {
        for entry in std::fs::read_dir(within)? {
            let (entry, at) = entry.map(|entry| (entry.file_type(), entry.path()))?;
            if entry?.is_dir() {
                folders.push(at);
            } else if at.extension().is_some_and(|extension| extension == "md") {
                let path = at.strip_prefix(folder).unwrap_or(&at).to_string_lossy().into_owned();
                changes.push(Change::Written { path, bytes: std::fs::read(&at)? });
            }
        }
    }
    Ok(changes)
}
