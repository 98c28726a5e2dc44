//! Holds the demo to what it promises: files as committed, limits met with room to spare, and nothing more wrong than what is meant to be.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::LazyLock;

use taperbook_units::Length;

use super::job::{Job, Limit, Limited};
use super::{ARRIVED, FLAGGED, MISTYPED, UNCUT};
use crate::piece::Piece;

/// Made once for all tests: bending every blank of the shop takes a moment.
static JOBS: LazyLock<Vec<Job>> = LazyLock::new(super::jobs);
static FILES: LazyLock<Vec<(String, String)>> = LazyLock::new(|| super::files_of(&JOBS));

fn named(path: &str) -> &'static Job {
    let found = JOBS.iter().find(|job| format!("builds/{}.md", job.name) == path);
    found.unwrap_or_else(|| panic!("{path} is one of the builds"))
}

/// What counts as clearly inside or outside: more than what readings scatter by.
const LENGTH_MARGIN_MM: f64 = 12.0;
const DIAMETER_MARGIN_MM: f64 = 0.1;
const POWER_MARGIN: f64 = 0.06;
/// A power that was read already carries its own scatter of up to 4 %.
const READ_POWER_MARGIN: f64 = 0.035;

fn is_flagged(job: &Job) -> bool {
    FLAGGED.iter().any(|path| std::ptr::eq(named(path), job))
}

/// How far inside a limit a value lies, as a multiple of the margin; the near side is left out for work that goes on.
fn room(limit: &Limit, value: f64, margin: f64, unfinished: bool) -> f64 {
    // Cutting shortens, thickens the tip, thins the butt, and at the tip raises power for good.
    let nears_low = matches!(limit.of, Limited::Length | Limited::ButtOd);
    let low = limit.low.filter(|_| !unfinished || nears_low);
    let high = limit.high.filter(|_| !unfinished || !nears_low);
    let above = low.map_or(f64::INFINITY, |low| (value - low) / margin);
    let below = high.map_or(f64::INFINITY, |high| (high - value) / margin);
    above.min(below)
}

/// The least room over all limits by what is true of a piece.
fn true_room(job: &Job, piece: &Piece, unfinished: bool) -> (f64, String) {
    let numbers = piece.true_numbers(job.held_at).expect("a demo blank can be read");
    let mut least = (f64::INFINITY, String::new());
    for limit in &job.limits {
        let (value, margin) = match limit.of {
            Limited::Length => (numbers.length.inches(), LENGTH_MARGIN_MM / 25.4),
            Limited::TipOd => (numbers.tip_od.mm(), DIAMETER_MARGIN_MM),
            Limited::ButtOd => (numbers.butt_od.mm(), DIAMETER_MARGIN_MM),
            Limited::Power => (numbers.power.g(), POWER_MARGIN * numbers.power.g()),
        };
        let room = room(limit, value, margin, unfinished);
        if room < least.0 {
            least = (room, format!("{}: {limit:?} and {value}", job.name));
        }
    }
    least
}

/// The least room over all limits by what was last read.
fn read_room(job: &Job, unfinished: bool) -> (f64, String) {
    let mut least = (f64::INFINITY, String::new());
    for limit in &job.limits {
        let (value, margin) = match limit.of {
            Limited::Length => (job.last[0].map(|m| m / 0.0254), LENGTH_MARGIN_MM / 25.4 - 0.1),
            Limited::TipOd => (job.last[1].map(|m| 1e3 * m), DIAMETER_MARGIN_MM - 0.06),
            Limited::ButtOd => (None, 1.0),
            Limited::Power => {
                let grams = job.last[2].map(|kg| 1e3 * kg);
                (grams, READ_POWER_MARGIN * grams.unwrap_or(1.0))
            }
        };
        let Some(value) = value else { continue };
        let room = room(limit, value, margin, unfinished);
        if room < least.0 {
            least = (room, format!("{}: {limit:?} and read {value}", job.name));
        }
    }
    least
}

#[test]
fn finished_builds_are_inside_their_limits() {
    for job in JOBS.iter().filter(|job| !is_flagged(job)) {
        let finished = job.verdict.is_some() || ARRIVED.contains(job.name);
        if !finished {
            continue;
        }
        for (room, what) in [true_room(job, &job.piece, false), read_room(job, false)] {
            assert!(1.0 <= room, "{room:.2} margins of room: {what}");
        }
    }
}

#[test]
fn unfinished_builds_have_not_gone_too_far_and_can_still_arrive() {
    let unfinished: Vec<&Job> =
        JOBS.iter().filter(|job| job.verdict.is_none() && !ARRIVED.contains(job.name)).collect();
    assert!(8 <= unfinished.len());
    for job in unfinished {
        for (room, what) in [true_room(job, &job.piece, true), read_room(job, true)] {
            assert!(1.0 <= room, "{room:.2} margins of room: {what}");
        }
        assert_ne!(job.still, (0.0, 0.0), "{} has something left to cut", job.name);
        let (room, what) = true_room(job, &job.outcome(), false);
        assert!(1.0 <= room, "{room:.2} margins of room at the end: {what}");
        // Even if all of the plan were still to come, it would cross nothing.
        let (tip, butt) = job.planned;
        let planned = job.piece.after(Length::from_inches(tip), Length::from_inches(butt));
        let (room, what) = true_room(job, &planned, true);
        assert!(1.0 <= room, "{room:.2} margins of room after the plan: {what}");
    }
}

