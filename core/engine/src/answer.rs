//! One request, one answer: what every way of asking goes through.

mod brief;
mod choosing;
mod faults;
mod job;
mod trial;

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Instant;

use taperbook_plugin::{Advice, Number, Question, SuggestAdvice, View, json_key};
use taperbook_record::{Measure, Record};
use taperbook_units::Length;

use self::brief::Typed;
use self::choosing::Which;
use crate::advices::Given;
use crate::ask::{
    Answer, CheckAnswer, FindAnswer, FlagAnswer, FlagExplanation, FlagsAnswer, HitAnswer,
    NameAnswer, NamesAnswer, ProblemAnswer, Refusal, Request, ShowAnswer, StatusAnswer, Unreadable,
};
use crate::book::Named;
use crate::engine::position;
use crate::entry::{self, Details, Entry, path_of};
use crate::examine;
use crate::graph;
use crate::snapshot::Snapshot;

type Answered<T> = Result<T, Refusal>;

/// How many hits may be asked for at once.
const HIT_LIMIT: usize = 10_000;

impl Snapshot {
    /// Answers a question about the shop folder as it was at this commit.
    pub fn answer(&self, request: &Request) -> Answer {
        self.answered(request).unwrap_or_else(Answer::Refused)
    }

    fn answered(&self, request: &Request) -> Answered<Answer> {
        Ok(match request {
            Request::Find { query, limit } => Answer::Find(self.find(query, *limit)?),
            Request::Show { record } => Answer::Show(Box::new(self.show(record)?)),
            Request::Read { record } => Answer::Show(Box::new(self.read(record)?)),
            Request::Flags { flag } => Answer::Flags(self.flags(flag.as_deref())?),
            Request::Explain { what, number, held_at_mm } => {
                self.explain(what, number.as_deref(), held_at_mm.map(Length::from_mm))?
            }
            Request::Check { paths } => Answer::Check(self.check(paths)?),
            Request::CheckText { path, text } => Answer::Check(self.check_text(path, text)),
            Request::Try { record, target, held_at_mm } => {
                Answer::Try(Box::new(self.try_cut(record, target, *held_at_mm)?))
            }
            Request::Bend { record, tip_mm, butt_mm, held_at_mm } => {
                Answer::Bend(Box::new(self.bend(record, (*tip_mm, *butt_mm), *held_at_mm)?))
            }
            Request::Marks { record, tip_mm, butt_mm, held_at_mm } => {
                Answer::Marks(Box::new(self.marks(record, (*tip_mm, *butt_mm), *held_at_mm)?))
            }
            Request::Faults { only, skip, limit } => {
                Answer::Faults(self.faults(only.as_deref(), *skip, *limit)?)
            }
            Request::Suggest { record, held_at_mm } => {
                Answer::Suggest(Box::new(self.suggest(record, held_at_mm.map(Length::from_mm))?))
            }
            Request::Choose { aim, limits, build, use_words, held_at_mm, in_stock, limit } => {
                let typed = Typed {
                    aim: aim.as_deref(),
                    limits: limits.as_deref(),
                    held_at_mm: *held_at_mm,
                };
                let which =
                    Which { use_words: use_words.as_deref(), in_stock: *in_stock, limit: *limit };
                Answer::Choose(self.choose(&typed, build.as_deref(), &which)?)
            }
            Request::Reach { record, aim, limits, held_at_mm } => {
                let typed = Typed {
                    aim: aim.as_deref(),
                    limits: limits.as_deref(),
                    held_at_mm: *held_at_mm,
                };
                Answer::Reach(self.reach(record, &typed)?)
            }
            Request::Fittings(asked) => Answer::Fittings(Box::new(self.fittings(asked)?)),
            Request::Sheet(asked) => Answer::Sheet(Box::new(self.sheet(asked)?)),
            Request::Guides(asked) => Answer::Guides(Box::new(self.guides(asked)?)),
            Request::Handover(asked) => Answer::Handover(Box::new(self.handover(asked)?)),
            Request::Names {} => Answer::Names(NamesAnswer {
                records: self.book.iter().map(|entry| name(&entry)).collect(),
            }),
            Request::Status {} => Answer::Status(self.status()),
        })
    }

