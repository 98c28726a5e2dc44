//! The numbers of one piece over all cuts that may be made of it, from a few that are worked out.
//!
//! Nothing is judged here. A number that goes smoothly with the cuts is worked out at the nodes of a small grid and
//! interpolated in between by polynomials through Chebyshev's extreme points (J.-P. Berrut and L. N. Trefethen, SIAM
//! Review 46, 2004, equations 4.2 and 5.4): with 7 × 5 nodes a power is within a part in a thousand of what is worked
//! out there, which [`Surface::tied_to`] takes away where it matters.

use std::f64::consts::PI;

use taperbook_bench::{Cuts, Piece};
use taperbook_record::Measure;
use taperbook_units::Length;

/// Which cuts may be made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Room {
    /// So much must come off in all.
    pub(crate) least: Length,
    /// So much may come off in all.
    pub(crate) most: Length,
    /// So much may come off the tip.
    pub(crate) tip: Length,
    /// So much may come off the butt.
    pub(crate) butt: Length,
}

impl Room {
    /// Says whether a cut may be made.
    pub(crate) fn holds(&self, cuts: Cuts) -> bool {
        let slack = Length::from_mm(1e-6);
        cuts.tip <= self.tip + slack
            && cuts.butt <= self.butt + slack
            && cuts.total() <= self.most + slack
    }
}

/// Numbers over the cuts.
pub(crate) struct Surface {
    room: Room,
    total_nodes: Vec<f64>,
    sheets: Vec<Sheet>,
}

/// One number over the cuts.
struct Sheet {
    measure: Measure,
    kind: Kind,
    /// What makes it exact at the place that it is tied to.
    factor: f64,
}

enum Kind {
    /// The present length less the cuts, and less where it is held.
    Length(f64),
    /// A diameter follows from the cut at its end alone: values at even steps.
    Tip(Steps),
    Butt(Steps),
    /// Logarithms at the nodes, by the total and then by the tip's part of it.
    Smooth(Vec<[f64; N_PARTS]>),
}

/// Values at even steps, straight lines between.
struct Steps {
    step: f64,
    values: Vec<f64>,
}

const N_TOTALS: usize = 7;
const N_PARTS: usize = 5;
/// How finely a diameter is worked out along a cut.
const N_STEPS: u32 = 64;

impl Surface {
    /// Works out some numbers of a piece over further cuts; `None` where one can't be worked out at a node.
    pub(crate) fn new(
        piece: &Piece,
        off: Cuts,
        held_at: Length,
        room: Room,
        measures: &[Measure],
    ) -> Option<Self> {
        let total_nodes = match room.most - room.least {
            span if span < Length::from_mm(0.01) => vec![room.least.m()],
            span => nodes(N_TOTALS).map(|part| room.least.m() + part * span.m()).collect(),
        };
        let value = |measure: Measure, cuts: Cuts| {
            piece.value(measure, off.plus(cuts.tip, cuts.butt), held_at)
        };
        let none = Length::default();
        let sheet = |measure: &Measure| {
            let kind = match *measure {
                Measure::Length | Measure::FreeLength => {
                    Kind::Length(value(*measure, Cuts::default())?)
                }
                Measure::TipOd => {
                    let at = |cut| value(Measure::TipOd, Cuts { tip: cut, butt: none });
                    Kind::Tip(Steps::new(room.tip, at)?)
                }
                Measure::ButtOd => {
                    let at = |cut| value(Measure::ButtOd, Cuts { tip: none, butt: cut });
                    Kind::Butt(Steps::new(room.butt, at)?)
                }
                smooth => {
                    let at = |cuts| value(smooth, cuts).filter(|value| 0.0 < *value).map(f64::ln);
                    Kind::Smooth(
                        total_nodes
                            .iter()
                            .map(|total| nodes_of_row(*total, at))
                            .collect::<Option<_>>()?,
                    )
                }
            };
            Some(Sheet { measure: *measure, kind, factor: 1.0 })
        };
        let sheets = measures.iter().map(sheet).collect::<Option<_>>()?;
        Some(Self { room, total_nodes, sheets })
    }

    /// Gives the numbers after further cuts, in the order in which they were asked for; SI.
    pub(crate) fn values(&self, cuts: Cuts) -> Vec<f64> {
        self.row(cuts.total()).values(cuts.tip)
    }

