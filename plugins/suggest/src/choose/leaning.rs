//! What one blank is put to: the stated aims as they are, and for what the brief leaves open, where builds of that blank
//! ended that were liked.
//!
//! It is what `suggest` aims for once the blank is on the bench.

use taperbook_plugin::View;
use taperbook_record::{Build, Measure};
use taperbook_units::Units;

use super::merit::Merit;
use crate::brief::Aim;
use crate::taste::{lean, liked};
use crate::words;

/// The brief as it is put to one blank.
pub(crate) struct Leaning {
    pub(crate) merit: Merit,
    /// What was left open and follows liked builds: the value, and their ids.
    followed: Vec<(Aim, Vec<String>)>,
}

impl Leaning {
    /// Looks at the builds of a card but one.
    pub(super) fn new(
        view: &View,
        card: &str,
        itself: Option<&str>,
        build: &Build,
        aims: &[Aim],
    ) -> Self {
        let mut aims = aims.to_vec();
        let is_open = aims.iter().any(|aim| !aim.stated);
        let behind: Vec<(Measure, Vec<String>)> = match is_open {
            true => {
                let liked = liked(view, card);
                lean(build, &mut aims, &liked, itself.unwrap_or_default())
            }
            false => Vec::new(),
        };
        let aim_of = |measure: Measure| aims.iter().find(|aim| aim.measure == measure).copied();
        let followed =
            behind.into_iter().filter_map(|(measure, ids)| Some((aim_of(measure)?, ids))).collect();
        Self { merit: Merit::new(&aims, &build.limits), followed }
    }

    /// What was aimed for where the brief left it open, in words.
    pub(super) fn words(&self, units: Units) -> Vec<String> {
        let line = |(aim, ids): &(Aim, Vec<String>)| {
            format!(
                "{} was left open: tried for {} ({})",
                aim.measure.words(),
                words::aim(units, aim, ids),
                words::list(ids)
            )
        };
        self.followed.iter().map(line).collect()
    }
}
