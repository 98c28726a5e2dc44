//! Whether the aims can be reached, and where the piece stands beside them.

use taperbook_bench::{Cuts, limits, to_mechanics};
use taperbook_mechanics::fit::Outcome;
use taperbook_record::{End, Limit, Measure};
use taperbook_units::{Length, Units};

use crate::brief::{Aim, larger, usual_tolerance};
use crate::case::Case;
use crate::problem::Problem;
use crate::step::{Plan, at_end};
use crate::words;

/// Where the piece stands: `power is 220 g (203 g … 238 g) against an aim of 235 g, and length …`.
pub(crate) fn standing(case: &Case, problem: &Problem) -> String {
    let units = case.units;
    let aims = problem.brief.aims.iter().filter_map(|aim| {
        let ranged = problem.now.and_then(|now| words::ranged(units, aim.measure, now));
        let plain =
            || Some(words::value(units, aim.measure, problem.value(aim.measure, Cuts::default())?));
        let is = ranged.or_else(plain)?;
        let leans = &problem.brief.leans;
        let liked = leans.iter().find(|(measure, _)| *measure == aim.measure);
        let liked = liked.map_or(&[][..], |(_, records)| records);
        Some(format!("{} is {is} against {}", aim.measure.words(), words::aim(units, aim, liked)))
    });
    words::list(&aims.collect::<Vec<_>>())
}

/// Says why the work can't be done as asked; `None` when it can, or can't be told yet.
///
/// A number counts as known to so many standard deviations.
pub(crate) fn out_of_reach(
    case: &Case,
    problem: &Problem,
    plan: &Plan,
    deviations: f64,
) -> Option<String> {
    let uncut = case.piece.walk.present().item.is_none();
    past_for_good(case, problem, deviations)
        .or_else(|| limit_out_of_reach(case, problem, plan, deviations))
        // Once something is cut, the nearest is gone for without asking.
        .or_else(|| if uncut { aim_out_of_reach(case, problem, plan, deviations) } else { None })
}

/// A limit that is passed already and that further cutting takes the piece further away from.
fn past_for_good(case: &Case, problem: &Problem, deviations: f64) -> Option<String> {
    let little = Length::from_mm(10.0);
    problem.brief.limits.iter().find_map(|limit| {
        let value = problem.value(limit.measure, Cuts::default())?;
        let range = limits::range_of(limit);
        let worse = |end: End| {
            let room = problem.brief.room(end).most;
            let after = if little < room { problem.value(limit.measure, at_end(end, little)) } else { None };
            after.is_none_or(|after| if value < range.low { after <= value } else { value <= after })
        };
        let outside = (range.low - value).max(value - range.high);
        let gone = deviations * unsure(limit.measure, problem.now) < outside && worse(End::Tip) && worse(End::Butt);
        gone.then(|| {
            format!(
                "{} is {}, and no cut brings it to {}: agree new `limits` with the customer, or take another blank",
                limit.measure.words(),
                words::value(case.units, limit.measure, value),
                words::limit(case.units, limit)
            )
        })
    })
}

/// A limit that no cut inside the others reaches.
fn limit_out_of_reach(
    case: &Case,
    problem: &Problem,
    plan: &Plan,
    deviations: f64,
) -> Option<String> {
    problem.brief.limits.iter().find_map(|limit| {
        let nearest = value_at(problem, plan, limit.measure)?;
        let range = limits::range_of(limit);
        let outside = (range.low - nearest).max(nearest - range.high);
        (deviations * unsure(limit.measure, plan.there.as_ref()) < outside).then(|| {
            let all = words::limit(case.units, limit);
            format!(
                "{} of {all} can't be reached inside the other limits: {}; agree new `limits` with the customer, or take \
                 another blank",
                limit.measure.words(),
                nearest_words(problem, plan, case.units)
            )
        })
    })
}

/// An aim that no cut inside the limits comes near, for certain.
fn aim_out_of_reach(
    case: &Case,
    problem: &Problem,
    plan: &Plan,
    deviations: f64,
) -> Option<String> {
    let minded = |aim: &Aim| usual_tolerance(aim.measure, aim.value).max(0.5 * aim.tolerance);
    let miss = |aim: &Aim, values: &[f64]| {
        let idx = problem.measures.iter().position(|other| *other == aim.measure);
        idx.map_or(0.0, |idx| (values[idx] - aim.value).abs())
    };
    let stated = || problem.brief.aims.iter().filter(|aim| aim.stated);
    if !stated().any(|aim| minded(aim) < miss(aim, &plan.target.values)) {
        return None;
    }
    // Where one number is not known well, that may be all that the aims seem to miss each other by.
    let there = plan.there.as_ref();
    let most = Cuts { tip: problem.brief.tip.most, butt: problem.brief.butt.most };
    let surely = problem.as_sure(|measure| unsure(measure, there)).best(most)?;
    let beyond = |aim: &Aim| {
        miss(aim, &surely.values) / (deviations * unsure(aim.measure, there)).max(minded(aim))
    };
    let aim =
        stated().max_by(|a, b| beyond(a).total_cmp(&beyond(b))).filter(|aim| 1.0 < beyond(aim))?;
    let units = case.units;
    let aimed = words::value(units, aim.measure, aim.value);
    let alone = needs_alone(problem, aim);
    let needs = alone.map_or_else(
        || "can't be reached by cutting the tip".to_owned(),
        |tip| format!("needs {} off the tip", units.cut(tip)),
    );
    let way = in_the_way(case, problem, plan, alone)
        .map_or_else(String::new, |way| format!(", but {way}"));
    Some(format!(
        "the {} aimed for, {aimed}, {needs}{way}: {}; write the `aim` that you want to have",
        aim.measure.words(),
        nearest_words(problem, plan, case.units)
    ))
}

