//! A cut at both ends, as somebody wrote it.

use serde::Deserialize;
use taperbook_plugin::Cut;
use taperbook_plugin::print::cut_both;
use taperbook_record::{ItemText, Written};
use taperbook_units::{Dimension, Length, Units};

use crate::site::in_query;

/// What comes off each end, as it stands in an address.
#[derive(Clone, Default, Deserialize)]
pub(crate) struct Typed {
    #[serde(default)]
    pub(crate) tip: String,
    #[serde(default)]
    pub(crate) butt: String,
}

impl Typed {
    /// Reads what comes off each end.
    pub(crate) fn ends(&self) -> Result<Ends, String> {
        Ok(Ends { tip: end(&self.tip)?, butt: end(&self.butt)? })
    }

    /// Why it can't be, with what was written; the engine knows it in millimetres alone.
    pub(crate) fn refused(&self, why: &str) -> String {
        let ends = [("tip", &self.tip), ("butt", &self.butt)].into_iter();
        let written: Vec<String> = ends
            .filter(|(_, text)| !text.trim().is_empty())
            .map(|(end, text)| format!("`{}` off the {end}", text.trim()))
            .collect();
        if written.is_empty() {
            return why.to_owned();
        }
        format!("{} can't be tried: {why}", written.join(" and "))
    }

    /// The query that asks for it as it was written, with its question mark; empty where nothing was.
    pub(crate) fn query(&self) -> String {
        let parts: Vec<String> = [("tip", &self.tip), ("butt", &self.butt)]
            .into_iter()
            .filter(|(_, text)| !text.trim().is_empty())
            .map(|(end, text)| format!("{end}={}", in_query(text)))
            .collect();
        if parts.is_empty() { String::new() } else { format!("?{}", parts.join("&")) }
    }
}

/// A cut at both ends; an end that is left alone has none.
pub(crate) struct Ends {
    tip: Option<Written>,
    butt: Option<Written>,
}

impl Ends {
    pub(crate) fn mm(&self) -> (f64, f64) {
        let mm = |end: &Option<Written>| {
            end.as_ref().map_or(0.0, |end| Length::from_si(end.quantity.si).mm())
        };
        (mm(&self.tip), mm(&self.butt))
    }

    /// Whether nothing comes off.
    pub(crate) fn is_none(&self) -> bool {
        self.tip.is_none() && self.butt.is_none()
    }

    /// The cut for a question that makes one of its own where none is given.
    pub(crate) fn given(&self) -> (Option<f64>, Option<f64>) {
        let (tip_mm, butt_mm) = self.mm();
        if self.is_none() { (None, None) } else { (Some(tip_mm), Some(butt_mm)) }
    }

    /// The bench item of such a cut; `None` where nothing comes off.
    pub(crate) fn item(&self, today: &str) -> Option<String> {
        let mut item = ItemText::default();
        item.quantity("tip", self.tip.as_ref());
        item.quantity("butt", self.butt.as_ref());
        if item.is_empty() {
            return None;
        }
        item.plain("date", Some(today));
        Some(item.of("cut"))
    }
}

/// Reads what comes off an end; nothing written and nought are none.
fn end(text: &str) -> Result<Option<Written>, String> {
    if text.trim().is_empty() {
        return Ok(None);
    }
    let written = Written::parse(text, Dimension::Length)?;
    Ok((written.quantity.si != 0.0).then_some(written))
}

/// A cut in words, each end that something comes off of.
pub(crate) fn off(units: Units, cut: Cut) -> Vec<String> {
    [("tip", cut.tip_mm), ("butt", cut.butt_mm)]
        .into_iter()
        .filter(|(_, mm)| 0.0 < *mm)
        .map(|(end, mm)| format!("{} off the {end}", cut_both(units, mm)))
        .collect()
}
