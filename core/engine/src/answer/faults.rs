//! What is wrong in the whole shop, counted, with as many in full as fit a page.

use super::{Answered, flag_answers, problem_answers};
use crate::ask::FaultsAnswer;
use crate::snapshot::Snapshot;

/// The words for all problems and for all flags, where one flag has its name.
const PROBLEMS: &str = "problems";
const FLAGS: &str = "flags";

impl Snapshot {
    /// Counts all, and tells some in full; the details of records of which nothing is told are not read.
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
        let with_problems = only.is_none_or(|only| only == PROBLEMS);
        let is_wanted = |flag: &str| match only {
            Some(only) => only == FLAGS || only == flag,
            None => true,
        };
        let told = skip..skip.saturating_add(limit);
        let (mut flags, mut problems) = (Vec::new(), Vec::new());
        let mut n_passed = 0;
        for entry in self.book.at_fault() {
            if told.end <= n_passed {
                break;
            }
            let n_problems = if with_problems { entry.n_problems as usize } else { 0 };
            let n_flags = entry.flags.iter().filter(|flag| is_wanted(flag)).count();
            let (of_problems, of_flags) =
                (n_passed..n_passed + n_problems, n_passed + n_problems..);
            n_passed += n_problems + n_flags;
            if n_passed <= told.start || n_problems + n_flags == 0 {
                continue;
            }
            let details = self.told(&entry)?;
            let all = of_problems.zip(problem_answers(&entry.id, &details));
            problems.extend(all.filter(|(at, _)| told.contains(at)).map(|(_, problem)| problem));
            let all = flag_answers(&entry.id, &details);
            let all = of_flags.zip(all.into_iter().filter(|flag| is_wanted(&flag.flag)));
            flags.extend(all.filter(|(at, _)| told.contains(at)).map(|(_, flag)| flag));
        }
        let n_flags = self.book.n_of_flag().map(|(flag, n)| (flag.to_owned(), n)).collect();
        Ok(FaultsAnswer { n_problems: self.book.n_problems, n_flags, flags, problems })
    }
}
