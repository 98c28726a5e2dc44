//! `below-least-power`: a finished build holds less than the customer allows.

use taperbook_plugin::FlagSpec;
use taperbook_record::Measure;

use crate::Flag;
use crate::crossing::{Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "below-least-power",
        finds: "a finished build that holds less weight than the least power its `limits` allow; while cutting goes on it is none, because a tip cut makes it stiffer",
        why: "the rod will not lift or throw what the customer wants it for",
        example: "`limits: { power: 200 g .. 260 g }`, `verdict: keep`, and power reads 190 g: cut on from the tip if the length allows it, or change what was agreed",
    },
    find: |case| crossed(case, &[Measure::Power], Side::Low),
};
