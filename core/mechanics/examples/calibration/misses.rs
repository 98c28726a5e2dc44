//! What misses come from: how the hidden truth strays from what a card makes of it, and what other priors would do.
//!
//! What strays is compared with what the fit allows for, not tuned to it: the simulator is one belief about blanks and the prior is another.

use std::f64::consts::PI;
use std::io::{self, Write};

use taperbook_mechanics::Tube;
use taperbook_mechanics::fit::{Errors, Fibre, Measure, Prior};
use taperbook_testkit::bench::Instruments;
use taperbook_testkit::piece::Piece;
use taperbook_testkit::truth::Truth;
use taperbook_units::Length;

use crate::shop::{Hidden, Jaws, Job, Row, Scene, errors_of, level};
use crate::tally::Strays;
use crate::{jobs, tally};

/// Places along the blank that are looked at, evenly spaced from butt to tip.
const PLACES: usize = 241;
/// Where the fit has knots of stiffness, as every so many places.
const KNOT: usize = (PLACES - 1) / 6;

pub(crate) fn study(out: &mut impl Write, count: usize, seed: u64) -> io::Result<()> {
    let instruments = Instruments::default();
    let plain = Scene {
        jaws: Jaws::Level,
        hidden: Hidden::Nothing,
        instruments,
        n_states: 1,
        slips: false,
    };
    let errors = level(errors_of(&instruments));
    let sound = jobs(&plain, count, seed);
    let reinforced = Scene { hidden: Hidden::Reinforcement, ..plain };
    let reinforced = jobs(&reinforced, count, seed);
    writeln!(out, "{count} blanks, seed {seed}.")?;
    strays(out, "no defect", &sound, &errors)?;
    strays(out, "reinforced", &reinforced, &errors)?;
    curvatures(out, &sound)?;
    supposed(out, &sound, &errors)?;
    deviates(out, &sound, &errors)?;
    others(out, &sound, &errors)
}

/// What a card makes of a blank and what it is, at all places.
struct Along {
    told: Shape,
    truth: Shape,
    /// The true modulus, Pa.
    modulus: Vec<f64>,
    /// What a reinforcement multiplies stiffness and mass by.
    stiffer: Vec<f64>,
    heavier: Vec<f64>,
}

/// Outside diameter and wall at all places, m.
struct Shape {
    od: Vec<f64>,
    wall: Vec<f64>,
}

impl Along {
    fn of(job: &Job, tube: &Tube) -> Self {
        let truth = &job.uncut;
        let bare = Truth { reinforcement: None, ..truth.clone() };
        let at = |length: Length| {
            (0..PLACES).map(move |idx| length * (idx as f64 / (PLACES - 1) as f64))
        };
        let told = |read: &dyn Fn(Length) -> f64| at(tube.length()).map(read).collect();
        let really =
            |read: &dyn Fn(Length) -> f64| at(Length::from_m(truth.length)).map(read).collect();
        Self {
            told: Shape {
                od: told(&|at| tube.od_at(at).m()),
                wall: told(&|at| tube.wall_at(at).m()),
            },
            truth: Shape {
                od: really(&|at| truth.od_at(at).m()),
                wall: really(&|at| truth.wall_at(at).m()),
            },
            modulus: really(&|at| {
                bare.stiffness_at(at) / second_moment(bare.od_at(at).m(), bare.wall_at(at).m())
            }),
            stiffer: really(&|at| truth.stiffness_at(at) / bare.stiffness_at(at)),
            heavier: really(&|at| truth.mass_per_length_at(at) / bare.mass_per_length_at(at)),
        }
    }

    /// The logarithm of what a section property is with the diameter of one shape and the wall of another, relative to what the card tells.
    fn by(&self, property: fn(f64, f64) -> f64, od: &Shape, wall: &Shape) -> Vec<f64> {
        let told = self.told.od.iter().zip(&self.told.wall);
        (od.od.iter().zip(&wall.wall))
            .zip(told)
            .map(|((&od, &wall), (&told_od, &told_wall))| {
                (property(od, wall.min(0.5 * od)) / property(told_od, told_wall)).ln()
            })
            .collect()
    }
}

fn second_moment(od: f64, wall: f64) -> f64 {
    PI / 64.0 * (od.powi(4) - (od - 2.0 * wall).powi(4))
}

fn area(od: f64, wall: f64) -> f64 {
    PI / 4.0 * (od.powi(2) - (od - 2.0 * wall).powi(2))
}

