//! `below-limit`: a number that has no flag of its own is below what its `limits` allow.
//!
//! Length, diameters, weight, power, tip angle and recovery have flags of their own.

use taperbook_plugin::FlagSpec;

use crate::Flag;
use crate::crossing::{OTHERS, Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "below-limit",
        finds: "a free length, balance point, stiffness for its length or bend centre that is below what the `limits` allow, where no further cut can cure it, a cut has crossed it, or the work is finished",
        why: "the customer's brief names it, and what is cut off cannot be put back",
        example: "`limits: { stiffness_for_length: 0.95 .. }` and 0.92 after `cut: { butt: 4 in }`: try a tip cut with `taperbook try`, which raises it, before making one",
    },
    find: |case| crossed(case, &OTHERS, Side::Low),
};
