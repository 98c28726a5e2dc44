//! `above-most-butt-od`: the butt is thicker than the customer or the part allows.

use taperbook_plugin::FlagSpec;
use taperbook_record::Measure;

use crate::Flag;
use crate::crossing::{Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "above-most-butt-od",
        finds: "a build whose butt is settled or whose work is finished, with a butt thicker than the most its `limits` allow",
        why: "the seat or ferrule that was meant for it does not go on, and only a butt cut makes the butt thinner",
        example: "`limits: { butt_od: .. 10.6 mm }`, the butt reads 10.90 mm, and `settled: { butt: … }`: cut on at the butt, or choose a larger seat and change the limit",
    },
    find: |case| crossed(case, &[Measure::ButtOd], Side::High),
};
