//! What one build tells of its model, worked out once and kept.

use std::sync::Arc;

use taperbook_mechanics::fit::{Card, Errors, Lesson, Posterior, Prior};
use taperbook_plugin::{Lasting, Resolution, Shaped, View};
use taperbook_record::{Build, Date, Measure, Record};

use super::came_on;
use crate::card::{doubting, errors_of, fit_card};
use crate::offcut;
use crate::readings::{bends, fit_readings, told_once};
use crate::trusted::fit_trusted;
use crate::walk::walk;

/// What one build tells of its model.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Told {
    pub(super) came: Came,
    /// None of a build without a reading that says something.
    pub(super) lesson: Option<Arc<Lesson>>,
}

pub(super) static TOLD: Lasting<Told> = Lasting {
    what: "lesson",
    compute: |view, id| Told {
        came: view.record(id).map(|record| came(&record)).unwrap_or_default(),
        lesson: own_fit(view, id).map(|posterior| Arc::new(Lesson::of(&posterior))),
    },
    to_bytes: Told::to_bytes,
    from_bytes: Told::from_bytes,
};

impl Told {
    fn to_bytes(&self) -> Vec<u8> {
        let (is_last, date) = self.came;
        let mut bytes = vec![u8::from(is_last), u8::from(date.is_some())];
        let date = date.unwrap_or_default();
        bytes.extend(date.year().to_le_bytes());
        bytes.extend([date.month(), date.day()].map(i8::cast_unsigned));
        self.lesson.iter().for_each(|lesson| bytes.extend(lesson.to_bytes()));
        bytes
    }

    fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let ([is_last, is_dated, low, high, month, day], lesson) = bytes.split_first_chunk()?;
        let (year, month, day) =
            (i16::from_le_bytes([*low, *high]), month.cast_signed(), day.cast_signed());
        let date = Date::new(year, month, day).ok()?;
        let lesson = match lesson {
            [] => None,
            bytes => Some(Arc::new(Lesson::from_bytes(bytes)?)),
        };
        Some(Self { came: (*is_last == 1, (*is_dated == 1).then_some(date)), lesson })
    }
}

/// The order in which builds came.
pub(super) type Came = (bool, Option<Date>);

/// When a build came to the bench, as far as its record says: its own date, or the first on its bench.
///
/// Without a date one that is still on the bench came last, and one that is done before all that are dated; the first of the pair is
/// true of the former.
fn came(record: &Record) -> Came {
    let Some(build) = record.build() else { return (false, None) };
    let date = came_on(build);
    let is_done = build.verdict.is_some() || build.rating.is_some();
    (date.is_none() && !is_done, date)
}

/// Fits a piece by its own readings, starting from the card alone; `None` when it has none that teach.
pub(super) fn own_fit(view: &View, id: &str) -> Option<Posterior> {
    let record = view.record(id)?;
    let build = record.build()?;
    let errors = errors_of(&view.shop());
    let (mut card, mut prior) = card_prior(view, build, &errors)?;
    let walk = walk(build, Some(card.length));
    let offcuts = offcut::kept(view, id, build, &walk);
    if !offcuts.is_empty() {
        offcuts.add_to(&mut card);
        prior = Prior::from_card(&card, &errors).ok()?;
    }
    let held_at = crate::piece::held_at(
        view,
        Some(build),
        build.blank.as_ref().map(|name| name.value.as_str()),
    );
    let mut taken = fit_readings(build, &walk, held_at, &view.shop());
    taken.extend(offcuts.weights(build));
    let teaches = |measure| {
        matches!(
            measure,
            None | Some(Measure::Power | Measure::TipAngle | Measure::Weight | Measure::Recovery)
        )
    };
    if !taken.iter().any(|taken| teaches(taken.measure)) {
        return None;
    }
    let (readings, bends) = (told_once(&card, &taken), bends(&taken));
    let agree = |posterior: &Posterior| {
        posterior.residuals().iter().all(|residual| residual.miss.abs() < BEYOND_ALL_CHANCE)
    };
    let posterior =
        fit_trusted(&prior, || doubting(&card, &errors), &readings, &bends).ok()?.posterior;
    if agree(&posterior) {
        return Some(posterior);
    }
    // Readings that contradict each other beyond all chance teach nothing: the record is flagged, and its siblings are spared.
    // Those that contradict no more than what the card states teach that it is wrong.
    let doubting = doubting(&card, &errors)?;
    fit_trusted(&doubting, || None, &readings, &bends)
        .ok()
        .map(|trusted| trusted.posterior)
        .filter(agree)
}

/// In standard deviations: by chance one right reading in 500 million misses by more.
const BEYOND_ALL_CHANCE: f64 = 6.0;

pub(super) fn card_prior(view: &View, build: &Build, errors: &Errors) -> Option<(Card, Prior)> {
    let name = build.blank.as_ref()?;
    let Resolution::Found(Shaped { shape: blank, .. }) = view.resolve_shape(&name.value) else {
        return None;
    };
    let stated = blank.length.as_ref().map(|length| length.value);
    let card = fit_card(Some(&blank), Some((build, &walk(build, stated))), errors)?;
    let prior = Prior::from_card(&card, errors).ok()?;
    Some((card, prior))
}