    /// Gives the numbers with so much off in all, which is where many are asked for.
    pub(crate) fn row(&self, total: Length) -> Row<'_> {
        let along = |rows: &Vec<[f64; N_PARTS]>| {
            std::array::from_fn(|part_idx| {
                let down: Vec<f64> = rows.iter().map(|row| row[part_idx]).collect();
                interpolated(&self.total_nodes, &down, total.m())
            })
        };
        let smooth = |sheet: &Sheet| match &sheet.kind {
            Kind::Smooth(rows) => along(rows),
            _ => [0.0; N_PARTS],
        };
        Row {
            surface: self,
            total,
            parts: part_nodes(),
            along: self.sheets.iter().map(smooth).collect(),
        }
    }

    /// The same surface, exact at one place.
    #[must_use]
    pub(crate) fn tied_to(mut self, cuts: Cuts, exact: impl Fn(Measure) -> Option<f64>) -> Self {
        let found = self.values(cuts);
        for (sheet, found) in self.sheets.iter_mut().zip(found) {
            if let Some(exact) = exact(sheet.measure).filter(|_| found != 0.0) {
                sheet.factor *= exact / found;
            }
        }
        self
    }

    /// The cuts that may be made.
    pub(crate) fn room(&self) -> Room {
        self.room
    }
}

/// Numbers with so much off in all.
pub(crate) struct Row<'a> {
    surface: &'a Surface,
    total: Length,
    parts: [f64; N_PARTS],
    /// For each number that goes smoothly, its logarithms at the nodes from butt to tip.
    along: Vec<[f64; N_PARTS]>,
}

impl Row<'_> {
    /// Gives the numbers with so much of it off the tip.
    pub(crate) fn values(&self, tip: Length) -> Vec<f64> {
        let part = if Length::default() < self.total { tip / self.total } else { 0.0 };
        let value = |(sheet, along): (&Sheet, &[f64; N_PARTS])| {
            sheet.factor
                * match &sheet.kind {
                    Kind::Length(uncut) => uncut - self.total.m(),
                    Kind::Tip(steps) => steps.at(tip),
                    Kind::Butt(steps) => steps.at(self.total - tip),
                    Kind::Smooth(_) => interpolated(&self.parts, along, part).exp(),
                }
        };
        self.surface.sheets.iter().zip(&self.along).map(value).collect()
    }
}

/// One row of nodes: so much off in all, and from none to all of it off the tip.
fn nodes_of_row(total: f64, at: impl Fn(Cuts) -> Option<f64>) -> Option<[f64; N_PARTS]> {
    let mut row = [0.0; N_PARTS];
    for (value, part) in row.iter_mut().zip(part_nodes::<N_PARTS>()) {
        let tip = Length::from_m(part * total);
        *value = at(Cuts { tip, butt: Length::from_m(total) - tip })?;
        if total == 0.0 {
            return Some([*value; N_PARTS]);
        }
    }
    Some(row)
}

impl Steps {
    fn new(most: Length, at: impl Fn(Length) -> Option<f64>) -> Option<Self> {
        let step = most / f64::from(N_STEPS);
        let values = (0..=N_STEPS).map(|n| at(step * f64::from(n))).collect::<Option<_>>()?;
        Some(Self { step: step.m(), values })
    }

    fn at(&self, cut: Length) -> f64 {
        if self.step <= 0.0 {
            return self.values[0];
        }
        let place = (cut.m() / self.step).clamp(0.0, f64::from(N_STEPS));
        let (before, part) = (place.floor(), place.fract());
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "it lies between 0 and the number of steps"
        )]
        let before = before as usize;
        let after = self.values[(before + 1).min(self.values.len() - 1)];
        self.values[before] * (1.0 - part) + after * part
    }
}

/// Chebyshev's extreme points from 0 to 1.
fn nodes(n: usize) -> impl Iterator<Item = f64> {
    (0..n).map(move |k| 0.5 * (1.0 - (PI * k as f64 / (n - 1) as f64).cos()))
}

fn part_nodes<const N: usize>() -> [f64; N] {
    let mut all = nodes(N);
    std::array::from_fn(|_| all.next().unwrap_or(1.0))
}

