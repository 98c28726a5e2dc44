//! What belongs on the page that goes with a rod to its customer.

use serde::{Deserialize, Serialize};

use super::{Chance, GuidesAdvice, WalkStep};
use crate::State;

/// The customer's page of a build.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HandoverAdvice {
    /// The record's id.
    pub record: String,
    /// Its title.
    pub title: String,
    /// The shop's name.
    pub shop: Option<String>,
    /// Whose it is.
    pub customer: Option<String>,
    /// What it is for.
    pub purpose: Option<String>,
    /// The build's date.
    pub date: Option<String>,
    /// The blank card's id.
    pub blank: Option<String>,
    /// What was aimed for: quantity and value as a person reads them.
    pub aims: Vec<(String, String)>,
    /// What was allowed, and how surely the piece as it is keeps it.
    pub limits: Vec<Chance>,
    /// The bench: what was cut, in order.
    pub cuts: Vec<WalkStep>,
    /// The blank before any cut.
    pub before: State,
    /// The blank as it is.
    pub after: State,
    /// Both bent, with guides; `null` where that can't be worked out.
    pub guides: Option<GuidesAdvice>,
    /// What the customer was told, and agreed to.
    pub told: Option<String>,
    /// What the customer said of it afterwards.
    pub said: Option<String>,
    /// `keep`, `recut` or `scrap`; `null` while it is on the bench.
    pub verdict: Option<String>,
}
