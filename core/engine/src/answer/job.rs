//! Answers around the cut: several plugins asked, and what they say put together.

use taperbook_plugin::{
    Advice, Cut, FittingsAdvice, FittingsAt, GuideSide, GuidesAdvice, HandoverAdvice, Proposed,
    Question, SheetAdvice, SuggestAdvice, Target,
};
use taperbook_record::{Build, Measure, Record};
use taperbook_units::{Length, Mass, Units};

use super::trial::sound;
use super::{Answered, refusal};
use crate::ask::{FittingsAsked, GuidesAsked, HandoverAsked, Refusal, SheetAsked};
use crate::snapshot::Snapshot;

impl Snapshot {
    /// Says which fittings go on as it is, and where it is known as tried, planned and suggested.
    pub(super) fn fittings(&self, asked: &FittingsAsked) -> Answered<FittingsAdvice> {
        let id = self.wanted(&asked.record)?.id.to_string();
        let mut states = vec![("as it is".to_owned(), Cut::default())];
        let tried = given(asked.tip_mm, asked.butt_mm)?;
        states.extend(tried.map(|cut| ("as tried".to_owned(), cut)));
        if tried.is_none() {
            states.extend(self.planned(&id).map(|cut| ("as planned".to_owned(), cut)));
            let suggested = self.suggested(&id, None).map(|advice| advice.remaining);
            let suggested = suggested.filter(|cut| is_cut(*cut));
            states.extend(suggested.map(|cut| ("as suggested".to_owned(), cut)));
        }
        self.fittings_at(&id, states)
    }

    /// Says which fittings go on after one further cut; `None` when nothing is known of the diameters or of any fitting.
    pub(super) fn fittings_after(&self, id: &str, state: &str, cut: Cut) -> Option<FittingsAt> {
        let mut advice = self.fittings_at(id, vec![(state.to_owned(), cut)]).ok()?;
        let at = advice.states.pop()?;
        let has_any =
            [&at.tip_tops, &at.butt_ferrules, &at.reel_seats].iter().any(|fits| !fits.is_empty());
        has_any.then_some(at)
    }

    /// Says of each end that a cut would leave with nothing of the drawers to go on.
    pub(super) fn nothing_fits_after(&self, id: &str, cut: Cut) -> Vec<String> {
        let Some(at) = self.fittings_after(id, "as suggested", cut) else { return Vec::new() };
        let shop = self.shop_of();
        let units = shop.units();
        let end = |cut: f64, part: &str, end: &str, any: bool, until: Option<f64>| {
            let rest = match until {
                Some(more) if 0.0 < more => {
                    let more = units.cut(Length::from_mm(more));
                    format!("one does after {more} more off the {end}")
                }
                Some(_) => return None,
                None => format!("and none does however much comes off the {end}"),
            };
            let is_of_it = 0.0 < cut && any;
            is_of_it.then(|| {
                format!("no {part} of the drawers goes on after that, {rest}: get one before the saw, or cut less")
            })
        };
        let tip = end(cut.tip_mm, "tip-top", "tip", !at.tip_tops.is_empty(), at.until.tip_mm);
        let any = !at.butt_ferrules.is_empty();
        let butt = end(cut.butt_mm, "butt ferrule", "butt", any, at.until.butt_mm);
        [tip, butt].into_iter().flatten().collect()
    }

    fn fittings_at(&self, id: &str, states: Vec<(String, Cut)>) -> Answered<FittingsAdvice> {
        self.advised(&Question::Fittings { record: id.to_owned(), states }, |advice| match advice {
            Advice::Fittings(advice) => Some(*advice),
            _ => None,
        })
    }

    /// Puts a sheet for the bench together.
    pub(super) fn sheet(&self, asked: &SheetAsked) -> Answered<SheetAdvice> {
        let entry = self.wanted(&asked.record)?;
        let id = entry.id.to_string();
        let held_at = asked.held_at_mm.map(Length::from_mm);
        let mut words = Vec::new();
        let (cuts_from, cut) = if let Some(cut) = given(asked.tip_mm, asked.butt_mm)? {
            ("as given", cut)
        } else if let Some(cut) = self.planned(&id) {
            ("as planned", cut)
        } else {
            let suggested = self.suggested(&id, held_at);
            if let Some(cut) = suggested.as_ref().and_then(|advice| advice.next_cut) {
                ("as suggested", cut)
            } else {
                words.push(
                    "no cut is given, planned or suggested: the sheet is for readings".to_owned(),
                );
                words.extend(suggested.and_then(|advice| advice.measure_next));
                ("none", Cut::default())
            }
        };
        let marks = self.marks_of(&id, cut, held_at)?;
        let now = self.tried(&id, target(Cut::default()), held_at)?;
        let after = self.tried(&id, target(cut), held_at)?;
        let record = self.record_of(&id);
        let build = record.as_deref().and_then(Record::build);
        let text = |value: Option<&taperbook_record::Spanned<String>>| {
            value.map(|text| text.value.clone())
        };
        let flags = self.flags_after(&entry, cut, held_at)?;
        Ok(SheetAdvice {
            record: id.clone(),
            title: entry.title.to_string(),
            customer: text(build.and_then(|build| build.customer.as_ref())),
            purpose: text(build.and_then(|build| build.purpose.as_ref())),
            blank: text(build.and_then(|build| build.blank.as_ref())),
            cuts_from: cuts_from.to_owned(),
            cut,
            before: now.before,
            marks,
            limits: after.limits,
            left_now: now.left,
            left_after: after.left,
            fittings: self.fittings_after(&id, cuts_from, cut),
            flags: flags.into_iter().map(|flag| (flag.flag, flag.message)).collect(),
            words,
        })
    }

