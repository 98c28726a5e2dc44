//! `below-least-tip-angle`: the tip turns less far down than the customer allows.

use taperbook_plugin::FlagSpec;
use taperbook_record::Measure;

use crate::Flag;
use crate::crossing::{Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "below-least-tip-angle",
        finds: "a build whose tip turns less far down at its power than the least its `limits` allow, after a cut that did it or when the work is finished",
        why: "it bends lower down than was agreed; whether a cut at the other end brings that back depends on the taper",
        example: "`limits: { tip_angle: 60 deg .. }`, 62 deg before `cut: { tip: 1 in }` and 57 deg after it: try a butt cut with `taperbook try` before making one",
    },
    find: |case| crossed(case, &[Measure::TipAngle], Side::Low),
};
