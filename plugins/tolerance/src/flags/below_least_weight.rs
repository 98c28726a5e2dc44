//! `below-least-weight`: the blank is lighter than the customer allows.

use taperbook_plugin::FlagSpec;
use taperbook_record::Measure;

use crate::Flag;
use crate::crossing::{Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "below-least-weight",
        finds: "a blank that weighs less than the least its `limits` allow",
        why: "every cut takes weight off and none puts it back",
        example: "`limits: { weight: 40 g .. }` and the scale says 38.5 g after `cut: { butt: 3 in }`: weigh it again, then ask the customer",
    },
    find: |case| crossed(case, &[Measure::Weight], Side::Low),
};
