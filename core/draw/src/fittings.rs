//! How a fitting goes on, and how far an end may be cut before none does, in words; the same on a screen and on a page.

use taperbook_plugin::print::{cut_at_most, cut_both};
use taperbook_plugin::{Fit, FitHow, FittingsAt};
use taperbook_units::Units;

/// Says how a fitting goes on.
pub fn how(fit: &Fit) -> String {
    let clearance = fit.clearance_mm.value().unwrap_or_default();
    match fit.how {
        FitHow::Direct => format!("goes on with {clearance:.2} mm for glue"),
        FitHow::Thread => format!("wide by {clearance:.2} mm: thread under the glue"),
        FitHow::Arbor => {
            format!("on an arbor with a wall of {:.1} mm", fit.arbor_mm.unwrap_or_default())
        }
        FitHow::TooWide => format!("too wide by {clearance:.2} mm"),
        FitHow::Sand | FitHow::TooTight => match fit.sanding {
            Some(sanding) if sanding.of_wall < 1.0 => format!(
                "{}: sand {:.2} mm off, {:.0} % of wall, {:.0} % of stiffness",
                if fit.how == FitHow::Sand { "tight" } else { "too tight" },
                sanding.off_diameter_mm,
                sanding.of_wall * 100.0,
                sanding.of_stiffness * 100.0
            ),
            _ => format!("too tight by {:.2} mm", -clearance),
        },
    }
}

/// Says how far each end may be cut, and how far it must be where nothing goes on yet.
pub fn how_far(units: Units, at: &FittingsAt) -> Vec<String> {
    let end = |part: &str, end: &str, left: Option<f64>, until: Option<f64>| {
        Some(match (left, until) {
            (None, None) => return None,
            (Some(_), None) => {
                format!("no {part} of the drawers goes on however much comes off the {end}")
            }
            (None, Some(until)) if until <= 0.0 => {
                format!("a {part} goes on however much comes off the {end}")
            }
            (None, Some(until)) => format!(
                "no {part} goes on yet: one does from {} more off the {end} on",
                cut_both(units, until)
            ),
            (Some(left), Some(until)) if until <= 0.0 => format!(
                "at most {} more off the {end} before no {part} goes on",
                cut_at_most(units, left)
            ),
            (Some(left), Some(until)) => format!(
                "no {part} goes on yet: one does from {} to {} more off the {end}",
                cut_both(units, until),
                cut_at_most(units, left)
            ),
        })
    };
    let tip = end("tip-top", "tip", at.left.tip_mm, at.until.tip_mm);
    let butt = end("butt ferrule", "butt", at.left.butt_mm, at.until.butt_mm);
    [tip, butt].into_iter().flatten().collect()
}
