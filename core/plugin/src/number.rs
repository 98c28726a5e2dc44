//! Numbers with their range, and the numbers of one state of a piece.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use taperbook_record::Measure;
use taperbook_units::Dimension;

/// A number with its 5 %–95 % range, or what must be measured to have it.
///
/// Inside a plugin the values are SI; in JSON they are in the unit that the key names.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Number {
    /// It is known.
    Known {
        /// The best value.
        value: f64,
        /// The true value is below this once in twenty.
        low: f64,
        /// The true value is above this once in twenty.
        high: f64,
    },
    /// It is not known.
    Missing {
        /// What to measure.
        missing: String,
    },
}

impl Number {
    /// Makes a number that has no uncertainty worth telling, such as a sum of cuts.
    pub fn exact(value: f64) -> Self {
        Number::Known { value, low: value, high: value }
    }

    /// Makes the answer of what must be measured.
    pub fn missing(what: impl Into<String>) -> Self {
        Number::Missing { missing: what.into() }
    }

    /// Gives the best value.
    pub fn value(&self) -> Option<f64> {
        match self {
            Number::Known { value, .. } => Some(*value),
            Number::Missing { .. } => None,
        }
    }

    /// Gives the value, low and high.
    pub fn known(&self) -> Option<(f64, f64, f64)> {
        match self {
            Number::Known { value, low, high } => Some((*value, *low, *high)),
            Number::Missing { .. } => None,
        }
    }

    /// Multiplies it, as when it changes units.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        match self {
            Number::Known { value, low, high } => {
                Number::Known { value: value * factor, low: low * factor, high: high * factor }
            }
            Number::Missing { missing } => Number::missing(missing.clone()),
        }
    }
}

/// A number that a plugin gives to a record and a query can ask for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NumberSpec {
    /// The key in queries: `power`, `uncut_power`, `tip_cut`.
    pub key: String,
    /// What it measures; SI inside.
    pub dimension: Dimension,
    /// What it means, in a line.
    pub meaning: String,
}

/// Gives the key in JSON, which carries the unit, and what that unit is in SI units: `tip_cut` is `tip_cut_mm`, 0.001.
pub fn json_key(key: &str, dimension: Dimension) -> (String, f64) {
    let (suffix, unit) = match dimension {
        Dimension::Length => ("_mm", 1e-3),
        Dimension::Mass => ("_g", 1e-3),
        Dimension::Angle => ("_deg", std::f64::consts::PI / 180.0),
        Dimension::Frequency => ("_hz", 1.0),
        Dimension::Pressure => ("_pa", 1.0),
        Dimension::Density => ("_kg_m3", 1.0),
        Dimension::Force => ("_n", 1.0),
        Dimension::Fraction => ("_pct", 1e-2),
        Dimension::Count => ("", 1.0),
    };
    (format!("{key}{suffix}"), unit)
}

/// All numbers of a record, by key, SI inside.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NumberSet(Vec<(String, Number)>);

impl NumberSet {
    /// Makes a set; a key that comes twice keeps its first number.
    pub fn new(mut numbers: Vec<(String, Number)>) -> Self {
        numbers.sort_by(|a, b| a.0.cmp(&b.0));
        numbers.dedup_by(|a, b| a.0 == b.0);
        Self(numbers)
    }

    /// Finds a number by its key.
    pub fn get(&self, key: &str) -> Option<&Number> {
        self.0.binary_search_by(|(k, _)| k.as_str().cmp(key)).ok().map(|at| &self.0[at].1)
    }

    /// Goes through all of them in the order of their keys.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &Number)> {
        self.0.iter().map(|(key, number)| (key.as_str(), number))
    }
}

/// The numbers of one state of a piece.
///
/// In JSON it is a map with the keys that carry their unit (`length_mm`, `power_g`, …). The numbers are kept in those
/// units, so that an answer reads the same to the last bit on either side of a socket; they go in and come out in SI.
#[derive(Debug, Clone, PartialEq)]
pub struct State(Vec<(Measure, Number)>);

impl State {
    /// Makes a state of numbers in SI units.
    pub fn new(numbers: impl IntoIterator<Item = (Measure, Number)>) -> Self {
        let in_json = |(measure, number): (Measure, Number)| {
            (measure, number.scaled(1.0 / measure.json_unit()))
        };
        Self(numbers.into_iter().map(in_json).collect())
    }

    /// Goes through the numbers in SI units, in the order in which they are shown.
    pub fn iter(&self) -> impl Iterator<Item = (Measure, Number)> {
        self.0.iter().map(|(measure, number)| (*measure, number.scaled(measure.json_unit())))
    }

    /// Gives one number in SI units.
    pub fn get(&self, measure: Measure) -> Option<Number> {
        self.iter().find(|(known, _)| *known == measure).map(|(_, number)| number)
    }

    /// Gives the value of one number in SI units.
    pub fn value(&self, measure: Measure) -> Option<f64> {
        self.get(measure).as_ref().and_then(Number::value)
    }
}

impl Serialize for State {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(measure, number)| (measure.json_key(), number)))
    }
}

impl<'de> Deserialize<'de> for State {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let mut map = std::collections::BTreeMap::<String, Number>::deserialize(deserializer)?;
        let known =
            |measure: Measure| map.remove(measure.json_key()).map(|number| (measure, number));
        Ok(Self(Measure::ALL.into_iter().filter_map(known).collect()))
    }
}
