//! `choose --from`: which rods a blank could be, as a table and as a picture of plain characters.
//!
//! The picture stands in 80 columns and tells things apart by characters alone.

use taperbook_plugin::{ReachAdvice, ReachPoint, ReachRow};
use taperbook_units::{Length, Mass, Units};

use super::number;
use crate::style::{Cell, FAINT, PLAIN, STRONG, Table, clean, paint, width, wrapped};

/// How wide the band of the picture is, in characters.
const BAND: usize = 64;

/// Prints the answer to `choose --from`.
pub(crate) fn reach(units: Units, advice: &ReachAdvice) -> String {
    let cut = |mm: f64| units.cut(Length::from_mm(mm));
    let mut text = format!(
        "{}: the rods that it could be, held at {}\n\n",
        paint(STRONG, &clean(&advice.record)),
        cut(advice.held_at_mm)
    );
    text.push_str(&table(units, &advice.rows));
    text.push_str(&format!("\n{}", picture(units, advice)));
    for words in &advice.words {
        text.push_str(&wrapped(&clean(words), ""));
    }
    text
}

/// A row for each length with three of its powers, and the cuts that make them under it.
fn table(units: Units, rows: &[ReachRow]) -> String {
    let cut = |mm: f64| units.cut(Length::from_mm(mm));
    let mut table = Table::default();
    table.heading(["length", "most off the butt", "in between", "most off the tip"]);
    for row in rows {
        let shown: Vec<&ReachPoint> = match row.points.as_slice() {
            [] => continue,
            [only] => vec![only],
            several => vec![&several[0], &several[several.len() / 2], &several[several.len() - 1]],
        };
        let of = |at: usize, print: &dyn Fn(&ReachPoint) -> String| {
            shown.get(at).map(|point| print(point)).unwrap_or_default()
        };
        let power = |point: &ReachPoint| match point.power_g.value() {
            Some(_) => number::keyed(units, "power_g", &point.power_g),
            None => "not known".to_owned(),
        };
        let cuts = |point: &ReachPoint| match (point.cut.tip_mm, point.cut.butt_mm) {
            (0.0, 0.0) => "as it is".to_owned(),
            (tip, 0.0) => format!("tip {}", cut(tip)),
            (0.0, butt) => format!("butt {}", cut(butt)),
            (tip, butt) => format!("tip {}, butt {}", cut(tip), cut(butt)),
        };
        let length = units.length(Length::from_mm(row.length_mm));
        let styled = |at: usize| {
            let inside = shown.get(at).is_some_and(|point| point.inside);
            Cell::new(of(at, &power), if inside { STRONG } else { PLAIN })
        };
        table.cells([Cell::new(length, STRONG), styled(0), styled(1), styled(2)]);
        let under = |at: usize| Cell::new(of(at, &cuts), FAINT);
        table.cells([Cell::new("", PLAIN), under(0), under(1), under(2)]);
    }
    table.print("")
}

