//! How a fitting goes on, in words; the same on a screen and on a page.

use taperbook_plugin::{Fit, FitHow};

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