    fn find(&self, query: &str, limit: usize) -> Answered<FindAnswer> {
        let start = Instant::now();
        let parsed = self.searcher.parse(query).map_err(|error| Refusal {
            message: error.message,
            at: Some((error.at.start, error.at.end)),
        })?;
        let found = self
            .searcher
            .find(&parsed, limit.min(HIT_LIMIT))
            .map_err(|error| refusal(&error.to_string()))?;
        let took_ms = start.elapsed().as_secs_f64() * 1e3;
        let hits = found
            .hits
            .into_iter()
            .map(|hit| {
                let details = match self.book.get(&hit.id) {
                    Some(entry) => self.told(&entry)?,
                    None => Arc::default(),
                };
                Ok(HitAnswer {
                    numbers: self.numbers_json(&details),
                    flags: flag_names(&details),
                    record: hit.id,
                    title: hit.title,
                    kind: hit.kind,
                    snippet: hit.snippet,
                    marks: hit.marks.into_iter().map(|mark| (mark.start, mark.end)).collect(),
                })
            })
            .collect::<Answered<_>>()?;
        let pending = self.book.n_unexamined;
        Ok(FindAnswer { total: found.total, took_ms, unread: 0, pending, hits })
    }

    fn show(&self, typed: &str) -> Answered<ShowAnswer> {
        let read = self.read(typed)?;
        let bench = match self.advise(&Question::Walk { record: read.record.clone() }) {
            Ok(Advice::Walk(steps)) => steps,
            _ => Vec::new(),
        };
        Ok(ShowAnswer { bench, ..read })
    }

    fn read(&self, typed: &str) -> Answered<ShowAnswer> {
        let entry = self.wanted(typed)?;
        let text = self.text(&entry)?;
        let details = self.told(&entry)?;
        let card = entry.blank.as_deref().and_then(|name| self.book.card(name));
        let blank = card.map(|card| card.id.to_string());
        Ok(ShowAnswer {
            record: entry.id.to_string(),
            path: entry.path(),
            title: entry.title.to_string(),
            kind: entry.kind().word().to_owned(),
            text,
            blank,
            builds: self
                .book
                .builds_of(&entry.id)
                .iter()
                .map(|build| build.id.to_string())
                .collect(),
            numbers: self.numbers_json(&details),
            bench: Vec::new(),
            flags: flag_answers(&entry.id, &details),
            problems: problem_answers(&entry.id, &details),
        })
    }

    fn flags(&self, only: Option<&str>) -> Answered<FlagsAnswer> {
        if let Some(name) = only
            && !self.catalogue.flags.iter().any(|flag| flag.name == name)
        {
            return Err(self.no_such_flag(name));
        }
        let mut flags: Vec<FlagAnswer> = Vec::new();
        let is_wanted = |name: &Arc<str>| only.is_none_or(|only| **name == *only);
        for entry in self.book.at_fault().filter(|entry| entry.flags.iter().any(is_wanted)) {
            flags.extend(flag_answers(&entry.id, &*self.told(&entry)?));
        }
        flags.retain(|flag| only.is_none_or(|name| flag.flag == name));
        Ok(FlagsAnswer { total: flags.len(), flags })
    }

    fn explain(
        &self,
        what: &str,
        number: Option<&str>,
        held_at: Option<Length>,
    ) -> Answered<Answer> {
        let number = number.map(explained_number).transpose()?;
        if number.is_none()
            && let Some(flag) = self.catalogue.flags.iter().find(|flag| flag.name == what)
        {
            return Ok(Answer::ExplainFlag(FlagExplanation {
                flag: flag.name.to_owned(),
                finds: flag.finds.to_owned(),
                why: flag.why.to_owned(),
                example: flag.example.to_owned(),
            }));
        }
        let Named::One(entry) = self.book.find(what) else {
            return Err(match self.wanted(what) {
                Err(refusal) if matches!(self.book.find(what), Named::Several(_)) => refusal,
                _ => self.no_such_flag(what),
            });
        };
        let question = Question::Explain { record: entry.id.to_string(), number, held_at };
        let advice = self.advised(&question, |advice| match advice {
            Advice::Explain(advice) => Some(advice),
            _ => None,
        })?;
        Ok(Answer::ExplainRecord(Box::new(advice)))
    }

    fn no_such_flag(&self, name: &str) -> Refusal {
        let mut near: Vec<(f64, &str)> = self
            .catalogue
            .flags
            .iter()
            .map(|flag| (strsim::jaro_winkler(name, flag.name), flag.name))
            .filter(|(likeness, _)| 0.8 < *likeness)
            .collect();
        near.sort_by(|a, b| b.0.total_cmp(&a.0));
        let all: Vec<&str> = self.catalogue.flags.iter().map(|flag| flag.name).collect();
        refusal(&match near.first() {
            Some((_, near)) => {
                format!("no flag or record is called `{name}`: did you mean `{near}`?")
            }
            None => {
                format!("no flag or record is called `{name}`: the flags are {}", all.join(", "))
            }
        })
    }

