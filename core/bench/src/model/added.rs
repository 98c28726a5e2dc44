//! The lessons of a model added up, part by part where they are many.

use std::sync::Arc;

use taperbook_mechanics::fit::{Lesson, Pools, Spread, n_early};
use taperbook_plugin::View;

use super::told::TOLD;

/// What lessons add up to.
pub(super) struct Added {
    /// Those before all that may be the first of a new batch; all where they are too few for one.
    pub(super) early: Pools,
    pub(super) all: Pools,
}

/// So many builds make a part. A part is worked out again for one of its lessons, and each reads which builds there are.
const PART: usize = 256;

impl Added {
    /// Adds some up, in the order in which their pieces came.
    pub(super) fn of(lessons: &[&Lesson]) -> Self {
        let (first, latest) = lessons.split_at(n_first(lessons));
        let early = Pools::of(&Spread::default(), first);
        let mut all = early.clone();
        latest.iter().for_each(|lesson| all.add(lesson));
        Self { early, all }
    }

    /// Puts parts together that have these lessons between them.
    pub(super) fn of_parts(parts: &[Arc<Pools>], lessons: &[&Lesson]) -> Self {
        let mut all = Pools::new(&Spread::default());
        parts.iter().for_each(|part| all.merge(part));
        let latest = &lessons[n_first(lessons)..];
        let early = latest.iter().fold(all.clone(), |early, lesson| early.without(lesson));
        Self { early, all }
    }
}

fn n_first(lessons: &[&Lesson]) -> usize {
    n_early(lessons.len()).unwrap_or(lessons.len())
}

/// What the lessons of a model's builds add up to, in parts by the order of their ids; none where there are few.
///
/// What a part is hangs on which builds there are and on nothing that happened before, and so do the last digits of what
/// they add up to.
pub(super) fn parts(view: &View, card: &str, n_builds: usize) -> Vec<Arc<Pools>> {
    if n_builds < 2 * PART {
        return Vec::new();
    }
    let part = |part: usize| {
        view.memo("part", &format!("{card}#{part}"), |view| {
            let ids = view.build_ids_of(card);
            let ids: Vec<&String> = ids.iter().skip(part * PART).take(PART).collect();
            let told = view.lasting_memos(&TOLD, &ids);
            let lessons: Vec<&Lesson> =
                told.iter().filter_map(|told| told.lesson.as_deref()).collect();
            Pools::of(&Spread::default(), &lessons)
        })
    };
    (0..n_builds.div_ceil(PART)).map(part).collect()
}
