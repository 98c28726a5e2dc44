//! `above-longest-length`: a finished build is longer than the customer allows.

use taperbook_plugin::FlagSpec;
use taperbook_record::Measure;

use crate::Flag;
use crate::crossing::{Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "above-longest-length",
        finds: "a finished build that is longer than the longest length its `limits` allow; while cutting goes on it is none, because the next cut may cure it",
        why: "the rod does not go where the customer must take it, and the work was called finished",
        example: "`limits: { length: .. 7'0\" }` and `verdict: keep` on a blank of 7'1\": cut the inch that is left, or agree on the length and change the limit",
    },
    find: |case| crossed(case, &[Measure::Length], Side::High),
};