    fn check(&self, paths: &[String]) -> Answered<CheckAnswer> {
        let mut answer = CheckAnswer { checked: 0, problems: Vec::new(), flags: Vec::new() };
        let mut matched = vec![false; paths.len()];
        for entry in self.book.iter() {
            let path = entry.path();
            let mut wanted = paths.is_empty();
            for (at, asked) in paths.iter().enumerate() {
                let asked = asked.trim_start_matches("./").trim_end_matches('/');
                let inside = path
                    .strip_prefix(asked)
                    .is_some_and(|rest| rest.is_empty() || rest.starts_with('/'));
                if inside || *entry.id == *asked || asked.is_empty() || asked == "." {
                    matched[at] = true;
                    wanted = true;
                }
            }
            if wanted {
                answer.checked += 1;
                if entry.is_at_fault() {
                    let details = self.told(&entry)?;
                    answer.problems.extend(problem_answers(&entry.id, &details));
                    answer.flags.extend(flag_answers(&entry.id, &details));
                }
            }
        }
        if let Some(at) = matched.iter().position(|matched| !matched) {
            let asked = &paths[at];
            if let Some(why) = self.book.unreadable.get(asked.as_str()) {
                return Err(refusal(&format!("`{asked}` could not be read: {why}")));
            }
            return Err(refusal(&format!(
                "no record is at `{asked}` in the shop folder: name a file or a directory in it"
            )));
        }
        Ok(answer)
    }

    /// Suggests the next cut; none as long as something that it must be held against could not be read.
    fn suggest(&self, typed: &str, held_at: Option<Length>) -> Answered<SuggestAdvice> {
        let entry = self.wanted(typed)?;
        let question = Question::Suggest { record: entry.id.to_string(), held_at };
        let mut advice = self.advised(&question, |advice| match advice {
            Advice::Suggest(advice) => Some(*advice),
            _ => None,
        })?;
        if advice.why_stop.is_none()
            && let Some(problem) =
                self.unread(&entry, &["blank", "held_at", "limits", "aim", "bench"])?
        {
            advice.next_cut = None;
            advice.measure_next = Some(format!(
                "mend the record first, since what can't be read is held against nothing: {}:{}:{}: {}",
                problem.path, problem.line, problem.column, problem.message
            ));
        }
        if let Some(cut) = advice.next_cut {
            advice.words.extend(self.nothing_fits_after(&entry.id, cut));
        }
        Ok(advice)
    }

