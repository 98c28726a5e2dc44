//! `below-least-tip-od`: the tip is thinner than the customer or the part allows.

use taperbook_plugin::FlagSpec;
use taperbook_record::Measure;

use crate::Flag;
use crate::crossing::{Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "below-least-tip-od",
        finds: "a build whose tip is settled or whose work is finished, with a tip thinner than the least its `limits` allow",
        why: "the tip-top that was meant for it sits loose, and only a tip cut makes the tip thicker",
        example: "`limits: { tip_od: 2.0 mm .. 2.3 mm }`, the tip reads 1.90 mm, and `settled: { tip: … }`: cut on at the tip, or choose a smaller tip-top and change the limit",
    },
    find: |case| crossed(case, &[Measure::TipOd], Side::Low),
};
