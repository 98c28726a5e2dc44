//! The bench item that `log` writes.
//!
//! It makes the text of one item; where it goes and whether it reads back is not decided here.

use jiff::civil::Date;
use taperbook_record::{ItemText, ScalarPlace, Written, scalar};

use crate::failure::Failure;
use crate::log_args::{Beside, CutEnds, LogAction};

/// Makes the bench item of an action, without its `- `.
///
/// # Errors
/// When both ends of a cut are nothing.
pub(crate) fn item(action: &LogAction, today: Date) -> Result<String, Failure> {
    let mut map = ItemText::default();
    let (key, beside) = match action {
        LogAction::Cut { ends, with, keep, beside } => {
            add_ends(&mut map, ends)?;
            map.text("with", with.as_deref());
            map.plain("keep", keep.then_some("true"));
            ("cut", beside)
        }
        LogAction::Plan { ends, beside } => {
            add_ends(&mut map, ends)?;
            ("plan", beside)
        }
        LogAction::Read { reading, held_at, board, spine, dressed, beside } => {
            map.quantity("length", reading.length.as_ref());
            map.quantity("tip_od", reading.tip_od.as_ref());
            map.quantity("tip_od_across", reading.tip_od_across.as_ref());
            map.quantity("butt_od", reading.butt_od.as_ref());
            map.quantity("butt_od_across", reading.butt_od_across.as_ref());
            map.quantity("weight", reading.weight.as_ref());
            map.quantity("balance", reading.balance.as_ref());
            map.quantity("power", reading.power.as_ref());
            map.quantity("tip_angle", reading.tip_angle.as_ref());
            map.quantity("frequency", reading.frequency.as_ref());
            map.quantity("held_at", held_at.as_ref());
            map.text("board", board.as_deref());
            map.text("spine", spine.as_deref());
            map.plain("dressed", dressed.then_some("true"));
            ("read", beside)
        }
        LogAction::Pull { tip_angle, load, held_at, board, beside } => {
            map.quantity("tip_angle", Some(tip_angle));
            map.quantity("load", Some(load));
            map.quantity("held_at", held_at.as_ref());
            map.text("board", board.as_deref());
            ("pull", beside)
        }
        LogAction::Settled { reasons, beside } => {
            map.text("tip", reasons.tip.as_deref());
            map.text("butt", reasons.butt.as_deref());
            ("settled", beside)
        }
        LogAction::Undo => return Err(Failure::new("nothing is written to take something back")),
        LogAction::Feel { words, beside } => {
            // Words stand on a line of their own, where a comma needs no quotes.
            map.plain("feel", Some(&scalar(words, ScalarPlace::Line)));
            map.plain("date", Some(&beside.date.unwrap_or(today).to_string()));
            map.plain(
                "note",
                beside.note.as_deref().map(|note| scalar(note, ScalarPlace::Line)).as_deref(),
            );
            return Ok(map.lines());
        }
    };
    add_beside(&mut map, beside, today);
    Ok(map.of(key))
}

/// Adds the ends of a cut; an end that loses nothing is left out.
fn add_ends(item: &mut ItemText, ends: &CutEnds) -> Result<(), Failure> {
    let lost = |end: &Option<Written>| end.clone().filter(|written| written.quantity.si != 0.0);
    let (tip, butt) = (lost(&ends.tip), lost(&ends.butt));
    if tip.is_none() && butt.is_none() {
        return Err(Failure::new(
            "nothing comes off either end: give `--tip` or `--butt` a length above zero",
        ));
    }
    item.quantity("tip", tip.as_ref());
    item.quantity("butt", butt.as_ref());
    Ok(())
}

fn add_beside(item: &mut ItemText, beside: &Beside, today: Date) {
    item.plain("date", Some(&beside.date.unwrap_or(today).to_string()));
    item.text("note", beside.note.as_deref());
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::*;
    use crate::log_args::LogArgs;

    #[derive(Debug, Parser)]
    struct Log {
        #[command(flatten)]
        log: LogArgs,
    }

    #[track_caller]
    fn logged(arguments: &[&str]) -> String {
        let parsed = Log::try_parse_from(["log", "ilse-heron"].iter().chain(arguments));
        let log = parsed.unwrap_or_else(|error| panic!("{error}"));
        match item(&log.log.action, jiff::civil::date(2026, 3, 15)) {
            Ok(item) => item,
            Err(failure) => failure.print(),
        }
    }

    #[track_caller]
    fn refused(arguments: &[&str], part: &str) {
        let message = Log::try_parse_from(["log", "ilse-heron"].iter().chain(arguments))
            .unwrap_err()
            .to_string();
        assert!(message.contains(part), "{message}");
    }

    #[test]
    fn each_action_makes_one_item() {
        assert_eq!(
            logged(&["cut", "--tip", "1in", "--butt", "0in", "--with", "rotary disc"]),
            "cut: { tip: 1 in, with: rotary disc, date: 2026-03-15 }"
        );
        assert_eq!(
            logged(&[
                "cut",
                "--tip",
                "1 1/2 in",
                "--butt",
                "63.5mm",
                "--keep",
                "--date",
                "2026-01-02"
            ]),
            "cut: { tip: 1 1/2 in, butt: 63.5 mm, keep: true, date: 2026-01-02 }"
        );
        assert_eq!(
            logged(&[
                "read",
                "--power",
                "224g",
                "--length",
                "6'10\"",
                "--tip-angle",
                "66deg",
                "--held-at",
                "9 in"
            ]),
            "read: { length: 6'10\", power: 224 g, tip_angle: 66 deg, held_at: 9 in, date: 2026-03-15 }"
        );
        assert_eq!(
            logged(&[
                "read",
                "--length",
                "6ft10in",
                "--dressed",
                "--board",
                "long board",
                "--note",
                "warm, 24 degrees"
            ]),
            "read: { length: 6 ft 10 in, board: long board, dressed: true, date: 2026-03-15, note: \"warm, 24 degrees\" }"
        );
        assert_eq!(
            logged(&["plan", "--tip", "2in", "--butt", "3in"]),
            "plan: { tip: 2 in, butt: 3 in, date: 2026-03-15 }"
        );
        assert_eq!(
            logged(&["pull", "--tip-angle", "90°", "--load", "410g"]),
            "pull: { tip_angle: 90°, load: 410 g, date: 2026-03-15 }"
        );
        assert_eq!(
            logged(&["feel", "loads early, still throws straight"]),
            "feel: loads early, still throws straight\ndate: 2026-03-15"
        );
        assert_eq!(
            logged(&["settled", "--tip", "any stiffer and it won't throw"]),
            "settled: { tip: any stiffer and it won't throw, date: 2026-03-15 }"
        );
    }

    #[test]
    fn what_is_typed_keeps_its_precision() {
        assert_eq!(
            logged(&["read", "--tip-od", "2.10mm"]),
            "read: { tip_od: 2.10 mm, date: 2026-03-15 }"
        );
        assert_eq!(
            logged(&["read", "--tip-od", "5.5/64in"]),
            "read: { tip_od: 5.5/64 in, date: 2026-03-15 }"
        );
    }

    #[test]
    fn an_action_without_anything_in_it_is_refused() {
        refused(&["cut"], "--tip");
        refused(&["read", "--held-at", "9in"], "--power");
        refused(&["settled"], "--tip");
        refused(&["read", "--power", "224"], "`224` has no unit");
        assert!(logged(&["cut", "--tip", "0in"]).contains("nothing comes off either end"));
    }
}