fn logs(values: &[f64]) -> Vec<f64> {
    values.iter().map(|value| value.ln()).collect()
}

fn sum(one: &[f64], other: &[f64]) -> Vec<f64> {
    one.iter().zip(other).map(|(one, other)| one + other).collect()
}

/// Takes off the straight line of least squares: level and trend are parameters of the fit.
fn unlined(values: &[f64]) -> Vec<f64> {
    let n = values.len() as f64;
    let place = |idx: usize| idx as f64 - (n - 1.0) / 2.0;
    let mean = values.iter().sum::<f64>() / n;
    let along: f64 = values.iter().enumerate().map(|(idx, value)| value * place(idx)).sum();
    let square: f64 = (0..values.len()).map(|idx| place(idx).powi(2)).sum();
    let line = |idx: usize| mean + along / square * place(idx);
    values.iter().enumerate().map(|(idx, value)| value - line(idx)).collect()
}

fn rms(values: impl Iterator<Item = f64>) -> f64 {
    let (n, square) = values.fold((0.0, 0.0), |(n, sum), value| (n + 1.0, sum + value * value));
    (square / f64::max(n, 1.0)).sqrt()
}

fn strays(out: &mut impl Write, what: &str, jobs: &[Job], errors: &Errors) -> io::Result<()> {
    writeln!(
        out,
        "\nWhat the truth has over the card ({what}), level and trend taken off, rms in %; all along, then at the seven knots from butt to tip"
    )?;
    let along: Vec<Along> = (jobs.iter())
        .filter_map(|job| Some(Along::of(job, &Prior::from_card(&job.card, errors).ok()?.tube())))
        .collect();
    type Strays = Box<dyn Fn(&Along) -> Vec<f64>>;
    let all: [(&str, Strays); 7] = [
        ("stiffness: diameter", Box::new(|a| a.by(second_moment, &a.truth, &a.told))),
        ("stiffness: wall", Box::new(|a| a.by(second_moment, &a.told, &a.truth))),
        ("stiffness: modulus", Box::new(|a| logs(&a.modulus))),
        (
            "stiffness: all",
            Box::new(|a| {
                sum(
                    &sum(&a.by(second_moment, &a.truth, &a.truth), &logs(&a.modulus)),
                    &logs(&a.stiffer),
                )
            }),
        ),
        ("mass: diameter", Box::new(|a| a.by(area, &a.truth, &a.told))),
        ("mass: wall", Box::new(|a| a.by(area, &a.told, &a.truth))),
        ("mass: all", Box::new(|a| sum(&a.by(area, &a.truth, &a.truth), &logs(&a.heavier)))),
    ];
    for (name, strays) in &all {
        let strays: Vec<Vec<f64>> = along.iter().map(|along| unlined(&strays(along))).collect();
        let everywhere = rms(strays.iter().flatten().copied());
        write!(out, "  {name:20}{:>6.1}  |", 100.0 * everywhere)?;
        for knot in 0..=6 {
            let here = rms(strays.iter().map(|strays| strays[knot * KNOT]));
            write!(out, "{:>6.1}", 100.0 * here)?;
        }
        writeln!(out)?;
    }
    Ok(())
}

/// The curvature that the true diameter has between calipers: how far it strays from the straight line, over half the product of the distances.
fn curvatures(out: &mut impl Write, jobs: &[Job]) -> io::Result<()> {
    let (mut butt, mut middle, mut tip) = (Vec::new(), Vec::new(), Vec::new());
    for job in jobs {
        let last = job.card.calipers.len() - 1;
        for (idx, pair) in job.card.calipers.windows(2).enumerate() {
            let (a, b) = (pair[0].at, pair[1].at);
            let (from, to) = (job.uncut.od_at(a).m(), job.uncut.od_at(b).m());
            for part in [0.25, 0.5, 0.75] {
                let at = a + (b - a) * part;
                let off = job.uncut.od_at(at).m() - (from + part * (to - from));
                let curvature = off / (0.5 * (at - a).m() * (b - at).m());
                match idx {
                    0 => butt.push(curvature),
                    _ if idx + 1 == last => tip.push(curvature),
                    _ => middle.push(curvature),
                }
            }
        }
    }
    let mm = |all: &[f64]| 1e3 * rms(all.iter().copied());
    let all: Vec<f64> = [&butt[..], &middle, &tip].concat();
    writeln!(
        out,
        "\nCurvature of the true diameter between calipers, rms in mm/m² (allowed for: {:.1})",
        1e3 * Errors::default().taper_curvature
    )?;
    writeln!(
        out,
        "  first two {:.2}, between {:.2}, last two {:.2}; all {:.2}",
        mm(&butt),
        mm(&middle),
        mm(&tip),
        mm(&all)
    )
}

