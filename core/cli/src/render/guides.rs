//! `guides`: places and sizes, the static test before and after the cuts, and what the guides weigh.

use taperbook_plugin::{GuidePlace, GuideSide, GuidesAdvice, StaticTest};
use taperbook_units::{Length, Mass, Units};

use super::{counted, number};
use crate::style::{BAD, Cell, PLAIN, STRONG, Table, clean, paint, wrapped};

/// Prints the answer to `guides`.
pub(crate) fn guides(units: Units, advice: &GuidesAdvice) -> String {
    let n_guides = advice.test.places.len().saturating_sub(1);
    let side = match advice.side {
        GuideSide::Above => "on top of the bend",
        GuideSide::Below => "underneath the bend",
    };
    let mut text = format!(
        "{}: {} {side}, held at {}\n\n",
        paint(STRONG, &clean(&advice.record)),
        counted(n_guides, "guide"),
        units.cut(Length::from_mm(advice.held_at_mm))
    );
    text.push_str(&table(units, &advice.test.places));
    text.push_str(&format!("\nstatic test: {}\n", tested(units, &advice.test)));
    if let Some(uncut) = &advice.uncut {
        text.push_str(&format!("uncut it was: {}\n", tested(units, uncut)));
        let places: Vec<String> = uncut
            .places
            .iter()
            .skip(1)
            .map(|place| units.cut(Length::from_mm(place.from_tip_mm)))
            .collect();
        text.push_str(&wrapped(
            &format!("with as many guides from its tip: {}", places.join(", ")),
            "  ",
        ));
    }
    text.push_str(&dressing(units, advice));
    text.push('\n');
    for words in &advice.words {
        text.push_str(&wrapped(&clean(words), ""));
    }
    text
}

fn table(units: Units, places: &[GuidePlace]) -> String {
    let mut table = Table::default();
    table.heading([
        "",
        "from the tip",
        "from the butt",
        "to the next",
        "size",
        "height",
        "angle",
        "line clears",
    ]);
    for (number, place) in places.iter().enumerate() {
        let name = if number == 0 { "tip-top".to_owned() } else { number.to_string() };
        let style = if place.clearance_mm < 0.0 { BAD } else { PLAIN };
        let clears = match place.clearance_mm {
            mm if mm < 0.0 => format!("touches, by {:.1} mm", -mm),
            mm => format!("{mm:.1} mm"),
        };
        table.cells([
            Cell::new(&name, STRONG),
            units.cut(Length::from_mm(place.from_tip_mm)).into(),
            units.mark(Length::from_mm(place.from_butt_mm)).into(),
            units.cut(Length::from_mm(place.spacing_mm)).into(),
            place.size.clone().unwrap_or_default().into(),
            format!("{:.1} mm", place.height_mm).into(),
            format!("{:.1} deg", place.angle_deg).into(),
            Cell::new(&clears, style),
        ]);
    }
    table.print("")
}

fn tested(units: Units, test: &StaticTest) -> String {
    let drop = test.blank.last().map(|tip| -tip.1).unwrap_or_default();
    let largest = test.places.iter().map(|place| place.angle_deg).fold(0.0, f64::max);
    format!(
        "{} under {}, tip {} below the clamp line at {:.1} deg, line to blank at most {largest:.1} deg",
        units.length(Length::from_mm(test.length_mm)),
        units.mass(Mass::from_g(test.load_g)),
        units.cut(Length::from_mm(drop)),
        test.tip_angle_deg
    )
}

fn dressing(units: Units, advice: &GuidesAdvice) -> String {
    let dressing = &advice.dressing;
    let unweighed = match dressing.n_unweighed {
        0 => String::new(),
        n => format!(", {n} of them not weighed"),
    };
    format!(
        "guides and tip-top weigh {}{unweighed}: recovery bare {}, dressed {}, {:.1} % slower\n",
        units.mass(Mass::from_g(dressing.weight_g)),
        number::keyed(units, "recovery_hz", &dressing.bare_hz),
        number::keyed(units, "recovery_hz", &dressing.dressed_hz),
        dressing.loss * 100.0
    )
}
