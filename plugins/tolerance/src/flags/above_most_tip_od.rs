//! `above-most-tip-od`: the tip is thicker than the customer or the part allows.

use taperbook_plugin::FlagSpec;
use taperbook_record::Measure;

use crate::Flag;
use crate::crossing::{Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "above-most-tip-od",
        finds: "a build whose tip is thicker than the most its `limits` allow",
        why: "every tip cut makes the tip thicker, so the tip-top that was meant for it will not go on any more",
        example: "`limits: { tip_od: .. 2.2 mm }`, 2.15 mm before `cut: { tip: 1 in }` and 2.30 mm after it: look for a larger tip-top before any further cut",
    },
    find: |case| crossed(case, &[Measure::TipOd], Side::High),
};
