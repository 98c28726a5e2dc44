//! `above-limit`: a number that has no flag of its own is above what its `limits` allow.
//!
//! Length, diameters, weight, power, tip angle and recovery have flags of their own.

use taperbook_plugin::FlagSpec;

use crate::Flag;
use crate::crossing::{OTHERS, Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "above-limit",
        finds: "a free length, balance point, stiffness for its length or bend centre that is above what the `limits` allow, where a cut has crossed it or the work is finished",
        why: "the customer's brief names it, and what is cut off cannot be put back",
        example: "`limits: { bend_centre: .. 40 % }`, 39 % before `cut: { tip: 1 in }` and 41 % after it: try a butt cut with `taperbook try` before making one",
    },
    find: |case| crossed(case, &OTHERS, Side::High),
};
