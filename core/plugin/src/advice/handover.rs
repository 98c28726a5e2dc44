//! What belongs on the page that goes with a rod to its customer.

use serde::{Deserialize, Serialize};

use super::{Chance, Cut, GuidesAdvice, WalkStep};
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
    /// What is still to be cut and would come of it; `null` for a build that is done, or when nothing is planned or suggested.
    pub proposed: Option<Proposed>,
    /// Bent with guides, as it is or as it would be, beside the uncut blank; `null` where that can't be worked out.
    pub guides: Option<GuidesAdvice>,
    /// What the customer was told, and agreed to.
    pub told: Option<String>,
    /// What the customer said of it afterwards.
    pub said: Option<String>,
    /// `keep`, `recut` or `scrap`; `null` while it is on the bench.
    pub verdict: Option<String>,
}

/// Cuts that a customer is to agree to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Proposed {
    /// Where they come from: `as planned` or `as suggested`.
    pub cuts_from: String,
    /// What would still come off.
    pub cut: Cut,
    /// The blank after it.
    pub expected: State,
    /// What is allowed, and how surely it is kept then.
    pub limits: Vec<Chance>,
}