/// What a card without modulus, density and walls supposes.
fn supposed(out: &mut impl Write, jobs: &[Job], errors: &Errors) -> io::Result<()> {
    writeln!(
        out,
        "\nWhat is supposed of a blank, ln of true over supposed: mean and standard deviation"
    )?;
    for (fibre, name) in
        [(Fibre::Carbon, "carbon"), (Fibre::Blend, "blend"), (Fibre::Glass, "glass")]
    {
        let (mut modulus, mut weight, mut tip_wall) = (Vec::new(), Vec::new(), Vec::new());
        for job in jobs.iter().filter(|job| job.card.fibre == fibre) {
            let Ok(prior) = Prior::from_card(&job.card, errors) else { continue };
            let (tube, truth) = (prior.tube(), &job.uncut);
            let middle = tube.length() * 0.5;
            let moment = second_moment(tube.od_at(middle).m(), tube.wall_at(middle).m());
            modulus.push((truth.modulus.mean / (tube.stiffness_at(middle) / moment)).ln());
            let piece = Piece::uncut(truth.clone());
            weight.push((piece.weight() / tube.weight()).ln());
            let wall = truth.wall_at(Length::from_m(truth.length)) / tube.wall_at(tube.length());
            tip_wall.push(wall.ln());
        }
        let mean = |all: &[f64]| all.iter().sum::<f64>() / all.len().max(1) as f64;
        let spread = |all: &[f64]| rms(all.iter().map(|value| value - mean(all)));
        let both = |all: &[f64]| format!("{:+.2} ± {:.2}", mean(all), spread(all));
        writeln!(
            out,
            "  {name:7} modulus {}, wall at the tip {}, weight {}",
            both(&modulus),
            both(&tip_wall),
            both(&weight)
        )?;
    }
    Ok(())
}

/// The numbers that are looked at here.
const LOOKED_AT: [(Measure, &str); 4] = [
    (Measure::Power, "power"),
    (Measure::TipAngle, "tip angle"),
    (Measure::Recovery, "recovery"),
    (Measure::Weight, "weight"),
];

fn deviates(out: &mut impl Write, jobs: &[Job], errors: &Errors) -> io::Result<()> {
    writeln!(
        out,
        "\nEstimate less truth in standard deviations of the range, mean ± spread (honest: 0 ± 1); level clamp"
    )?;
    for row in Row::ALL {
        let tally = tally(jobs, errors, row, Strays::Count);
        write!(out, "  {:19}", row.words())?;
        for (measure, name) in LOOKED_AT {
            let (mean, spread) = tally.deviates(measure);
            write!(out, "  {name} {mean:+.2} ± {spread:.2}")?;
        }
        writeln!(out)?;
    }
    Ok(())
}

/// One change of a prior at a time.
fn others(out: &mut impl Write, jobs: &[Job], errors: &Errors) -> io::Result<()> {
    let usual = errors;
    let changed: Vec<(String, Errors)> =
        std::iter::once(("as it is".to_owned(), usual.clone()))
            .chain([0.03, 0.05, 0.10].map(|residual| {
                (format!("residual {residual}"), Errors { residual, ..usual.clone() })
            }))
            .chain([0.0005, 0.002].map(|taper_curvature| {
                (
                    format!("taper curvature {taper_curvature}"),
                    Errors { taper_curvature, ..usual.clone() },
                )
            }))
            .chain([0.010, 0.015].map(|frequency| {
                (format!("frequency {frequency}"), Errors { frequency, ..usual.clone() })
            }))
            .collect();
    writeln!(
        out,
        "\nOther priors in a level clamp: coverage in % and in brackets the median error, of power, tip angle, recovery, weight"
    )?;
    for row in [Row::TipAngle, Row::Weight, Row::Board, Row::Frequency] {
        writeln!(out, " {}", row.words())?;
        for (name, errors) in &changed {
            let tally = tally(jobs, errors, row, Strays::Count);
            write!(out, "  {name:24}")?;
            for (measure, _) in LOOKED_AT {
                let (covered, error) = (tally.covered(measure), tally.error(measure, 50));
                write!(out, "{:>15}", format!("{:.1} ({error:.2})", covered.per_cent))?;
            }
            writeln!(out)?;
        }
    }
    Ok(())
}
