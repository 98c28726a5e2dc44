//! What is asked around the cut: fittings, the bench sheet, guides, the handover.

use serde::{Deserialize, Serialize};
use taperbook_plugin::GuideSide;

/// Which fittings go on a record's blank as it is, as tried, as planned and as suggested?
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FittingsAsked {
    /// The record's id, path or stem.
    pub record: String,
    /// A further tip cut to try.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tip_mm: Option<f64>,
    /// A further butt cut to try.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub butt_mm: Option<f64>,
}

/// What belongs on a sheet for the bench?
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SheetAsked {
    /// The record's id, path or stem.
    pub record: String,
    /// The tip cut; with neither cut given, the plan counts, else what is suggested.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tip_mm: Option<f64>,
    /// The butt cut.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub butt_mm: Option<f64>,
    /// Where it is held, when the record's own place is not meant.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub held_at_mm: Option<f64>,
}

/// Where do the guides go?
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GuidesAsked {
    /// The record's id, path or stem.
    pub record: String,
    /// A further tip cut that comes before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tip_mm: Option<f64>,
    /// A further butt cut that comes before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub butt_mm: Option<f64>,
    /// On which side of the bent blank the line runs.
    pub side: GuideSide,
    /// How many besides the tip-top; worked out when it is not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub count: Option<usize>,
    /// What hangs from the tip; the blank's power when it is not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub load_g: Option<f64>,
    /// Where it is held, when the record's own place is not meant.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub held_at_mm: Option<f64>,
}

/// What belongs on the customer's page?
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HandoverAsked {
    /// The record's id, path or stem.
    pub record: String,
}