/// A band for each length, from the least power that cuts can give it to the most.
fn picture(units: Units, advice: &ReachAdvice) -> String {
    let powers = || {
        let points = advice.rows.iter().flat_map(|row| &row.points);
        points.filter_map(|point| point.power_g.value()).chain(advice.aim.1)
    };
    let (low, high) = powers()
        .fold((f64::INFINITY, 0.0_f64), |(low, high), power| (low.min(power), high.max(power)));
    if high <= 0.0 {
        return String::new();
    }
    let scale = Scale::new(low, high);
    let label = |row: &ReachRow| units.length(Length::from_mm(row.length_mm));
    let margin = advice.rows.iter().map(|row| width(&label(row))).max().unwrap_or(0);
    let aimed = advice.aim.0.and_then(|aim| nearest_row(&advice.rows, aim));
    let mut text = String::new();
    for (row_idx, row) in advice.rows.iter().enumerate() {
        let mut band = vec![' '; BAND];
        fill(&mut band, &scale, &row.points);
        if let Some(aim) = advice.aim.1
            && aimed.is_none_or(|aimed| aimed == row_idx)
        {
            band[scale.column(aim)] = if aimed.is_some() { 'X' } else { '|' };
        }
        let band: String = band.into_iter().collect();
        let line = format!("{:>margin$}  {}", label(row), band);
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text.push_str(&format!("{:margin$}  {}\n", "", "-".repeat(BAND)));
    text.push_str(&axis(units, &scale, margin));
    text.push_str(&legend(advice));
    text
}

/// Which column a power stands in.
struct Scale {
    low: f64,
    high: f64,
}

impl Scale {
    fn new(low: f64, high: f64) -> Self {
        let room = (0.02 * (high - low)).max(1.0);
        Self { low: low - room, high: high + room }
    }

    fn column(&self, power: f64) -> usize {
        let part = ((power - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "it lies between 0 and the width of the band"
        )]
        let column = (part * (BAND - 1) as f64).round() as usize;
        column
    }
}

/// Fills a band between the points of a row, and marks its ends.
fn fill(band: &mut [char], scale: &Scale, points: &[ReachPoint]) {
    let known: Vec<(f64, bool)> =
        points.iter().filter_map(|point| Some((point.power_g.value()?, point.inside))).collect();
    for pair in known.windows(2) {
        let (one, other) = (scale.column(pair[0].0), scale.column(pair[1].0));
        for (column, place) in band.iter_mut().enumerate() {
            if column < one.min(other) || one.max(other) < column {
                continue;
            }
            let nearer_one = column.abs_diff(one) <= column.abs_diff(other);
            let inside = if nearer_one { pair[0].1 } else { pair[1].1 };
            *place = if inside { '#' } else { '.' };
        }
    }
    if let [first, .., last] = known.as_slice() {
        band[scale.column(first.0)] = 'b';
        band[scale.column(last.0)] = 't';
    } else if let [(power, inside)] = known.as_slice() {
        band[scale.column(*power)] = if *inside { '#' } else { 'o' };
    }
}

fn nearest_row(rows: &[ReachRow], length_mm: f64) -> Option<usize> {
    let off = |idx: &usize| (rows[*idx].length_mm - length_mm).abs();
    (0..rows.len()).min_by(|a, b| off(a).total_cmp(&off(b)))
}

/// Five powers under the band.
fn axis(units: Units, scale: &Scale, margin: usize) -> String {
    const N_TICKS: usize = 5;
    let mut line = " ".repeat(margin + 2);
    for tick in 0..N_TICKS {
        let part = tick as f64 / (N_TICKS - 1) as f64;
        let power = units.mass(Mass::from_g((scale.low + part * (scale.high - scale.low)).round()));
        let middle = margin + 2 + (BAND - 1) * tick / (N_TICKS - 1);
        // The first stands where the band begins and the last where it ends.
        let start = match tick {
            0 => middle,
            _ if tick == N_TICKS - 1 => (middle + 1).saturating_sub(width(&power)),
            _ => middle.saturating_sub(width(&power) / 2),
        };
        let owed = start.saturating_sub(width(&line));
        line.push_str(&" ".repeat(owed));
        line.push_str(&power);
    }
    line + "\n"
}

fn legend(advice: &ReachAdvice) -> String {
    let mut words =
        vec!["power to the right; b all of the cut at the butt, t all of it at the tip"];
    if advice.rows.iter().any(|row| row.points.len() == 1) {
        words.push("o where there is one way to it");
    }
    if advice.has_limits {
        words.push("# inside all limits, . not");
    }
    match advice.aim {
        (Some(_), Some(_)) => words.push("X the aim"),
        (None, Some(_)) => words.push("| the power aimed for"),
        _ => {}
    }
    wrapped(&words.join("; "), "")
}

#[cfg(test)]
mod tests {
    use expect_test::expect;
    use taperbook_plugin::{Cut, Number, State};

    use super::*;
    use crate::render::sample;

    fn point(tip_mm: f64, butt_mm: f64, power: f64) -> ReachPoint {
        ReachPoint {
            cut: Cut { tip_mm, butt_mm },
            power_g: Number::Known { value: power, low: 0.95 * power, high: 1.05 * power },
            inside: (215.0..230.0).contains(&power),
            chance_inside_limits: None,
            expected: State::new([]),
        }
    }

    fn advice() -> ReachAdvice {
        ReachAdvice {
            record: "blanks/heron-704".to_owned(),
            held_at_mm: 228.6,
            present: point(0.0, 0.0, 212.0),
            rows: vec![
                ReachRow { length_mm: 2184.4, points: vec![point(0.0, 0.0, 212.0)] },
                ReachRow {
                    length_mm: 2133.6,
                    points: vec![
                        point(0.0, 50.8, 207.0),
                        point(25.4, 25.4, 219.0),
                        point(50.8, 0.0, 233.0),
                    ],
                },
                ReachRow {
                    length_mm: 2082.8,
                    points: vec![
                        point(0.0, 101.6, 203.0),
                        point(50.8, 50.8, 226.0),
                        point(101.6, 0.0, 258.0),
                    ],
                },
            ],
            length_allowed: (None, None),
            power_allowed: (Some(215.0), Some(230.0)),
            has_limits: true,
            aim: (Some(2100.0), Some(222.0)),
            words: vec!["the butt is settled".to_owned()],
        }
    }

    #[test]
    fn the_table_and_the_picture_stand_in_eighty_columns() {
        let text = reach(Units::Inches, &advice());
        let plain = anstream::adapter::strip_str(&text).to_string();
        assert!(plain.lines().all(|line| width(line) <= 80), "{plain}");
        sample::check(
            &text,
            expect![[r#"
                blanks/heron-704: the rods that it could be, held at 9 in

                length  most off the butt  in between           most off the tip
                7'2"    212 g (201 … 223)
                        as it is
                7'0"    207 g (197 … 217)  219 g (208 … 230)    233 g (221 … 245)
                        butt 2 in          tip 1 in, butt 1 in  tip 2 in
                6'10"   203 g (193 … 213)  226 g (215 … 237)    258 g (245 … 271)
                        butt 4 in          tip 2 in, butt 2 in  tip 4 in

                 7'2"             o
                 7'0"        b......##############.......t
                6'10"   b.............#######X######################.................t
                       ----------------------------------------------------------------
                       202 g        216 g           231 g           245 g         259 g
                power to the right; b all of the cut at the butt, t all of it at the tip; o
                where there is one way to it; # inside all limits, . not; X the aim
                the butt is settled
            "#]],
        );
    }

    #[test]
    fn what_has_no_power_is_no_harm() {
        let mut advice = advice();
        for row in &mut advice.rows {
            for point in &mut row.points {
                point.power_g = Number::missing("power");
            }
        }
        advice.aim = (None, None);
        let text = reach(Units::Millimetres, &advice);
        assert!(text.contains("not known") && !text.contains("NaN"), "{text}");
    }
}
