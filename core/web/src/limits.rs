//! What a customer allows, as the record says it.

use maud::{Markup, PreEscaped};
use taperbook_draw::Bar;
use taperbook_engine::ShowAnswer;
use taperbook_plugin::Number;
use taperbook_plugin::print::keyed_value;
use taperbook_units::{Quantity, Units};

/// A limit in figures.
#[derive(Debug, PartialEq)]
pub(crate) struct Limit {
    /// The key that carries the unit, such as `power_g`.
    pub(crate) key: &'static str,
    low: Option<f64>,
    high: Option<f64>,
}

/// The limits of a build; a card has none.
pub(crate) fn limits(shown: &ShowAnswer) -> Vec<Limit> {
    let parsed = taperbook_record::read(&shown.path, shown.text.as_bytes());
    let limits = parsed.record.build().map_or(&[][..], |build| &build.limits);
    let limit = |limit: &taperbook_record::Limit| {
        let unit = limit.measure.json_unit();
        let in_unit = |end: Option<Quantity>| end.map(|end| end.si / unit);
        Limit {
            key: limit.measure.json_key(),
            low: in_unit(limit.range.low),
            high: in_unit(limit.range.high),
        }
    };
    limits.iter().map(limit).collect()
}

impl Limit {
    /// A bar of a number beside what is allowed.
    pub(crate) fn bar(&self, number: Option<&Number>) -> Markup {
        let known = number.and_then(Number::known);
        let bar = Bar { known, allowed: (self.low, self.high), read: None };
        PreEscaped(taperbook_draw::bar(&bar))
    }

    /// What is allowed, in words.
    pub(crate) fn allowed(&self, units: Units) -> String {
        let end = |end: Option<f64>| end.map(|value| keyed_value(units, self.key, value));
        match (end(self.low), end(self.high)) {
            (Some(low), Some(high)) => format!("{low} to {high}"),
            (Some(low), None) => format!("{low} or more"),
            (None, Some(high)) => format!("{high} or less"),
            (None, None) => String::new(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_is_what_the_record_says_whatever_else_is_known_of_the_piece() {
        let of = |text: &str| {
            limits(&ShowAnswer {
                record: "builds/ilse".to_owned(),
                path: "builds/ilse.md".to_owned(),
                title: "Ilse".to_owned(),
                kind: "build".to_owned(),
                text: text.to_owned(),
                blank: None,
                builds: Vec::new(),
                numbers: Default::default(),
                bench: Vec::new(),
                flags: Vec::new(),
                problems: Vec::new(),
            })
        };
        let both = "---\nkind: build\nlimits: { length: 75 in .. 80 in, tip_od: .. 2.2 mm }\n---\n";
        let limits = of(both);
        let ends: Vec<_> = limits.iter().map(|limit| (limit.key, limit.low, limit.high)).collect();
        assert_eq!(
            ends,
            [("length_mm", Some(1905.0), Some(2032.0)), ("tip_od_mm", None, Some(2.2))]
        );
        assert_eq!(limits[0].allowed(Units::Inches), "6'3\" to 6'8\"");
        assert_eq!(limits[1].allowed(Units::Millimetres), "2.20 mm or less");
        assert!(limits[0].bar(None).0.contains("class=\"pale\""), "what is allowed is drawn");
        assert_eq!(of("---\nkind: blank\n---\n"), []);
    }
}
