//! NIST's certified nonlinear problems, from both of their starting points.
//!
//! NIST StRD (Statistical Reference Datasets), nonlinear regression, public domain; `tests/outside/nist/README.md` says which
//! sets are files of NIST and which were recalled from memory and confirmed by computing.

use super::{Before, Limits, Minimum, Misses, minimise};

/// y of a model at x, and its derivatives by the parameters b.
type Model = fn(b: &[f64], x: f64) -> (f64, Vec<f64>);

struct Certified {
    starts: [Vec<f64>; 2],
    values: Vec<f64>,
    sds: Vec<f64>,
    sum_of_squares: f64,
    /// (y, x).
    data: Vec<(f64, f64)>,
}

impl Certified {
    fn parse(text: &str) -> Self {
        let number = |word: &str| word.parse::<f64>().unwrap();
        let mut certified = Self {
            starts: [Vec::new(), Vec::new()],
            values: Vec::new(),
            sds: Vec::new(),
            sum_of_squares: f64::NAN,
            data: Vec::new(),
        };
        // The header, too, has lines that begin with the word.
        let mut in_data = false;
        for line in text.lines() {
            let words: Vec<&str> = line.split_whitespace().collect();
            match words[..] {
                [parameter, "=", one, two, value, sd] if parameter.starts_with('b') => {
                    certified.starts[0].push(number(one));
                    certified.starts[1].push(number(two));
                    certified.values.push(number(value));
                    certified.sds.push(number(sd));
                }
                ["Residual", "Sum", "of", "Squares:", sum] => {
                    certified.sum_of_squares = number(sum)
                }
                ["Data:", "y", "x"] => in_data = true,
                [y, x] if in_data => certified.data.push((number(y), number(x))),
                _ => {}
            }
        }
        assert!(certified.values.len() < certified.data.len(), "the set lacks data");
        certified
    }
}

struct Problem<'data> {
    model: Model,
    data: &'data [(f64, f64)],
}

impl Misses for Problem<'_> {
    fn at(&mut self, b: &[f64], misses: &mut Vec<f64>, rows: &mut Vec<f64>) -> bool {
        for &(y, x) in self.data {
            let (predicted, by) = (self.model)(b, x);
            misses.push(y - predicted);
            rows.extend(by);
        }
        true
    }
}

/// How many significant digits two numbers share.
fn digits(found: f64, certified: f64) -> f64 {
    -((found - certified) / certified).abs().log10()
}

/// Solves a set from both starts: six digits of each parameter and of the sum of squares, four of each standard deviation.
#[track_caller]
fn check(text: &str, model: Model) {
    let certified = Certified::parse(text);
    for start in &certified.starts {
        let mut problem = Problem { model, data: &certified.data };
        let limits = Limits { to_go: 1e-8, n_predictions: 5000 };
        let found = minimise(&mut problem, start, Before::Nothing, limits).unwrap();
        let covariance = found.covariance();
        let Minimum { x, cost, settled, n_predictions, .. } = found;
        assert!(settled, "not settled from {start:?} after {n_predictions} predictions, at {x:?}");
        // The fewest digits of a parameter, and of a standard deviation.
        let mut least = (f64::INFINITY, f64::INFINITY);
        let variance = 2.0 * cost / (certified.data.len() - x.len()) as f64;
        let covariance = covariance.unwrap();
        for (i, value) in x.iter().enumerate() {
            least.0 = least.0.min(digits(*value, certified.values[i]));
            let sd = (variance * covariance[(i, i)]).sqrt();
            least.1 = least.1.min(digits(sd, certified.sds[i]));
        }
        let of_sum = digits(2.0 * cost, certified.sum_of_squares);
        let said = format!(
            "from {start:?} at {x:?} after {n_predictions} predictions: digits {least:?}, of the sum {of_sum}"
        );
        assert!(6.0 <= least.0 && 6.0 <= of_sum && 4.0 <= least.1, "{said}");
    }
}