    /// Says where the guides go.
    pub(super) fn guides(&self, asked: &GuidesAsked) -> Answered<GuidesAdvice> {
        let record = self.wanted(&asked.record)?.id.to_string();
        if let Some(load) = asked.load_g
            && !(load.is_finite() && 0.0 < load)
        {
            return Err(refusal(&format!("`{load}` g can't be hung: write a weight above 0")));
        }
        let question = Question::Guides {
            record,
            cut: given(asked.tip_mm, asked.butt_mm)?.unwrap_or_default(),
            side: asked.side,
            count: asked.count,
            load: asked.load_g.map(Mass::from_g),
            held_at: asked.held_at_mm.map(Length::from_mm),
        };
        self.guided(&question)
    }

    fn guided(&self, question: &Question) -> Answered<GuidesAdvice> {
        self.advised(question, |advice| match advice {
            Advice::Guides(advice) => Some(*advice),
            _ => None,
        })
    }

    /// Puts the customer's page together.
    pub(super) fn handover(&self, asked: &HandoverAsked) -> Answered<HandoverAdvice> {
        let entry = self.wanted(&asked.record)?;
        let id = entry.id.to_string();
        let record = self.record_of(&id);
        let build = record
            .as_deref()
            .and_then(Record::build)
            .ok_or_else(|| refusal(&format!("`{id}` is no build: only a build is handed over")))?;
        let shop = self.shop_of();
        let units = shop.units();
        let now = self.tried(&id, target(Cut::default()), None)?;
        let cuts = match self.advise(&Question::Walk { record: id.clone() }) {
            Ok(Advice::Walk(steps)) => {
                steps.into_iter().filter(|step| step.action == "cut").collect()
            }
            _ => Vec::new(),
        };
        let proposed = self.proposed(&id, build);
        let guides = Question::Guides {
            record: id.clone(),
            cut: proposed.as_ref().map(|proposed| proposed.cut).unwrap_or_default(),
            side: GuideSide::Below,
            count: None,
            load: None,
            held_at: None,
        };
        let guides = self.guided(&guides).ok();
        let text = |value: &Option<taperbook_record::Spanned<String>>| {
            value.as_ref().map(|text| text.value.clone())
        };
        Ok(HandoverAdvice {
            record: id.clone(),
            title: entry.title.to_string(),
            shop: shop.name.as_ref().map(|name| name.value.clone()),
            customer: text(&build.customer),
            purpose: text(&build.purpose),
            date: build.date.as_ref().map(|date| date.value.to_string()),
            blank: text(&build.blank),
            aims: aims(build, units),
            limits: now.limits,
            cuts,
            before: self.marks_of(&id, Cut::default(), None)?.uncut,
            after: now.before,
            proposed,
            guides,
            told: text(&build.told),
            said: text(&build.said),
            verdict: build.verdict.as_ref().map(|verdict| verdict.value.word().to_owned()),
        })
    }

    /// What is still to be cut of a build that is not done, and what would come of it.
    fn proposed(&self, id: &str, build: &Build) -> Option<Proposed> {
        if build.verdict.is_some() {
            return None;
        }
        let suggested = || {
            let remaining = self.suggested(id, None).map(|advice| advice.remaining);
            Some(("as suggested", remaining.filter(|cut| is_cut(*cut))?))
        };
        let planned = self.planned(id).map(|cut| ("as planned", cut));
        let (cuts_from, cut) = planned.or_else(suggested)?;
        let tried = self.tried(id, target(cut), None).ok()?;
        let (expected, limits) = (tried.after, tried.limits);
        Some(Proposed { cuts_from: cuts_from.to_owned(), cut, expected, limits })
    }

    /// What is suggested, with the engine's own guard; `None` when nothing can be.
    fn suggested(&self, id: &str, held_at: Option<Length>) -> Option<SuggestAdvice> {
        self.suggest(id, held_at).ok()
    }

    /// What is still to be made of a build's plan.
    fn planned(&self, id: &str) -> Option<Cut> {
        self.marks_of(id, Cut::default(), None).ok()?.planned
    }

    fn record_of(&self, id: &str) -> Option<std::sync::Arc<Record>> {
        taperbook_plugin::Source::record(self, id)
    }

    fn shop_of(&self) -> std::sync::Arc<taperbook_record::Shop> {
        taperbook_plugin::Source::shop(self)
    }
}

fn is_cut(cut: Cut) -> bool {
    // Less than half a millimetre is the saw's business.
    0.5 < cut.tip_mm || 0.5 < cut.butt_mm
}

fn target(cut: Cut) -> Target {
    Target::Cuts { tip: Length::from_mm(cut.tip_mm), butt: Length::from_mm(cut.butt_mm) }
}

/// The cut that was asked for; `None` when neither end was given.
fn given(tip_mm: Option<f64>, butt_mm: Option<f64>) -> Result<Option<Cut>, Refusal> {
    if tip_mm.is_none() && butt_mm.is_none() {
        return Ok(None);
    }
    let cut = Cut { tip_mm: tip_mm.unwrap_or(0.0), butt_mm: butt_mm.unwrap_or(0.0) };
    sound([cut.tip_mm, cut.butt_mm], "cut")?;
    Ok(Some(cut))
}

fn aims(build: &Build, units: Units) -> Vec<(String, String)> {
    let printed = |(measure, aim): &(Measure, taperbook_record::Spanned<_>)| {
        let aim: &taperbook_units::Quantity = &aim.value;
        let value = match measure {
            Measure::TipOd | Measure::ButtOd => units.diameter(Length::from_si(aim.si)),
            measure => units.value(measure.dimension(), aim.si),
        };
        (measure.words().to_owned(), value)
    };
    build.aim.iter().map(printed).collect()
}
