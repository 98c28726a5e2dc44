//! What the program writes down of its own doings, for whoever looks for a fault: nothing, unless it is asked for.
//!
//! What everybody should know is an answer or a report, and is printed without it.

use std::ffi::OsStr;
use std::io;

use tracing_subscriber::filter::LevelFilter;

use crate::failure::Failure;

/// The variable that asks for it.
pub(crate) const VARIABLE: &str = "TAPERBOOK_LOG";

/// Each level writes what those before it do, too.
const LEVELS: [(&str, LevelFilter); 5] = [
    ("error", LevelFilter::ERROR),
    ("warn", LevelFilter::WARN),
    ("info", LevelFilter::INFO),
    ("debug", LevelFilter::DEBUG),
    ("trace", LevelFilter::TRACE),
];

/// Writes to standard error from now on what the variable asks for.
pub(crate) fn begin(wish: Option<&OsStr>) -> Result<(), Failure> {
    let level = level(wish)?;
    if level != LevelFilter::OFF {
        let lines = tracing_subscriber::fmt().with_max_level(level).with_writer(io::stderr);
        // Whoever calls this crate may have begun one of their own.
        let _ = lines.try_init();
    }
    Ok(())
}

fn level(wish: Option<&OsStr>) -> Result<LevelFilter, Failure> {
    let Some(wish) = wish.filter(|wish| !wish.is_empty()) else { return Ok(LevelFilter::OFF) };
    let known = LEVELS.iter().find(|(word, _)| wish == OsStr::new(word));
    known.map(|(_, level)| *level).ok_or_else(|| {
        let words = LEVELS.map(|(word, _)| word).join(", ");
        let message = format!("{VARIABLE} is `{}`", wish.display());
        Failure::new(message).hint(format!("write one of {words}, or leave it out"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_written_unless_it_is_asked_for() {
        for (wish, expected) in [
            (None, LevelFilter::OFF),
            (Some(""), LevelFilter::OFF),
            (Some("debug"), LevelFilter::DEBUG),
        ] {
            assert_eq!(level(wish.map(OsStr::new)).ok(), Some(expected), "{wish:?}");
        }
        let words = "write one of error, warn, info, debug, trace, or leave it out";
        let failure = Failure::new("TAPERBOOK_LOG is `loud`").hint(words);
        assert_eq!(level(Some(OsStr::new("loud"))), Err(failure));
    }
}
