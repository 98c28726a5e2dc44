//! `lengths-disagree`: a length that was read is not what the cuts give.

use taperbook_bench::{LengthGap, length_gaps};
use taperbook_plugin::FlagSpec;
use taperbook_record::Action;
use taperbook_units::Length;

use crate::case::Case;
use crate::{Fault, Flag};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "lengths-disagree",
        finds: "a length reading that is more than 3 mm from the length before it less the cuts in between, or 20 mm where only the card tells the length before; it says which mistake fits best",
        why: "a cut that is logged twice, in the wrong unit or not at all makes every number after it wrong",
        example: "`read: { length: 7'2\" }`, `cut: { tip: 1 in }` twice, and `read: { length: 7'1\" }`: one inch more than the cuts give, and one of the two cuts is likely logged twice. Measure again, then take it out",
    },
    find,
};

fn find(case: &Case) -> Vec<Fault> {
    let card_length = case.card().and_then(|card| card.length.as_ref()).map(|length| length.value);
    let gaps = length_gaps(case.build, card_length, kerf(case), case.units);
    gaps.into_iter().map(|gap| fault(case, gap)).collect()
}

fn fault(case: &Case, gap: LengthGap) -> Fault {
    let units = case.units;
    let apart = gap.read - gap.expected;
    let more = if Length::default() < apart { "more" } else { "less" };
    let from = match gap.known_from {
        Some(item_idx) => format!("the length in item {}", item_idx + 1),
        None => "the card's length".to_owned(),
    };
    let (read, item) = (units.length(gap.read), gap.item + 1);
    let beside = if gap.expected <= Length::default() {
        format!("but by {from} and the cuts since nothing is left")
    } else {
        let (apart, expected) = (units.length(apart.abs()), units.length(gap.expected));
        format!("{apart} {more} than the {expected} that {from} and the cuts since give")
    };
    let message = format!("length reads {read} in item {item}, {beside}: {}", gap.likely);
    Fault { message, span: gap.span }
}

/// The most that one of the saws of this bench turns to dust.
fn kerf(case: &Case) -> Option<Length> {
    let used = case.build.bench.iter().filter_map(|item| match &item.action {
        Action::Cut(cut) => cut.with.as_deref(),
        _ => None,
    });
    let kerfs = used.filter_map(|with| case.shop.saw(with)?.kerf);
    kerfs.max_by(|a, b| a.m().total_cmp(&b.m()))
}
