//! The questions before there is a build: which blank for a brief, and which rods a blank could be.

use taperbook_plugin::{Advice, ChooseAdvice, Question, ReachAdvice, Source, Wanted};
use taperbook_record::Build;
use taperbook_units::Length;

use super::brief::Typed;
use super::{Answered, refusal};
use crate::entry::Entry;
use crate::snapshot::Snapshot;

/// How many blanks may be asked for at once.
const MOST_BLANKS: usize = 1000;

/// Which blanks are looked at and told.
#[derive(Debug, Clone, Copy)]
pub(super) struct Which<'a> {
    pub(super) use_words: Option<&'a str>,
    pub(super) in_stock: bool,
    pub(super) limit: usize,
}

impl Snapshot {
    pub(super) fn choose(
        &self,
        typed: &Typed,
        build: Option<&str>,
        which: &Which,
    ) -> Answered<Box<ChooseAdvice>> {
        let mut wanted = Wanted {
            use_words: which.use_words.map(str::to_owned),
            in_stock: which.in_stock,
            limit: which.limit.clamp(1, MOST_BLANKS),
            ..wanted(typed)?
        };
        if let Some(record) = build {
            let entry = self.wanted(record)?;
            let record = self.record(&entry.id);
            let Some(build) = record.as_deref().and_then(|record| record.build()) else {
                return Err(refusal(&format!(
                    "`{}` is a {} and no build: name a build whose `aim` and `limits` are meant",
                    entry.id,
                    entry.kind().word()
                )));
            };
            self.readable(&entry)?;
            take(&mut wanted, build);
            wanted.build = Some(entry.id.to_string());
            let purpose = || build.purpose.as_ref().map(|purpose| purpose.value.clone());
            wanted.use_words = wanted.use_words.or_else(purpose);
        }
        self.advised(&Question::Choose(Box::new(wanted)), |advice| match advice {
            Advice::Choose(advice) => Some(advice),
            _ => None,
        })
    }

    pub(super) fn reach(&self, record: &str, typed: &Typed) -> Answered<Box<ReachAdvice>> {
        let entry = self.wanted(record)?;
        let mut wanted = wanted(typed)?;
        if let Some(build) = self.record(&entry.id).as_deref().and_then(|record| record.build()) {
            self.readable(&entry)?;
            take(&mut wanted, build);
        }
        let record = entry.id.to_string();
        self.advised(&Question::Reach { record, wanted: Box::new(wanted) }, |advice| match advice {
            Advice::Reach(advice) => Some(advice),
            _ => None,
        })
    }

    /// Refuses a build whose brief can't be read as a whole: what is missing would be held against nothing.
    fn readable(&self, entry: &Entry) -> Answered<()> {
        match self.unread(entry, &["held_at", "limits", "aim"])? {
            None => Ok(()),
            Some(problem) => Err(refusal(&format!(
                "mend the record first, since what can't be read is held against nothing: {}:{}:{}: {}",
                problem.path, problem.line, problem.column, problem.message
            ))),
        }
    }
}

fn wanted(typed: &Typed) -> Answered<Wanted> {
    let build = typed.read()?;
    if let Some(mm) = typed.held_at_mm
        && !(mm.is_finite() && 0.0 <= mm)
    {
        return Err(refusal(&format!(
            "`{mm}` mm is no place to hold a blank at: write a length of 0 or more from its butt"
        )));
    }
    Ok(Wanted {
        aim: build.aim,
        limits: build.limits,
        held_at: typed.held_at_mm.map(Length::from_mm),
        ..Wanted::default()
    })
}

/// Takes from a build what was not typed.
fn take(wanted: &mut Wanted, build: &Build) {
    if wanted.aim.is_empty() {
        wanted.aim.clone_from(&build.aim);
    }
    if wanted.limits.is_empty() {
        wanted.limits.clone_from(&build.limits);
    }
    wanted.held_at = wanted.held_at.or(build.held_at.as_ref().map(|held| held.value));
}
