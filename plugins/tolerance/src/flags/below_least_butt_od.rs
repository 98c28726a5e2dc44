//! `below-least-butt-od`: the butt is thinner than the customer or the part allows.

use taperbook_plugin::FlagSpec;
use taperbook_record::Measure;

use crate::Flag;
use crate::crossing::{Side, crossed};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "below-least-butt-od",
        finds: "a build whose butt is thinner than the least its `limits` allow",
        why: "every butt cut makes the butt thinner, so the seat or ferrule that was meant for it sits loose",
        example: "`limits: { butt_od: 10.5 mm .. }` and the butt reads 10.30 mm after `cut: { butt: 2 in }`: build the butt up under the seat, or choose a smaller one",
    },
    find: |case| crossed(case, &[Measure::ButtOd], Side::Low),
};
