//! `guides`: places and sizes, the static test before and after the cuts, and what the guides weigh.

use taperbook_plugin::{GuidePlace, GuideSide, GuidesAdvice};
use taperbook_units::{Length, Units};

use super::counted;
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
    text.push_str(&format!("\nstatic test: {}\n", taperbook_draw::tested(units, &advice.test)));
    if let Some(uncut) = &advice.uncut {
        text.push_str(&format!("uncut it was: {}\n", taperbook_draw::tested(units, uncut)));
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
    text.push_str(&taperbook_draw::dressed(units, advice));
    text.push('\n');
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
