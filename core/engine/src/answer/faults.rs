//! What is wrong in the whole shop, counted, with as many in full as fit a page.

use std::collections::BTreeMap;

use super::{Answered, flag_answers, problem_answers};
use crate::ask::FaultsAnswer;
use crate::snapshot::Snapshot;

/// The words for all problems and for all flags, where one flag has its name.
const PROBLEMS: &str = "problems";
const FLAGS: &str = "flags";

impl Snapshot {
    /// Counts all, and tells some in full; the strings of those that are not told are never made.
    pub(super) fn faults(
        &self,
        only: Option<&str>,
        skip: usize,
        limit: usize,
    ) -> Answered<FaultsAnswer> {
        if let Some(name) = only
            && ![PROBLEMS, FLAGS].contains(&name)
            && !self.catalogue.flags.iter().any(|flag| flag.name == name)
        {
            return Err(self.no_such_flag(name));
        }
        let mut n_flags: BTreeMap<String, usize> = BTreeMap::new();
        let (mut flags, mut problems) = (Vec::new(), Vec::new());
        let mut n_passed = 0;
        let mut is_told = || {
            n_passed += 1;
            skip < n_passed && n_passed <= skip.saturating_add(limit)
        };
        for entry in self.book.at_fault() {
            let details = self.told(&entry)?;
            for flag in &details.flags {
                *n_flags.entry(flag.flag.to_string()).or_default() += 1;
            }
            if only.is_none_or(|only| only == PROBLEMS) && !details.problems.is_empty() {
                let told: Vec<bool> = details.problems.iter().map(|_| is_told()).collect();
                if told.contains(&true) {
                    let all = problem_answers(&entry.id, &details).into_iter().zip(told);
                    problems.extend(all.filter_map(|(problem, told)| told.then_some(problem)));
                }
            }
            if only != Some(PROBLEMS) && !details.flags.is_empty() {
                let is_wanted = |flag: &str| only.is_none_or(|only| only == FLAGS || only == flag);
                let told: Vec<bool> =
                    details.flags.iter().map(|flag| is_wanted(&flag.flag) && is_told()).collect();
                if told.contains(&true) {
                    let all = flag_answers(&entry.id, &details).into_iter().zip(told);
                    flags.extend(all.filter_map(|(flag, told)| told.then_some(flag)));
                }
            }
        }
        Ok(FaultsAnswer { n_problems: self.book.n_problems, n_flags, flags, problems })
    }
}