/// The tip cut that would meet an aim if nothing else counted.
fn needs_alone(problem: &Problem, aim: &Aim) -> Option<Length> {
    const N_STEPS: u32 = 64;
    let present = problem.piece.walk.present().length?;
    let most = present - problem.held_at - Length::from_mm(200.0);
    let value = |cut: Length| problem.value(aim.measure, at_end(End::Tip, cut));
    let start = value(Length::default())?;
    let passed =
        |value: f64| if start < aim.value { aim.value <= value } else { value <= aim.value };
    let cut = |step: u32| most * (f64::from(step) / f64::from(N_STEPS));
    let step = (1..=N_STEPS).find(|step| value(cut(*step)).is_some_and(passed))?;
    let (mut short, mut far) = (cut(step - 1), cut(step));
    while Length::from_mm(0.5) < far - short {
        let middle = (short + far) / 2.0;
        if value(middle).is_some_and(passed) { far = middle } else { short = middle }
    }
    Some(far)
}

/// The limit, the barrier or the other aim that keeps an aim from being met, which would need so much off the tip.
fn in_the_way(
    case: &Case,
    problem: &Problem,
    plan: &Plan,
    needs: Option<Length>,
) -> Option<String> {
    let units = case.units;
    let needs = needs.unwrap_or(Length::from_m(f64::INFINITY));
    let left = |limit: &Limit| {
        let limit = std::slice::from_ref(limit);
        limits::left_at_end(&case.piece, limit, problem.off, Some(problem.held_at), End::Tip)
    };
    let nearest = problem.brief.limits.iter().filter_map(|limit| Some((left(limit)?, limit)));
    let nearest =
        nearest.min_by(|a, b| a.0.m().total_cmp(&b.0.m())).filter(|(left, _)| *left < needs);
    let room = problem.brief.room(End::Tip);
    if let (Some(barrier), true) =
        (&room.barrier, room.most < needs && nearest.is_none_or(|(left, _)| room.most < left))
    {
        return Some(barrier.clone());
    }
    if let Some((left, limit)) = nearest {
        return Some(format!(
            "the {} allowed, {}, leaves {} at the tip",
            limit.measure.words(),
            words::limit(units, limit),
            units.cut(larger(left, Length::default()))
        ));
    }
    let others = problem.brief.aims.iter().filter(|aim| {
        let miss =
            value_at(problem, plan, aim.measure).map_or(0.0, |value| (value - aim.value).abs());
        aim.stated && 0.2 * usual_tolerance(aim.measure, aim.value) < miss
    });
    (1 < others.count()).then(|| "the aims pull against each other".to_owned())
}

/// What can be had: `the nearest inside the limits is power 262 g at 6'8"`.
fn nearest_words(problem: &Problem, plan: &Plan, units: Units) -> String {
    let mut measures: Vec<Measure> = problem.brief.aims.iter().map(|aim| aim.measure).collect();
    measures.extend(problem.brief.limits.iter().map(|limit| limit.measure));
    measures.push(Measure::Length);
    let mut seen = Vec::new();
    let numbers: Vec<String> = measures
        .into_iter()
        .filter(|measure| {
            let new = !seen.contains(measure);
            seen.push(*measure);
            new
        })
        .filter_map(|measure| {
            let off = plan.target.cuts;
            let value = problem.value(measure, off)?;
            Some(format!("{} {}", measure.words(), words::value(units, measure, value)))
        })
        .collect();
    format!("the nearest that can be had is {}", words::list(&numbers))
}

/// Says what can be had when the aims can only be met in part; nothing when they are met.
pub(crate) fn compromise(problem: &Problem, plan: &Plan, units: Units) -> Option<String> {
    let missed = problem.brief.aims.iter().filter(|aim| aim.stated).any(|aim| {
        let miss =
            value_at(problem, plan, aim.measure).map_or(0.0, |value| (value - aim.value).abs());
        usual_tolerance(aim.measure, aim.value) < miss
    });
    missed.then(|| nearest_words(problem, plan, units))
}

fn value_at(problem: &Problem, plan: &Plan, measure: Measure) -> Option<f64> {
    let idx = problem.measures.iter().position(|other| *other == measure)?;
    plan.target.values.get(idx).copied()
}

/// The standard deviation of a number; none of what is not worked out.
fn unsure(measure: Measure, outcome: Option<&Outcome>) -> f64 {
    let known = outcome.filter(|outcome| outcome.value(to_mechanics(measure)).is_ok());
    known.map_or(0.0, |outcome| limits::deviation(outcome, measure))
}
