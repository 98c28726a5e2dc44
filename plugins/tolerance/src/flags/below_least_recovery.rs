//! `below-least-recovery`: a finished build recovers more slowly than the customer allows.

use taperbook_plugin::FlagSpec;
use taperbook_record::Measure;

use crate::Flag;
use crate::crossing::{Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "below-least-recovery",
        finds: "a finished build that recovers more slowly than the least its `limits` allow; while cutting goes on it is none, because a shorter blank recovers quicker",
        why: "the rod goes on nodding after the cast, and the work was called finished",
        example: "`limits: { recovery: 5.5 Hz .. }`, `verdict: keep`, and it taps at 5.20 Hz: cut on from the tip if the other limits allow it",
    },
    find: |case| crossed(case, &[Measure::Recovery], Side::Low),
};
