//! `above-most-weight`: a finished build is heavier than the customer allows.

use taperbook_plugin::FlagSpec;
use taperbook_record::Measure;

use crate::Flag;
use crate::crossing::{Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "above-most-weight",
        finds: "a finished build that weighs more than the most its `limits` allow; while cutting goes on it is none, because every cut takes weight off",
        why: "the rod is heavier in the hand than was agreed, and the work was called finished",
        example: "`limits: { weight: .. 45 g }`, `verdict: keep`, and the blank weighs 46.5 g: cut on if the length allows it, or change what was agreed",
    },
    find: |case| crossed(case, &[Measure::Weight], Side::High),
};
