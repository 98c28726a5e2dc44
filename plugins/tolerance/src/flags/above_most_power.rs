//! `above-most-power`: the build holds more than the customer allows.

use taperbook_plugin::FlagSpec;
use taperbook_record::Measure;

use crate::Flag;
use crate::crossing::{Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "above-most-power",
        finds: "a build that holds more weight than the most power its `limits` allow",
        why: "a tip cut makes a blank stiffer and nothing makes it softer again: the rod will not load with what the customer throws",
        example: "`limits: { power: .. 260 g }`, 246 g before `cut: { tip: 1 in }` and 268 g after it: stop at the tip, read the power again, and ask the customer",
    },
    find: |case| crossed(case, &[Measure::Power], Side::High),
};
