//! Whether the pieces of a model have become stiffer or softer over the years, bit by bit.
//!
//! A change at one piece is a batch, and not looked for here.

use taperbook_record::Date;

/// A piece and its power, uncut.
pub(super) struct At {
    /// The build.
    pub(super) record: String,
    /// When it came.
    pub(super) date: Option<Date>,
    /// kg.
    pub(super) power: f64,
    /// The standard deviation of its logarithm.
    pub(super) deviation: f64,
}

/// So many dated pieces are needed, over so many years.
const LEAST_PIECES: usize = 5;
const LEAST_YEARS: f64 = 0.5;
/// How much pieces of one model differ at least, as a part of their power (common practice, no source).
const LEAST_SPREAD: f64 = 0.01;

/// Says how power has drifted with the years; `None` where too few pieces are dated.
///
/// A straight line by least squares through the logarithms of power over time; its slope is unsure by how far the pieces lie about it
/// and by no less than their readings (Draper & Smith, *Applied Regression Analysis*, ch. 1, from memory). The range is that of Student's t.
pub(super) fn drift(powers: &[At]) -> Option<String> {
    let dated: Vec<(f64, &At)> =
        powers.iter().filter_map(|at| Some((years(at.date?), at))).collect();
    let n = dated.len();
    let first = dated.iter().map(|(year, _)| *year).fold(f64::INFINITY, f64::min);
    let last = dated.iter().map(|(year, _)| *year).fold(f64::NEG_INFINITY, f64::max);
    if n < LEAST_PIECES || last - first < LEAST_YEARS {
        return None;
    }
    let mean = |value: &dyn Fn(&(f64, &At)) -> f64| dated.iter().map(value).sum::<f64>() / n as f64;
    let (year, log) = (mean(&|one| one.0), mean(&|one| one.1.power.ln()));
    let across: f64 = dated.iter().map(|(at, _)| (at - year).powi(2)).sum();
    let along: f64 = dated.iter().map(|(at, one)| (at - year) * (one.power.ln() - log)).sum();
    let slope = along / across;
    let left = |(at, one): &(f64, &At)| (one.power.ln() - log - slope * (at - year)).powi(2);
    let about = dated.iter().map(left).sum::<f64>() / (n - 2) as f64;
    let read = mean(&|one| one.1.deviation.powi(2)).max(LEAST_SPREAD * LEAST_SPREAD);
    let half = student(n - 2) * (about.max(read) / across).sqrt();
    let percent = |log: f64| 100.0 * log.exp_m1();
    let range = format!("{:+.1} % … {:+.1} %", percent(slope - half), percent(slope + half));
    Some(if half < slope.abs() {
        let way = if 0.0 < slope { "stiffer" } else { "softer" };
        format!(
            "its pieces have become {way} by {:.1} % a year ({range}): what was read years ago counts as much as what was read \
             last, so trust the reading of the piece in hand before the forecast",
            percent(slope).abs()
        )
    } else {
        format!(
            "no drift over the years that chance does not explain: {:+.1} % a year ({range})",
            percent(slope)
        )
    })
}

fn years(date: Date) -> f64 {
    let days = Date::constant(1970, 1, 1).until(date).map_or(0, |span| span.get_days());
    f64::from(days) / 365.25
}

/// The 95 % point of Student's t with so many degrees of freedom, to a hundredth from three on (Abramowitz & Stegun 26.7.5).
fn student(degrees: usize) -> f64 {
    const X: f64 = 1.644_853_6;
    let n = degrees as f64;
    let g1 = (X.powi(3) + X) / 4.0;
    let g2 = (5.0 * X.powi(5) + 16.0 * X.powi(3) + 3.0 * X) / 96.0;
    let g3 = (3.0 * X.powi(7) + 19.0 * X.powi(5) + 17.0 * X.powi(3) - 15.0 * X) / 384.0;
    X + g1 / n + g2 / n.powi(2) + g3 / n.powi(3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn students_t_is_that_of_the_tables() {
        // Abramowitz & Stegun, table 26.10: 2.353, 2.015, 1.812, 1.697 (from memory).
        for (degrees, table) in [(3, 2.353), (5, 2.015), (10, 1.812), (30, 1.697)] {
            assert!((student(degrees) - table).abs() < 0.01, "{degrees}: {}", student(degrees));
        }
    }

    fn pieces(by_year: f64) -> Vec<At> {
        const WOBBLE: [f64; 8] = [0.01, -0.02, 0.015, -0.005, 0.02, -0.015, 0.0, -0.01];
        let at = |(idx, wobble): (usize, f64)| {
            let month = i8::try_from(1 + idx % 4 * 3).unwrap();
            let year = 2024 + i16::try_from(idx / 4).unwrap();
            let years = idx as f64 / 4.0;
            At {
                record: format!("builds/{idx}"),
                date: Some(Date::constant(year, month, 1)),
                power: 0.2 * (by_year * years + wobble).exp(),
                deviation: 0.02,
            }
        };
        WOBBLE.into_iter().enumerate().map(at).collect()
    }

    #[test]
    fn a_drift_is_said_where_chance_does_not_explain_it() {
        let line = |by_year: f64| drift(&pieces(by_year)).expect("eight dated pieces");
        assert!(line(0.0).starts_with("no drift"), "{}", line(0.0));
        assert!(line(0.08).contains("become stiffer by"), "{}", line(0.08));
        assert!(line(-0.08).contains("become softer by"), "{}", line(-0.08));
        let slope: f64 =
            line(0.08).split(" by ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
        assert!((slope - 100.0 * 0.08_f64.exp_m1()).abs() < 1.5, "{slope}");
        assert_eq!(drift(&pieces(0.1)[..4]), None);
    }
}
