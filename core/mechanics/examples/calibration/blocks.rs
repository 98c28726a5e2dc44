//! The blocks of the table: what is simulated in each, and what the fit is told.

use taperbook_mechanics::fit::Errors;
use taperbook_testkit::bench::Instruments;
use taperbook_units::Angle;

use crate::shop::{Hidden, Jaws, Scene, errors_of, level};
use crate::tally::Strays;

/// One block of the table.
#[derive(Debug, Clone)]
pub(crate) struct Block {
    pub(crate) name: &'static str,
    pub(crate) scene: Scene,
    pub(crate) errors: Errors,
    pub(crate) strays: Strays,
}

/// How the test kit's clamps give: the median in rad per N m, and the standard deviation of the logarithm.
const SIMULATED_GIVE: (f64, f64) = (0.0015, 0.6);

/// All blocks, in the order of the table.
pub(crate) fn blocks() -> Vec<Block> {
    let usual = Instruments::default();
    let careful =
        Instruments { reclamp: 0.01, tip_angle: Angle::from_deg(0.5), ..Instruments::default() };
    let shop = Scene {
        jaws: Jaws::Shop,
        hidden: Hidden::Nothing,
        instruments: usual,
        n_states: 1,
        slips: false,
    };
    let errors = errors_of(&usual);
    let (give, give_spread) = SIMULATED_GIVE;
    let block = |name, scene, errors| Block { name, scene, errors, strays: Strays::Count };
    vec![
        block(
            "a1. level rigid clamp, known as such; power to 1 %, tip angle by instrument (0.5°)",
            Scene { jaws: Jaws::Level, instruments: careful, ..shop },
            level(errors_of(&careful)),
        ),
        block(
            "a2. level rigid clamp, known as such; power to 2 %, tip angle by eye (1.5°)",
            Scene { jaws: Jaws::Level, ..shop },
            level(errors.clone()),
        ),
        block("b1. shop clamp of hidden tilt and give", shop.clone(), errors.clone()),
        block(
            "b2. the same, the fit told how such clamps give (median 0.0015, spread 0.6)",
            shop.clone(),
            Errors { give, give_spread, ..errors.clone() },
        ),
        block(
            "c. as b1 with a hidden reinforcement, 8-20 % over 15-40 cm",
            Scene { hidden: Hidden::Reinforcement, ..shop },
            errors.clone(),
        ),
        block(
            "d. as b1 with a spliced solid tip, told by the card",
            Scene { hidden: Hidden::SolidTip, ..shop },
            errors.clone(),
        ),
        block(
            "e. as b1 in two pieces, the joint told by the card",
            Scene { hidden: Hidden::Joint, ..shop },
            errors.clone(),
        ),
        block(
            "f. as b1, read before and after each of two cuts, foretold for a third",
            Scene { n_states: 3, ..shop },
            errors.clone(),
        ),
        block(
            "g1. as b1, one power or weight in ten off by 15-30 %",
            Scene { slips: true, ..shop },
            errors.clone(),
        ),
        block(
            "g2. as f, one power or weight in ten off by 15-30 %",
            Scene { n_states: 3, slips: true, ..shop },
            errors.clone(),
        ),
        Block {
            strays: Strays::LeftOut,
            ..block(
                "g3. as g2, readings that are all but proven to be wild left out, as the program does",
                Scene { n_states: 3, slips: true, ..shop },
                errors,
            )
        },
    ]
}
