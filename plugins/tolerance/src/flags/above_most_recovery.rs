//! `above-most-recovery`: the build recovers quicker than the customer allows.

use taperbook_plugin::FlagSpec;
use taperbook_record::Measure;

use crate::Flag;
use crate::crossing::{Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "above-most-recovery",
        finds: "a build that recovers quicker than the most its `limits` allow",
        why: "cutting makes a blank recover quicker and nothing makes it slower again",
        example: "`limits: { recovery: .. 6 Hz }`, 5.85 Hz before `cut: { tip: 1 in }` and 6.20 Hz after it: tap it again, then ask the customer",
    },
    find: |case| crossed(case, &[Measure::Recovery], Side::High),
};
