//! The commands around the cut: each asks, writes the page or drawing that was asked for, and prints.

use std::path::Path;

use taperbook_draw::{Frame, PaperSize};
use taperbook_engine::{Answer, FittingsAsked, GuidesAsked, HandoverAsked, Request, SheetAsked};
use taperbook_plugin::GuideSide;
use taperbook_units::{Length, Mass};

use crate::failure::Failure;
use crate::job_args::{
    FittingsArgs, GuidesArgs, HandoverArgs, PageArgs, PaperArg, SheetArgs, Side,
};
use crate::paper;
use crate::run::{Context, Done};
use crate::style::clean;

/// Says which fittings go on.
pub(crate) fn fittings(context: &Context, arguments: &FittingsArgs) -> Result<Done, Failure> {
    context.question(&Request::Fittings(FittingsAsked {
        record: context.record(&arguments.record),
        tip_mm: arguments.tip.map(Length::mm),
        butt_mm: arguments.butt.map(Length::mm),
    }))
}

/// Makes a sheet for the bench.
pub(crate) fn sheet(context: &Context, arguments: &SheetArgs) -> Result<Done, Failure> {
    let request = Request::Sheet(SheetAsked {
        record: context.record(&arguments.record),
        tip_mm: arguments.tip.map(Length::mm),
        butt_mm: arguments.butt.map(Length::mm),
        held_at_mm: arguments.held_at.map(Length::mm),
    });
    let units = context.setting.units;
    page(context, &request, &arguments.page, |answer, frame| match answer {
        Answer::Sheet(sheet) => Some(taperbook_draw::sheet(sheet, units, frame)),
        _ => None,
    })
}

/// Says where the guides go.
pub(crate) fn guides(context: &Context, arguments: &GuidesArgs) -> Result<Done, Failure> {
    let request = Request::Guides(GuidesAsked {
        record: context.record(&arguments.record),
        tip_mm: arguments.tip.map(Length::mm),
        butt_mm: arguments.butt.map(Length::mm),
        side: match arguments.side {
            Side::Above => GuideSide::Above,
            Side::Below => GuideSide::Below,
        },
        count: arguments.count.map(usize::from),
        load_g: arguments.load.map(Mass::g),
        held_at_mm: arguments.held_at.map(Length::mm),
    });
    let Some(svg) = &arguments.svg else { return context.question(&request) };
    let path = context.here().join(svg);
    paper::may_be_written(&path, svg, "svg", arguments.force)?;
    let answer = context.ask(&request)?;
    if let Answer::Guides(advice) = &answer {
        let text = taperbook_draw::guides(advice, context.setting.units);
        paper::write(&path, svg, &text)?;
    }
    context.answer(&answer)?;
    noted(context, svg, "drawn");
    Ok(Done::Well)
}

/// Makes the customer's page.
pub(crate) fn handover(context: &Context, arguments: &HandoverArgs) -> Result<Done, Failure> {
    let record = context.record(&arguments.record);
    let request = Request::Handover(HandoverAsked { record });
    let units = context.setting.units;
    page(context, &request, &arguments.page, |answer, frame| match answer {
        Answer::Handover(answer) => Some(taperbook_draw::handover(answer, units, frame)),
        _ => None,
    })
}

/// Asks, writes the page where one is wanted, and prints the answer.
fn page(
    context: &Context,
    request: &Request,
    arguments: &PageArgs,
    page: impl FnOnce(&Answer, Frame) -> Option<String>,
) -> Result<Done, Failure> {
    let Some(html) = &arguments.html else { return context.question(request) };
    let path = context.here().join(html);
    paper::may_be_written(&path, html, "html", arguments.force)?;
    let answer = context.ask(request)?;
    let paper = arguments.paper.map(|paper| match paper {
        PaperArg::A4 => PaperSize::A4,
        PaperArg::Letter => PaperSize::Letter,
    });
    if let Some(text) = page(&answer, Frame::File(paper)) {
        paper::write(&path, html, &text)?;
    }
    context.answer(&answer)?;
    noted(context, html, "written");
    Ok(Done::Well)
}

fn noted(context: &Context, file: &Path, done: &str) {
    context.screen.note(&format!("{done} into {}\n", clean(&file.display().to_string())));
}
