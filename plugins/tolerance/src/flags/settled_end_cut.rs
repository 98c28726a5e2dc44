//! `settled-end-cut`: an end was cut, or a cut of it planned, after the builder had settled it.

use taperbook_plugin::FlagSpec;
use taperbook_record::{Action, End, Span, Spanned};

use crate::case::Case;
use crate::{Fault, Flag, words};

pub(crate) const FLAG: Flag = Flag {
    spec: FlagSpec {
        name: "settled-end-cut",
        finds: "a cut or a plan for an end that an earlier item of the bench calls settled",
        why: "either tip and butt are swapped in the record, and every number after it is wrong, or an end that was finished is being cut",
        example: "`settled: { tip: any stiffer and it won't throw }` and after it `cut: { tip: 3 in }`: if it was the butt, write `cut: { butt: 3 in }`; if the mind changed, take `settled` out",
    },
    find,
};

fn find(case: &Case) -> Vec<Fault> {
    let mut settled: [Option<(usize, &str)>; 2] = [None, None];
    let mut faults = Vec::new();
    for (item_idx, item) in case.build.bench.iter().enumerate() {
        let (does, tip, butt) = match &item.action {
            Action::Settled(ends) => {
                for (known, why) in settled.iter_mut().zip([&ends.tip, &ends.butt]) {
                    *known = known.or(why.as_ref().map(|why| (item_idx, why.value.as_str())));
                }
                continue;
            }
            Action::Cut(cut) => ("takes", &cut.tip, &cut.butt),
            Action::Plan(plan) => ("plans to take", &plan.tip, &plan.butt),
            _ => continue,
        };
        for (end, (known, cut)) in
            [End::Tip, End::Butt].into_iter().zip(settled.iter().zip([tip, butt]))
        {
            if let (Some((settled_idx, why)), Some(Spanned { value: cut, span })) = (known, cut) {
                let (name, off) = (words::end(end), case.units.cut(*cut));
                let why = if why.is_empty() {
                    String::new()
                } else {
                    format!(" (\"{}\")", words::shortened(why))
                };
                let message = format!(
                    "the {name} was settled in item {}{why}, but item {} {does} {off} off it: if tip and butt are swapped here, swap them back",
                    settled_idx + 1,
                    item_idx + 1
                );
                faults.push(Fault { message, span: Span::clone(span) });
            }
        }
    }
    faults
}
