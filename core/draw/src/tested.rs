//! A static test and what guides weigh, in words; the same on a screen and on a page.

use taperbook_plugin::print::keyed;
use taperbook_plugin::{GuidesAdvice, StaticTest};
use taperbook_units::{Length, Mass, Units};

/// Says how a static test came out.
pub fn tested(units: Units, test: &StaticTest) -> String {
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

/// Says what guides weigh, and what that takes of the recovery.
pub fn dressed(units: Units, advice: &GuidesAdvice) -> String {
    let dressing = &advice.dressing;
    let unweighed = match dressing.n_unweighed {
        0 => String::new(),
        n => format!(", {n} of them not weighed"),
    };
    format!(
        "guides and tip-top weigh {}{unweighed}: recovery bare {}, dressed {}, {:.1} % slower",
        units.mass(Mass::from_g(dressing.weight_g)),
        keyed(units, "recovery_hz", &dressing.bare_hz),
        keyed(units, "recovery_hz", &dressing.dressed_hz),
        dressing.loss * 100.0
    )
}
