//! `above-most-tip-angle`: the tip turns further down than the customer allows.

use taperbook_plugin::FlagSpec;
use taperbook_record::Measure;

use crate::Flag;
use crate::crossing::{Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "above-most-tip-angle",
        finds: "a build whose tip turns further down at its power than the most its `limits` allow, after a cut that did it or when the work is finished",
        why: "it bends higher up than was agreed; whether a cut at the other end brings that back depends on the taper",
        example: "`limits: { tip_angle: .. 66 deg }`, 64 deg before `cut: { butt: 3 in }` and 68 deg after it: try a tip cut with `taperbook try` before making one",
    },
    find: |case| crossed(case, &[Measure::TipAngle], Side::High),
};
