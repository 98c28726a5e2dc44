//! `below-shortest-length`: the blank is shorter than the customer allows; a longer one than allowed is another flag.

use taperbook_plugin::FlagSpec;
use taperbook_record::Measure;

use crate::Flag;
use crate::crossing::{Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "below-shortest-length",
        finds: "a blank that is shorter than the shortest length its `limits` allow",
        why: "what is cut off cannot be put back: ask the customer, or take another blank for this rod",
        example: "`limits: { length: 6'8\" .. 7'0\" }`, the blank was 6'8 1/2\" and `cut: { tip: 1 in }` leaves 6'7 1/2\": 1/2\" below the shortest allowed. Ask before going on, and write what was agreed in `told`",
    },
    find: |case| crossed(case, &[Measure::Length], Side::Low),
};
