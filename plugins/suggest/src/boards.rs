//! What the readings of a shop tell of its boards and clamps.

use taperbook_bench::{boards_from_readings, model, setup_of};
use taperbook_mechanics::fit::{Errors, Estimate};
use taperbook_plugin::{ExplainAdvice, View};
use taperbook_record::{Board, Kind};
use taperbook_units::{Angle, STANDARD_GRAVITY, Units};

use crate::problem::NINETY_FIVE;
use crate::words;

/// Answers what is known of the shop's boards and clamps from the readings taken on them.
pub(crate) fn explain(view: &View, id: &str) -> ExplainAdvice {
    ExplainAdvice { record: id.to_owned(), number: None, words: lines(view), forecasts: Vec::new() }
}

fn lines(view: &View) -> Vec<String> {
    let shop = view.shop();
    let Some(known) = boards_from_readings(view) else {
        return vec![
            "no blank card tells enough to work anything out yet, so nothing can be said of boards and clamps".to_owned(),
        ];
    };
    let builds: Vec<(Vec<u64>, Vec<u64>)> = (view.all(Kind::Blank).iter())
        .flat_map(|card| {
            let of = |lesson: &taperbook_mechanics::fit::Lesson| {
                let (boards, clamps) = lesson.boards_and_clamps();
                (boards.to_vec(), clamps.to_vec())
            };
            model(view, &card.id).pieces.iter().map(|(_, lesson)| of(lesson)).collect::<Vec<_>>()
        })
        .collect();
    let usual = Errors::default();
    let mut lines = Vec::new();
    let mut told_clamps = Vec::new();
    let unnamed = Board { name: "readings that name no board".to_owned(), ..Board::default() };
    let boards = shop.boards.iter().map(|board| (board, setup_of(&shop, Some(&board.name))));
    let unnamed = shop.boards.is_empty().then(|| (&unnamed, setup_of(&shop, None)));
    for (board, setup) in boards.chain(unnamed) {
        let n_builds = builds.iter().filter(|(boards, _)| boards.contains(&setup.board)).count();
        if n_builds == 0 {
            if !board.name.starts_with("readings") {
                lines.push(format!("{}: nothing was read on it yet", board.name));
            }
            continue;
        }
        let n_builds = words::count(n_builds, "build");
        if let Some(tilt) = known.tilt_of(setup.board) {
            lines.push(of_board(board, tilt, usual.measured_tilt, &n_builds));
        }
        if !told_clamps.contains(&setup.clamp)
            && let Some(give) = known.give_of(setup.clamp)
        {
            told_clamps.push(setup.clamp);
            lines.push(of_clamp(&shop, board, give, &usual));
        }
    }
    if lines.is_empty() {
        lines.push("nothing was bent on a board yet: read the power of a piece".to_owned());
    }
    lines
}

/// `sure` is how far off a level may be.
fn of_board(board: &Board, tilt: Estimate, sure: Angle, n_builds: &str) -> String {
    let degrees = |rad: f64| format!("{:+.1}°", rad.to_degrees());
    let range = format!("{} ({} … {})", degrees(tilt.value), degrees(tilt.low), degrees(tilt.high));
    let name = &board.name;
    let found = format!(
        "{name}: its clamp is tilted by {range}, up is +, as the readings of {n_builds} tell"
    );
    match board.tilt {
        Some(stated) if stated.rad() < tilt.low || tilt.high < stated.rad() => format!(
            "{found}; shop.yaml says {}, which they speak against: put a level on it",
            degrees(stated.rad())
        ),
        Some(stated) => format!("{found}; shop.yaml says {}, which fits", degrees(stated.rad())),
        None if 0.0 < tilt.low || tilt.high < 0.0 => {
            // What is written there counts as a level's word, and a surer one than the readings have must not come of them.
            let write = if 0.5 * (tilt.high - tilt.low) <= NINETY_FIVE * sure.rad() {
                format!("write `tilt: {:.1} deg` in shop.yaml", tilt.value.to_degrees())
            } else {
                "put a level on it and write its `tilt` in shop.yaml".to_owned()
            };
            format!(
                "{found}: level it, under a new name since the old readings stay as they are, or {write}"
            )
        }
        None => format!("{found}: it may well be level; a level tells at once"),
    }
}

fn of_clamp(
    shop: &taperbook_record::Shop,
    board: &Board,
    give: Estimate,
    usual: &Errors,
) -> String {
    // Under 1 kg hung a metre out.
    let degrees = |give: f64| {
        Units::default().value(
            taperbook_units::Dimension::Angle,
            Angle::from_rad(give * STANDARD_GRAVITY).rad(),
        )
    };
    let name = match &board.clamp {
        Some(clamp) => clamp.clone(),
        None => format!("the clamp of {}", board.name),
    };
    let stated = board.clamp.as_ref().and_then(|name| {
        shop.clamps.iter().find(|clamp| clamp.name.eq_ignore_ascii_case(name))?.gives
    });
    let stated = match stated {
        Some(stated) => format!("; shop.yaml says {:.1}°", stated.deg()),
        None => format!("; usual is {}", degrees(usual.give)),
    };
    format!(
        "{name} gives {} ({} … {}) under 1 kg a metre out{stated}",
        degrees(give.value),
        degrees(give.low),
        degrees(give.high)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tilt_is_written_down_only_when_it_is_known_as_a_level_would_tell_it() {
        let board = Board { name: "wall".to_owned(), ..Board::default() };
        let line = |half: f64| {
            let [value, half] = [0.9_f64, half].map(f64::to_radians);
            let tilt = Estimate { value, low: value - half, high: value + half };
            of_board(&board, tilt, Angle::from_deg(0.15), "3 builds")
        };
        assert!(line(0.2).contains("write `tilt: 0.9 deg` in shop.yaml"), "{}", line(0.2));
        assert!(line(0.6).contains("put a level on it"), "{}", line(0.6));
        assert!(line(1.2).contains("it may well be level"), "{}", line(1.2));
    }
}
