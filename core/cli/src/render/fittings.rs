//! `fittings`: which tip-top, butt ferrule and reel seat go on, and how far each end may be cut before none does.

use taperbook_plugin::{Fit, FitHow, FittingsAdvice, FittingsAt, Number};
use taperbook_units::{Length, Units};

use super::number;
use super::tried::cut_words;
use crate::style::{BAD, CARE, Cell, GOOD, PLAIN, STRONG, Table, clean, paint, wrapped};

/// Prints the answer to `fittings`.
pub(crate) fn fittings(units: Units, advice: &FittingsAdvice) -> String {
    let mut text = format!("{}: fittings\n", paint(STRONG, &clean(&advice.record)));
    for at in &advice.states {
        text.push('\n');
        text.push_str(&state(units, at, 3));
    }
    if !advice.words.is_empty() {
        text.push('\n');
    }
    for words in &advice.words {
        text.push_str(&wrapped(&clean(words), ""));
    }
    text
}

/// Prints what goes on in one state, so many of each drawer.
pub(crate) fn state(units: Units, at: &FittingsAt, most: usize) -> String {
    let diameter = |od: &Number| number::keyed(units, "tip_od_mm", od);
    let cut = match at.cut.tip_mm == 0.0 && at.cut.butt_mm == 0.0 {
        true => String::new(),
        false => format!(", {}", cut_words(at.cut, |mm| number::cut_both(units, mm))),
    };
    let mut text = format!(
        "{}{cut}: tip {}, butt {}\n",
        at.state,
        diameter(&at.tip_od_mm),
        diameter(&at.butt_od_mm)
    );
    let mut table = Table::default();
    for (part, fits) in [
        ("tip-top", &at.tip_tops),
        ("butt ferrule", &at.butt_ferrules),
        ("reel seat", &at.reel_seats),
    ] {
        for (place, fit) in fits.iter().take(most).enumerate() {
            let name = if place == 0 { part } else { "" };
            table.cells(row(units, name, fit));
        }
    }
    text.push_str(&table.print("  "));
    for words in taperbook_draw::how_far(units, at) {
        text.push_str(&wrapped(&words, "  "));
    }
    text
}

fn row(units: Units, part: &str, fit: &Fit) -> [Cell; 6] {
    let style = match fit.how {
        FitHow::Direct => GOOD,
        FitHow::Thread | FitHow::Arbor => PLAIN,
        FitHow::Sand => CARE,
        FitHow::TooTight | FitHow::TooWide => BAD,
    };
    let bore = number::keyed_value(units, "tip_od_mm", fit.bore_mm);
    let measured = if fit.bore_was_measured { "bore" } else { "marked" };
    let ring = fit.ring_mm.map(|mm| format!("ring {mm} mm"));
    let count = fit.count.map(|count| format!("{count} left"));
    let sits = fit.sits_at_mm.filter(|mm| part_sits(fit, *mm));
    let sits = sits.map(|mm| format!("stops {} up", units.cut(Length::from_mm(mm))));
    let beside: Vec<String> = [ring, sits, count].into_iter().flatten().collect();
    [
        part.into(),
        (&fit.size).into(),
        format!("{measured} {bore}").into(),
        Cell::new(how(fit), style),
        beside.join(", ").into(),
        fit.fitting.rsplit('/').next().unwrap_or(&fit.fitting).into(),
    ]
}

/// Where a bore stops is worth a word when it does not reach the butt.
fn part_sits(fit: &Fit, mm: f64) -> bool {
    0.5 < mm && !matches!(fit.how, FitHow::Arbor | FitHow::Direct | FitHow::Thread)
}

/// Says how a fitting goes on, and how sure that is.
pub(crate) fn how(fit: &Fit) -> String {
    let sure = match fit.chance {
        Some(chance) if fit.how == FitHow::Direct => format!(", {} sure", number::chance(chance)),
        _ => String::new(),
    };
    format!("{}{sure}", taperbook_draw::how(fit))
}
