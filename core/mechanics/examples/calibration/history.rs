//! The same for a piece of a model that the shop has cut before: what past pieces, read on the same board, do for the next.
//!
//! The next piece is of the same model and not the same blank: the card was measured on the first of them.

use std::io::{self, Write};

use taperbook_mechanics::fit::{Lesson, Measure, Pool, Prior, Spread, fit};
use taperbook_testkit::beam::{Clamp, Unsolved};
use taperbook_testkit::bench::{Bench, Instruments};
use taperbook_testkit::piece::Piece;
use taperbook_testkit::rng::Rng;
use taperbook_testkit::style::Style;
use taperbook_testkit::truth::{self, Truth};
use taperbook_units::Length;

use crate::each;
use crate::shop::{HELD_AT, Row, card, errors_of, read, reading};
use crate::tally::{MEASURES, Shot, Shots, Tally, truth_of};

/// How many past pieces.
const PAST: [usize; 4] = [0, 3, 10, 30];
/// What each past piece was read for, uncut and after a cut, and what the next one is read for.
const PAST_ROW: Row = Row::Weight;
const ROWS: [Row; 3] = [Row::Diameters, Row::Power, Row::Weight];
const SHOWN: [Measure; 4] = [Measure::Power, Measure::TipAngle, Measure::Recovery, Measure::Weight];

pub(crate) fn study(out: &mut impl Write, count: usize, seed: u64) -> io::Result<()> {
    writeln!(
        out,
        "{count} models, seed {seed}; past pieces with power, tip angle and weight, uncut and after a cut, on one board of hidden tilt and give."
    )?;
    writeln!(
        out,
        "Error of the trimmed next piece: median / 95th percentile; then how often the 90 % range held the truth, in %, and how far estimates lie above the truth in standard deviations (mean, scatter)."
    )?;
    for n_past in PAST {
        writeln!(out, "\n{n_past} past pieces")?;
        writeln!(
            out,
            "{:19}{:>13}{:>13}{:>13}{:>9}{:>9}{:>9}{:>9}   power off by",
            "readings",
            "power %",
            "tip angle °",
            "recovery %",
            "power",
            "angle",
            "recov.",
            "weight"
        )?;
        let numbers: Vec<usize> = (0..count).collect();
        let all = each(&numbers, |&number| next_piece(seed, number, n_past).ok());
        for (row_idx, row) in ROWS.into_iter().enumerate() {
            let shots = all.iter().flatten().map(|shots| shots[row_idx]).collect();
            let tally = Tally::of(shots);
            write!(out, "{:19}", row.words())?;
            for (measure, digits) in
                [(Measure::Power, 1), (Measure::TipAngle, 2), (Measure::Recovery, 1)]
            {
                let (median, most) = (tally.error(measure, 50), tally.error(measure, 95));
                write!(out, "{:>13}", format!("{median:.digits$} / {most:.digits$}"))?;
            }
            for measure in SHOWN {
                write!(out, "{:>9}", tally.covered(measure))?;
            }
            let (mean, scatter) = tally.deviates(Measure::Power);
            writeln!(out, "{:>9}", format!("{mean:+.2} {scatter:.2}"))?;
        }
    }
    Ok(())
}

/// Simulates a model and its past pieces, and foretells the next one, trimmed, from each row of readings.
fn next_piece(seed: u64, number: usize, n_past: usize) -> Result<[Shots; ROWS.len()], Unsolved> {
    let mut rng = Rng::named(seed, &format!("model {number}"));
    let style = *rng.pick(&Style::ALL);
    let model = Truth::random(&mut rng, style);
    let clamp = Clamp::random(&mut rng);
    let instruments = Instruments::default();
    let readings_rng = Rng::named(seed, &format!("model readings {number}"));
    let mut bench = Bench::new(clamp, instruments, readings_rng);
    let mut card = card(&mut bench, &Piece::uncut(model.clone()), style, number);
    card.calipers.iter_mut().for_each(|caliper| caliper.own = false);
    let errors = errors_of(&instruments);
    let prior_of = |length: Length| {
        let card = taperbook_mechanics::fit::Card { length, ..card.clone() };
        Prior::from_card(&card, &errors).expect("the card of a blank")
    };
    let spread = truth::Spread::default();
    let (tip, butt) = (model.length * 0.04, model.length * 0.04);
    let cuts = (Length::from_m(tip), Length::from_m(butt));
    let mut lessons = Vec::new();
    for _ in 0..n_past {
        let mut piece = Piece::uncut(model.sibling(&mut rng, &spread));
        let prior = prior_of(bench.read_length(&piece));
        let mut readings = Vec::new();
        for (tip, butt) in [(Length::default(), Length::default()), cuts] {
            if tip != Length::default() {
                bench.cut(&mut piece, tip, butt);
            }
            let taken = read(&mut bench, &piece)?;
            let of_row = taken.into_iter().filter(|(row, _)| *row <= PAST_ROW);
            readings.extend(of_row.map(|(_, measured)| reading(measured, tip, butt)));
        }
        lessons.push(Lesson::of(&fit(&prior, &readings).expect("a sound fit")));
    }
    let mut piece = Piece::uncut(model.sibling(&mut rng, &spread));
    let own = prior_of(bench.read_length(&piece));
    let prior = pooled(&own, &lessons);
    let taken = read(&mut bench, &piece)?;
    let none = Length::default();
    let tip = piece.length() * rng.between(0.02, 0.10);
    let butt = piece.length() * rng.between(0.0, 0.12);
    piece.cut(tip, butt);
    let truth = piece.true_numbers(HELD_AT)?;
    let mut found = [Shots::default(); ROWS.len()];
    for (shots, row) in found.iter_mut().zip(ROWS) {
        let of_row = taken.iter().filter(|(of, _)| *of <= row);
        let readings: Vec<_> = of_row.map(|(_, measured)| reading(*measured, none, none)).collect();
        let outcome = fit(&prior, &readings)
            .ok()
            .and_then(|posterior| posterior.outcome(tip, butt, HELD_AT).ok());
        let Some(outcome) = outcome else { continue };
        for (shot, measure) in shots.shots.iter_mut().zip(MEASURES) {
            let estimate = outcome.estimate(measure).ok();
            *shot = estimate.map(|it| Shot::at(measure, it, truth_of(&truth, measure)));
        }
    }
    Ok(found)
}

fn pooled(card: &Prior, lessons: &[Lesson]) -> Prior {
    let all: Vec<&Lesson> = lessons.iter().collect();
    let usual = Spread::default();
    let mut pool = Pool::new(&usual.times(usual.estimated(card, &all)));
    lessons.iter().for_each(|lesson| pool.add(lesson));
    pool.prior(card)
}