/// The polynomial through Chebyshev's extreme points, by the second barycentric formula; a single node is a constant.
fn interpolated(nodes: &[f64], values: &[f64], at: f64) -> f64 {
    let (mut above, mut below) = (0.0, 0.0);
    for (k, (node, value)) in nodes.iter().zip(values).enumerate() {
        if at == *node || nodes.len() == 1 {
            return *value;
        }
        let half = if k == 0 || k == nodes.len() - 1 { 0.5 } else { 1.0 };
        let weight = if k % 2 == 0 { half } else { -half };
        above += weight / (at - node) * value;
        below += weight / (at - node);
    }
    above / below
}

#[cfg(test)]
mod tests {
    use taperbook_bench::piece;
    use taperbook_plugin::{Shelf, View};

    use super::*;

    /// Over half of a blank, the interpolated numbers are within half a percent of what is worked out, which is less than
    /// any of them is known to; at the place that it is tied to they are the same but for rounding.
    #[test]
    fn between_the_nodes_numbers_are_nearly_those_that_are_worked_out() {
        let card = "---\nkind: blank\nlength: 84 in\nmaterial: carbon\ncalipers:\n\
                    - { at: 0 in, od: 11.2 mm }\n- { at: 28 in, od: 8.4 mm }\n- { at: 56 in, od: 5 mm }\n\
                    - { at: 84 in, od: 1.8 mm }\n---\n";
        let mut shelf = Shelf::default();
        shelf.put(taperbook_record::read("blanks/heron.md", card.as_bytes()).record);
        let piece = piece(&View::new(&shelf), "blanks/heron").unwrap();
        let (held_at, half) = (Length::from_inches(9.0), Length::from_inches(42.0));
        let room = Room { least: Length::default(), most: half, tip: half, butt: half };
        let measures = [
            Measure::Power,
            Measure::Recovery,
            Measure::TipAngle,
            Measure::TipOd,
            Measure::ButtOd,
            Measure::Weight,
            Measure::Length,
        ];
        let surface = Surface::new(&piece, Cuts::default(), held_at, room, &measures).unwrap();
        let exact = |measure, cuts| piece.value(measure, cuts, held_at).unwrap();
        let mut cuts = Cuts::default();
        for (tip, butt) in
            [(0.0, 0.0), (1.3, 0.0), (0.0, 2.9), (4.1, 7.7), (17.0, 3.0), (8.0, 33.0)]
        {
            cuts = Cuts { tip: Length::from_inches(tip), butt: Length::from_inches(butt) };
            for (measure, found) in measures.into_iter().zip(surface.values(cuts)) {
                let exact = exact(measure, cuts);
                assert!(
                    (found / exact - 1.0).abs() < 5e-3,
                    "{measure:?} {tip} {butt}: {found} {exact}"
                );
            }
        }
        let tied = surface.tied_to(cuts, |measure| Some(exact(measure, cuts)));
        for (measure, found) in measures.into_iter().zip(tied.values(cuts)) {
            assert!((found / exact(measure, cuts) - 1.0).abs() < 1e-12, "{measure:?}");
        }
    }

    #[test]
    fn a_polynomial_of_the_nodes_degree_is_met_everywhere() {
        let polynomial = |x: f64| 3.0 - x + 0.5 * x.powi(3) - x.powi(6);
        let nodes: Vec<f64> = nodes(7).map(|part| 2.0 * part).collect();
        let values: Vec<f64> = nodes.iter().map(|x| polynomial(*x)).collect();
        for step in 0..=40 {
            let x = 0.05 * f64::from(step);
            let found = interpolated(&nodes, &values, x);
            // Rounding of numbers up to 2⁶, some hundred times over.
            assert!((found - polynomial(x)).abs() < 1e-12 * 64.0, "{x}: {found}");
        }
    }

    #[test]
    fn straight_lines_stand_between_steps_and_nothing_beyond_them() {
        let steps = Steps::new(Length::from_m(0.64), |cut| Some(1.0 + cut.m())).unwrap();
        assert!((steps.at(Length::from_m(0.123)) - 1.123).abs() < 1e-12);
        assert!((steps.at(Length::from_m(0.7)) - 1.64).abs() < 1e-12);
        let only = Steps::new(Length::default(), |_| Some(2.0)).unwrap();
        assert_eq!(only.at(Length::from_m(0.1)), 2.0);
    }
}
