//! `choose`: a brief put to the blanks of the shop, or one blank and the rods that it could be.
//!
//! What is drawn goes into a file of its own, and never over a record.

use taperbook_engine::{Answer, Request};
use taperbook_units::Length;

use crate::choose_args::ChooseArgs;
use crate::failure::Failure;
use crate::paper;
use crate::run::{Context, Done};
use crate::style::clean;

/// Asks, draws where that was asked for, and prints.
pub(crate) fn choose(context: &Context, arguments: &ChooseArgs) -> Result<Done, Failure> {
    let (aim, limits) = (arguments.aim.clone(), arguments.limits.clone());
    let held_at_mm = arguments.held_at.map(Length::mm);
    let Some(from) = &arguments.from else {
        return context.question(&Request::Choose {
            aim,
            limits,
            build: arguments.build.as_ref().map(|build| context.record(build)),
            use_words: arguments.use_words.clone(),
            held_at_mm,
            in_stock: arguments.in_stock,
            limit: arguments.limit,
        });
    };
    if let Some(svg) = &arguments.svg {
        paper::may_be_written(&context.here().join(svg), svg, "svg", arguments.force)?;
    }
    let record = context.record(from);
    let answer = context.ask(&Request::Reach { record, aim, limits, held_at_mm })?;
    if let (Some(svg), Answer::Reach(advice)) = (&arguments.svg, &answer) {
        let text = taperbook_draw::reach(advice, context.setting.units);
        paper::write(&context.here().join(svg), svg, &text)?;
    }
    context.answer(&answer)?;
    if let Some(svg) = &arguments.svg {
        context.screen.note(&format!("drawn into {}\n", clean(&svg.display().to_string())));
    }
    Ok(Done::Well)
}