    /// The first problem in a part of a build that an answer depends on.
    fn unread(&self, entry: &Entry, depended_on: &[&str]) -> Answered<Option<ProblemAnswer>> {
        if entry.n_problems == 0 {
            return Ok(None);
        }
        let problems = problem_answers(&entry.id, &*self.told(entry)?);
        let Ok(text) = self.text(entry) else { return Ok(None) };
        let lines: Vec<&str> = text.lines().collect();
        let is_key = |key: &str| {
            !key.is_empty() && key.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'_')
        };
        Ok(problems.into_iter().find(|problem| {
            // The problem's own line, or the nearest above it, that begins with a key.
            let mut above = lines.iter().take(problem.line as usize).rev();
            let key = above.find_map(|line| {
                line.split_once(':').map(|(key, _)| key).filter(|key| is_key(key))
            });
            key.is_some_and(|key| depended_on.contains(&key))
        }))
    }

    fn check_text(&self, path: &str, text: &str) -> CheckAnswer {
        let parsed = entry::read(path, text.as_bytes());
        let (entry, read) = Entry::new(&parsed, text.as_bytes());
        let flags = self.flags_of(parsed.record, text.as_bytes());
        CheckAnswer { checked: 1, problems: problem_answers(&entry.id, &read), flags }
    }

    /// Gives the flags of a record that reads differently than it is saved; its places are those of `text`.
    fn flags_of(&self, record: Record, text: &[u8]) -> Vec<FlagAnswer> {
        let overlay = self.with(Arc::new(record));
        let (found, _) = examine::flags(&self.plugins, overlay.record(), &overlay);
        let id = &overlay.record().id;
        found
            .into_iter()
            .map(|finding| {
                let (line, column) = position(text, finding.span.map_or(0, |span| span.start));
                FlagAnswer {
                    record: id.clone(),
                    path: path_of(id),
                    line,
                    column,
                    flag: finding.flag,
                    message: finding.message,
                }
            })
            .collect()
    }

    fn status(&self) -> StatusAnswer {
        StatusAnswer {
            generation: self.generation,
            records: self.book.len(),
            problems: self.book.n_problems,
            flags: self.book.n_of_flag().map(|(_, n)| n).sum(),
            pending: self.book.n_unexamined,
            unreadable: self
                .book
                .unreadable
                .iter()
                .map(|(path, why)| Unreadable { path: path.to_string(), why: why.to_string() })
                .collect(),
            index_bytes: self.home.as_deref().map_or(0, |home| size_of_dir(&home.join("index"))),
            ..StatusAnswer::default()
        }
    }

    /// Asks the plugins in turn; the first that knows the question answers it.
    fn advise(&self, question: &Question) -> Answered<Advice> {
        self.advices.get(question, || {
            let view = View::new(self);
            let advice = self.first_advice(question, &view);
            let reads = view.into_reads().iter().map(graph::read_node).collect();
            Given { advice, reads }
        })
    }

    fn first_advice(&self, question: &Question, view: &View) -> Answered<Advice> {
        for plugin in self.plugins.iter() {
            match examine::guarded(&**plugin, |plugin| plugin.advise(question, view)) {
                Ok(None) => {}
                Ok(Some(advice)) => return advice.map_err(|message| refusal(&message)),
                Err(finding) => return Err(refusal(&finding.message)),
            }
        }
        Err(refusal("no plugin answers this question"))
    }

    /// Asks the plugins for advice of one kind.
    fn advised<T>(&self, question: &Question, of: impl Fn(Advice) -> Option<T>) -> Answered<T> {
        of(self.advise(question)?).ok_or_else(|| refusal("the plugin answered another question"))
    }

    fn wanted(&self, typed: &str) -> Answered<Arc<Entry>> {
        match self.book.find(typed) {
            Named::One(entry) => Ok(entry),
            Named::Several(ids) => Err(refusal(&format!(
                "`{typed}` names several records: write one of {}",
                quoted(&ids)
            ))),
            Named::None(near) if near.is_empty() => Err(refusal(&format!(
                "no record is called `{typed}`: name its path in the shop folder, or the stem of its file"
            ))),
            Named::None(near) => Err(refusal(&format!(
                "no record is called `{typed}`: did you mean {}?",
                quoted(&near)
            ))),
        }
    }

    /// The details of an entry, for an answer.
    fn told(&self, entry: &Entry) -> Answered<Arc<Details>> {
        self.details(entry).map_err(|error| {
            let id = &entry.id;
            refusal(&format!(
                "what was worked out of `{id}` can't be read back ({error}): ask again"
            ))
        })
    }

    fn text(&self, entry: &Entry) -> Answered<String> {
        let path = entry.path();
        let bytes = self
            .files
            .read(&path)
            .map_err(|error| refusal(&format!("`{path}` can't be read: {error}")))?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    }

    fn numbers_json(&self, details: &Details) -> BTreeMap<String, Number> {
        details
            .numbers
            .iter()
            .filter_map(|(at, number)| {
                let spec = self.catalogue.numbers.get(usize::from(*at))?;
                let (key, unit) = json_key(&spec.key, spec.dimension);
                Some((key, Number::from(number).scaled(1.0 / unit)))
            })
            .collect()
    }
}

fn flag_names(details: &Details) -> Vec<String> {
    let mut names: Vec<String> = details.flags.iter().map(|flag| flag.flag.to_string()).collect();
    names.sort();
    names.dedup();
    names
}

fn flag_answers(id: &str, details: &Details) -> Vec<FlagAnswer> {
    details
        .flags
        .iter()
        .map(|flag| FlagAnswer {
            record: id.to_owned(),
            path: path_of(id),
            line: flag.line,
            column: flag.column,
            flag: flag.flag.to_string(),
            message: flag.message.to_string(),
        })
        .collect()
}

fn problem_answers(id: &str, details: &Details) -> Vec<ProblemAnswer> {
    details
        .problems
        .iter()
        .map(|problem| ProblemAnswer {
            record: id.to_owned(),
            path: path_of(id),
            line: problem.line,
            column: problem.column,
            end_line: problem.end_line,
            end_column: problem.end_column,
            message: problem.message.to_string(),
        })
        .collect()
}

fn name(entry: &Entry) -> NameAnswer {
    NameAnswer {
        record: entry.id.to_string(),
        kind: entry.kind().word().to_owned(),
        title: entry.title.to_string(),
    }
}

fn quoted(names: &[String]) -> String {
    names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ")
}

fn refusal(message: &str) -> Refusal {
    Refusal { message: message.to_owned(), at: None }
}

fn size_of_dir(dir: &std::path::Path) -> u64 {
    let Ok(files) = std::fs::read_dir(dir) else { return 0 };
    files
        .flatten()
        .filter_map(|file| file.metadata().ok())
        .filter(|file| file.is_file())
        .map(|file| file.len())
        .sum()
}

/// Finds the number that a name means.
fn explained_number(name: &str) -> Answered<Measure> {
    let key = name.trim().to_lowercase().replace([' ', '-'], "_");
    let known = |measure: &Measure| measure.key() == key || measure.json_key() == key;
    Measure::ALL.into_iter().find(known).ok_or_else(|| {
        let all = Measure::ALL.map(Measure::key).join(", ");
        refusal(&format!("no number is called `{name}`: write one of {all}"))
    })
}