/// The text of a set.
macro_rules! set {
    ($file:literal) => {
        include_str!(concat!("../../../tests/outside/nist/", $file))
    };
}

/// b₁ (1 − exp(−b₂ x)).
fn saturating(b: &[f64], x: f64) -> (f64, Vec<f64>) {
    let left = (-b[1] * x).exp();
    (b[0] * (1.0 - left), vec![1.0 - left, b[0] * x * left])
}

#[test]
fn misra1a() {
    check(set!("Misra1a.dat"), saturating);
}

#[test]
fn box_bod() {
    check(set!("BoxBOD.dat"), saturating);
}

#[test]
fn misra1b() {
    check(set!("Misra1b.dat"), |b, x| {
        let base = 1.0 + 0.5 * b[1] * x;
        (b[0] * (1.0 - base.powi(-2)), vec![1.0 - base.powi(-2), b[0] * x * base.powi(-3)])
    });
}

#[test]
fn misra1c() {
    check(set!("Misra1c.txt"), |b, x| {
        let left = (1.0 + 2.0 * b[1] * x).powf(-0.5);
        (b[0] * (1.0 - left), vec![1.0 - left, b[0] * x * left.powi(3)])
    });
}

#[test]
fn misra1d() {
    check(set!("Misra1d.txt"), |b, x| {
        let under = 1.0 + b[1] * x;
        (b[0] * b[1] * x / under, vec![b[1] * x / under, b[0] * x / (under * under)])
    });
}

#[test]
fn dan_wood() {
    check(set!("DanWood.txt"), |b, x| {
        let power = x.powf(b[1]);
        (b[0] * power, vec![power, b[0] * power * x.ln()])
    });
}

#[test]
fn mgh09() {
    check(set!("MGH09.dat"), |b, x| {
        let (over, under) = (x * x + x * b[1], x * x + x * b[2] + b[3]);
        let y = b[0] * over / under;
        (y, vec![over / under, b[0] * x / under, -y * x / under, -y / under])
    });
}

#[test]
fn mgh10() {
    check(set!("MGH10.txt"), |b, x| {
        let under = x + b[2];
        let grown = (b[1] / under).exp();
        let y = b[0] * grown;
        (y, vec![grown, y / under, -y * b[1] / (under * under)])
    });
}

#[test]
fn mgh17() {
    check(set!("MGH17.txt"), |b, x| {
        let (one, two) = ((-b[3] * x).exp(), (-b[4] * x).exp());
        let y = b[0] + b[1] * one + b[2] * two;
        (y, vec![1.0, one, two, -b[1] * x * one, -b[2] * x * two])
    });
}

#[test]
fn rat42() {
    check(set!("Rat42.txt"), |b, x| {
        let left = (b[1] - b[2] * x).exp();
        let y = b[0] / (1.0 + left);
        let slope = y * left / (1.0 + left);
        (y, vec![1.0 / (1.0 + left), -slope, slope * x])
    });
}

#[test]
fn rat43() {
    check(set!("Rat43.txt"), |b, x| {
        let left = (b[1] - b[2] * x).exp();
        let part = (1.0 + left).powf(-1.0 / b[3]);
        let y = b[0] * part;
        let slope = y * left / (b[3] * (1.0 + left));
        (y, vec![part, -slope, slope * x, y * (1.0 + left).ln() / (b[3] * b[3])])
    });
}

#[test]
fn thurber() {
    check(set!("Thurber.txt"), |b, x| {
        let over = b[0] + x * (b[1] + x * (b[2] + x * b[3]));
        let under = 1.0 + x * (b[4] + x * (b[5] + x * b[6]));
        let y = over / under;
        let (one, other) = (1.0 / under, -y / under);
        let (square, cube) = (x * x, x * x * x);
        (y, vec![one, x * one, square * one, cube * one, x * other, square * other, cube * other])
    });
}
