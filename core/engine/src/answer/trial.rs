//! Answers about a cut that nobody has made: what it would do, how the blank would bend, where the marks go.

use taperbook_plugin::{
    Advice, BendAdvice, Cut, MarksAdvice, Question, Source as _, Target, TryAdvice,
};
use taperbook_record::{Action, Content, Item, Record, Spanned};
use taperbook_units::Length;

use super::{Answered, flag_answers, problem_answers, refusal};
use crate::ask::{FlagAnswer, TryAnswer, TryTarget};
use crate::entry::Entry;
use crate::snapshot::Snapshot;

impl Snapshot {
    pub(super) fn try_cut(
        &self,
        typed: &str,
        target: &TryTarget,
        held_at_mm: Option<f64>,
    ) -> Answered<TryAnswer> {
        let entry = self.wanted(typed)?;
        let held_at = held_at_mm.map(Length::from_mm);
        let advice = self.tried(&entry.id, plugin_target(target)?, held_at)?;
        let details = self.told(&entry)?;
        let flags = self.flags_after(&entry, advice.cut, held_at)?;
        let fittings = self.fittings_after(&entry.id, "as tried", advice.cut);
        let problems = problem_answers(&entry.id, &details);
        Ok(TryAnswer { advice, fittings, flags, problems })
    }

    pub(super) fn bend(
        &self,
        typed: &str,
        cut_mm: (f64, f64),
        held_at_mm: Option<f64>,
    ) -> Answered<BendAdvice> {
        let record = self.wanted(typed)?.id.to_string();
        let (tip, butt) = cut_lengths(cut_mm)?;
        let held_at = held_at_mm.map(Length::from_mm);
        self.advised(&Question::Bend { record, tip, butt, held_at }, |advice| match advice {
            Advice::Bend(advice) => Some(*advice),
            _ => None,
        })
    }

    pub(super) fn marks(
        &self,
        typed: &str,
        cut_mm: (f64, f64),
        held_at_mm: Option<f64>,
    ) -> Answered<MarksAdvice> {
        let entry = self.wanted(typed)?;
        let (tip, butt) = cut_lengths(cut_mm)?;
        let cut = Cut { tip_mm: tip.mm(), butt_mm: butt.mm() };
        self.marks_of(&entry.id, cut, held_at_mm.map(Length::from_mm))
    }

    pub(super) fn marks_of(
        &self,
        id: &str,
        cut: Cut,
        held_at: Option<Length>,
    ) -> Answered<MarksAdvice> {
        let question = Question::Marks { record: id.to_owned(), cut, held_at };
        self.advised(&question, |advice| match advice {
            Advice::Marks(advice) => Some(*advice),
            _ => None,
        })
    }

    pub(super) fn tried(
        &self,
        id: &str,
        target: Target,
        held_at: Option<Length>,
    ) -> Answered<TryAdvice> {
        self.advised(&Question::Try { record: id.to_owned(), target, held_at }, |advice| {
            match advice {
                Advice::Try(advice) => Some(*advice),
                _ => None,
            }
        })
    }

    /// Gives the flags of a record as it would be with this cut on its bench and held there; a card has no bench and no flags of it.
    pub(super) fn flags_after(
        &self,
        entry: &Entry,
        off: Cut,
        held_at: Option<Length>,
    ) -> Answered<Vec<FlagAnswer>> {
        if off == Cut::default() && held_at.is_none() && entry.examined {
            return Ok(flag_answers(&entry.id, &*self.told(entry)?));
        }
        let Some(before) = self.record(&entry.id) else { return Ok(Vec::new()) };
        let mut record = Record::clone(&before);
        let Content::Build(build) = &mut record.content else {
            return Ok(flag_answers(&entry.id, &*self.told(entry)?));
        };
        let span = build.bench.last().map_or(0..0, |item| item.span.clone());
        let spanned = |mm: f64| {
            (0.0 < mm).then(|| Spanned { value: Length::from_mm(mm), span: span.clone() })
        };
        let cut = taperbook_record::Cut {
            tip: spanned(off.tip_mm),
            butt: spanned(off.butt_mm),
            ..Default::default()
        };
        if cut.tip.is_some() || cut.butt.is_some() {
            build.bench.push(Item {
                action: Action::Cut(cut),
                date: None,
                note: None,
                board: None,
                span,
            });
        }
        if let Some(value) = held_at {
            build.held_at = Some(Spanned { value, span: 0..0 });
        }
        let bytes = self.files.read(&entry.path()).unwrap_or_default();
        Ok(self.flags_of(record, &bytes))
    }
}

/// Gives what comes off tip and butt, when both can.
fn cut_lengths((tip_mm, butt_mm): (f64, f64)) -> Answered<(Length, Length)> {
    sound([tip_mm, butt_mm], "cut or reached")?;
    Ok((Length::from_mm(tip_mm), Length::from_mm(butt_mm)))
}

/// Refuses what is no length of 0 or more.
pub(super) fn sound(lengths_mm: impl IntoIterator<Item = f64>, what: &str) -> Answered<()> {
    match lengths_mm.into_iter().find(|value| !value.is_finite() || *value < 0.0) {
        None => Ok(()),
        Some(value) => {
            Err(refusal(&format!("`{value}` mm can't be {what}: write a length of 0 or more")))
        }
    }
}

fn plugin_target(target: &TryTarget) -> Answered<Target> {
    let tip = target.tip_mm.unwrap_or(0.0);
    let butt = target.butt_mm.unwrap_or(0.0);
    let given = [tip, butt].into_iter().chain(
        [target.to_tip_od_mm, target.to_butt_od_mm, target.to_length_mm].into_iter().flatten(),
    );
    sound(given, "cut or reached")?;
    Ok(if let Some(od) = target.to_tip_od_mm {
        Target::TipOd(Length::from_mm(od))
    } else if let Some(od) = target.to_butt_od_mm {
        Target::ButtOd(Length::from_mm(od))
    } else if let Some(length) = target.to_length_mm {
        Target::Length { length: Length::from_mm(length), butt: Length::from_mm(butt) }
    } else {
        Target::Cuts { tip: Length::from_mm(tip), butt: Length::from_mm(butt) }
    })
}