#[test]
fn the_flagged_builds_break_one_limit_each_and_no_other() {
    let flagged = |k: usize| named(FLAGGED[k]);
    let broken = |job: &Job| -> Vec<Limited> {
        let mut broken = Vec::new();
        for &limit in &job.limits {
            let numbers = job.piece.true_numbers(job.held_at).expect("it can be read");
            let (value, margin) = match limit.of {
                Limited::Length => (numbers.length.inches(), LENGTH_MARGIN_MM / 25.4),
                Limited::TipOd => (numbers.tip_od.mm(), DIAMETER_MARGIN_MM),
                Limited::ButtOd => (numbers.butt_od.mm(), DIAMETER_MARGIN_MM),
                Limited::Power => (numbers.power.g(), POWER_MARGIN * numbers.power.g()),
            };
            let room = room(&limit, value, margin, false);
            assert!(1.0 <= room.abs(), "{} is not clearly in or out: {limit:?} {value}", job.name);
            if room < 0.0 {
                broken.push(limit.of);
            }
        }
        broken
    };
    assert_eq!(broken(flagged(0)), [Limited::Length]);
    assert_eq!(broken(flagged(1)), [Limited::Power]);
    assert_eq!(broken(flagged(2)), []);
    let read = flagged(1).last[2].expect("its power was read") * 1e3;
    let most = flagged(1).limits.iter().find(|limit| limit.of == Limited::Power);
    let most = most.and_then(|limit| limit.high).expect("its power is limited");
    assert!(most * 1.05 < read, "{read} reads clearly above {most}");

    // The cut that is written twice is the only such pair in the demo.
    let twice = flagged(2).record();
    let lines: Vec<&str> = twice.lines().filter(|line| line.contains("- cut:")).collect();
    assert!(lines.windows(2).any(|pair| pair[0] == pair[1]), "{twice}");
}

/// The tour asks for a cut on this build; there must be one that meets the limits, by what is true.
#[test]
fn the_uncut_build_can_become_what_its_customer_wants() {
    let job = named(UNCUT);
    let mut nearest = (f64::INFINITY, 0.0, 0.0);
    for tip in 0..=12_u8 {
        for butt in 0..=16_u8 {
            let (tip, butt) = (0.25 * f64::from(tip), 0.25 * f64::from(butt));
            let piece = job.piece.after(Length::from_inches(tip), Length::from_inches(butt));
            if true_room(job, &piece, false).0 < 1.0 {
                continue;
            }
            let power = piece.true_numbers(job.held_at).expect("it can be read").power.g();
            let miss = (power - 235.0).abs() / 2.0 + (piece.length().inches() - 82.0).abs();
            if miss < nearest.0 {
                nearest = (miss, tip, butt);
            }
        }
    }
    let (miss, tip, butt) = nearest;
    assert!(miss < 1.0, "nearest {miss} at tip {tip} in and butt {butt} in");
    assert!((0.5..=2.5).contains(&tip), "a plausible tip cut, not {tip} in");
}

#[test]
fn the_shop_is_large_enough_and_its_models_deep_enough() {
    let files = &*FILES;
    let count = |folder: &str| files.iter().filter(|(path, _)| path.starts_with(folder)).count();
    assert!(9 <= count("blanks/"));
    assert!(40 <= count("builds/"));
    assert_eq!(count("fittings/"), 5);
    assert!(6 <= count("notes/"));
    assert_eq!(count("offcuts/"), 1);
    let builds_of = |model: &str| {
        let line = format!("\nblank: {model}\n");
        files.iter().filter(|(_, text)| text.contains(&line)).count()
    };
    for model in ["heron-704", "wren-610", "gannet-606"] {
        assert!(7 <= builds_of(model), "{model}");
    }
    let paths: BTreeSet<&String> = files.iter().map(|(path, _)| path).collect();
    assert_eq!(paths.len(), files.len(), "no path twice");
    let stems: BTreeSet<&str> =
        files.iter().filter_map(|(path, _)| path.rsplit('/').next()).collect();
    assert_eq!(stems.len(), files.len(), "no file name twice, so a reference is never ambiguous");
}

/// The mistyped record has its three mistakes, once each, and still names its blank and its readings.
#[test]
fn one_record_is_mistyped() {
    let (_, text) = FILES.iter().find(|(path, _)| path == MISTYPED).expect("it is there");
    let bench = text.lines().find(|line| line.contains("- read:")).expect("it has a reading");
    assert!(bench.contains("tip_od: 1,"), "{bench}");
    assert!(!bench.contains("tip_od: 1."), "{bench}");
    let weight = bench.split("weight: ").nth(1).and_then(|rest| rest.split(',').next());
    assert!(weight.is_some_and(|weight| weight.parse::<f64>().is_ok()), "{bench}");
    assert_eq!(text.matches("purpuse:").count(), 1);
    assert!(text.contains("\nblank: snipe-609\n"));
    for (path, text) in &*FILES {
        assert!(path == MISTYPED || !text.contains("purpuse"), "{path}");
    }
}

/// What the YAML of a plain value can't hold must not stand in the front matter, except where it is meant to.
#[test]
fn front_matter_keeps_to_what_plain_values_can_hold() {
    for (path, text) in &*FILES {
        let Some(rest) = text.strip_prefix("---\n") else { continue };
        let (head, _) = rest.split_once("\n---\n").expect("the front matter is closed");
        for line in head.lines() {
            let value = line.trim_start().trim_start_matches("- ");
            if !value.contains('{') {
                assert!(value.matches(": ").count() < 2, "{path}: {line}");
            }
            assert!(!value.contains(" #"), "{path}: {line}");
        }
    }
}

#[test]
fn the_committed_demo_is_what_the_generator_makes() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../vault-example");
    for (path, text) in &*FILES {
        let committed = std::fs::read_to_string(root.join(path));
        let committed = committed.unwrap_or_else(|error| {
            panic!("{path}: {error}; make the demo anew with the example `demo` of this crate")
        });
        assert!(&committed == text, "{path} differs from what the generator makes");
    }
}
