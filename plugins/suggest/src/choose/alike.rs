//! Past builds of a blank that are like what is asked for, and how the words for the use are matched.
//!
//! A view gives what a build's front matter says and its title, not the text below: words are sought in `purpose`,
//! `customer`, `told`, the notes and feelings of the bench, and the title.

use std::cmp::Ordering;
use std::sync::Arc;

use taperbook_bench::walk;
use taperbook_plugin::{PastBuild, View};
use taperbook_record::{Action, Build, Measure, Record, Verdict};

use crate::brief::Aim;
use crate::evidence::in_their_words;

/// How many are told of one blank.
const MOST_TOLD: usize = 3;
/// How many words for the use are looked for.
const MOST_WORDS: usize = 32;
/// What the best or the worst that was built of a blank for such a use is worth beside an aim missed by its tolerance.
const WORTH_OF_USE: f64 = 0.5;

/// Words for the use, as they are compared.
pub(crate) struct UseWords(Vec<(String, String)>);

impl UseWords {
    /// Takes words apart; those that say nothing are left out.
    pub(crate) fn new(text: &str) -> Self {
        const IDLE: [&str; 18] = [
            "and", "the", "for", "with", "from", "off", "out", "under", "over", "into", "onto",
            "small", "big", "large", "light", "heavy", "rod", "fishing",
        ];
        let mut words: Vec<(String, String)> = Vec::new();
        for word in split(text) {
            let plain = plain(&word);
            let new = words.iter().all(|(_, other)| *other != plain);
            if 3 <= word.chars().count() && !IDLE.contains(&word.as_str()) && new {
                words.push((word, plain));
            }
        }
        words.truncate(MOST_WORDS);
        Self(words)
    }

    /// Says that there is nothing to look for.
    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Gives the words as they are looked for.
    pub(crate) fn all(&self) -> Vec<String> {
        self.0.iter().map(|(word, _)| word.clone()).collect()
    }

    /// Gives those that stand in a build.
    fn in_build(&self, record: &Record, build: &Build) -> Vec<String> {
        if self.is_empty() {
            return Vec::new();
        }
        let written: Vec<String> =
            texts(record, build).into_iter().flat_map(split).map(|word| plain(&word)).collect();
        let stands = |(_, plain): &&(String, String)| written.contains(plain);
        self.0.iter().filter(stands).map(|(word, _)| word.clone()).collect()
    }
}

/// What the past builds of a blank say of the use: less than nothing where they were liked, more where they were not.
///
/// Each build with some of the words counts by how many of them; one that was rated 5 as well as can be, 1 or scrapped as
/// badly (common practice, no source).
pub(crate) fn worth_of_use(builds: &[Arc<Record>], words: &UseWords, itself: Option<&str>) -> f64 {
    if words.is_empty() {
        return 0.0;
    }
    let (mut all, mut sum) = (0.0, 0.0);
    for record in others(builds, itself) {
        let Some(build) = record.build() else { continue };
        let part = words.in_build(record, build).len() as f64 / words.0.len() as f64;
        all += part;
        sum += part * liking(build);
    }
    // One build with all the words, or several with some, speaks as loud as can be.
    if 0.0 < all { -WORTH_OF_USE * sum / f64::max(all, 1.0) } else { 0.0 }
}

/// From −1 to 1.
fn liking(build: &Build) -> f64 {
    let scrapped = build.verdict.as_ref().is_some_and(|verdict| verdict.value == Verdict::Scrap);
    match build.rating.as_ref().map(|rating| f64::from(rating.value)) {
        _ if scrapped => -1.0,
        Some(rating) => (rating - 3.0) / 2.0,
        // It was built and not complained of.
        None => 0.25,
    }
}

/// Past builds of a blank, the most alike first: those that were judged before those still on the bench, then those with
/// the words for the use, then those with the nearest aims or ends, then the best rated.
pub(crate) fn alike(
    view: &View,
    builds: &[Arc<Record>],
    words: &UseWords,
    aims: &[Aim],
    itself: Option<&str>,
) -> Vec<PastBuild> {
    let mut told: Vec<(f64, PastBuild)> = others(builds, itself)
        .filter_map(|record| {
            let build = record.build()?;
            // What nobody has cut and nobody has judged is no example yet.
            let is_cut = build.bench.iter().any(|item| matches!(item.action, Action::Cut(_)));
            if !is_cut && build.rating.is_none() && build.verdict.is_none() {
                return None;
            }
            let used_for = words.in_build(record, build);
            Some((apart(view, record, build, aims), told(view, record, build, used_for)))
        })
        .collect();
    told.sort_by(|a, b| {
        let is_judged = |build: &PastBuild| build.rating.is_some() || build.verdict.is_some();
        let by_judged = is_judged(&b.1).cmp(&is_judged(&a.1));
        let by_words = b.1.used_for.len().cmp(&a.1.used_for.len());
        let by_rating = || b.1.rating.unwrap_or(0).cmp(&a.1.rating.unwrap_or(0));
        by_judged
            .then(by_words)
            .then_with(|| a.0.partial_cmp(&b.0).unwrap_or(Ordering::Equal))
            .then_with(by_rating)
            .then_with(|| a.1.record.cmp(&b.1.record))
    });
    told.truncate(MOST_TOLD);
    told.into_iter().map(|(_, build)| build).collect()
}

fn others<'a>(
    builds: &'a [Arc<Record>],
    itself: Option<&'a str>,
) -> impl Iterator<Item = &'a Arc<Record>> {
    builds.iter().filter(move |record| itself != Some(record.id.as_str()))
}

/// How far a build's aims, or what it ended at where it has none, are from these: in tolerances, an unknown one counts 3.
fn apart(view: &View, record: &Record, build: &Build, aims: &[Aim]) -> f64 {
    const UNKNOWN: f64 = 3.0;
    let apart = aims.iter().filter(|aim| aim.stated).map(|aim| {
        let its_aim = build.aim.iter().find(|(measure, _)| *measure == aim.measure);
        let its = its_aim.map(|(_, its)| its.value.si).or_else(|| ended(view, record, aim.measure));
        its.map_or(UNKNOWN, |its| (its - aim.value).abs() / aim.tolerance)
    });
    apart.sum()
}

/// What a number of a build is at last.
fn ended(view: &View, record: &Record, measure: Measure) -> Option<f64> {
    view.numbers(&record.id)?.get(measure.key())?.value()
}

fn told(view: &View, record: &Record, build: &Build, used_for: Vec<String>) -> PastBuild {
    let cut = walk(build, None).present().logged;
    let ended = |measure: Measure| ended(view, record, measure).map(|si| si / measure.json_unit());
    PastBuild {
        record: record.id.clone(),
        tip_cut_mm: cut.tip.mm(),
        butt_cut_mm: cut.butt.mm(),
        length_mm: ended(Measure::Length),
        power_g: ended(Measure::Power),
        rating: build.rating.as_ref().map(|rating| rating.value),
        verdict: build.verdict.as_ref().map(|verdict| {
            match verdict.value {
                Verdict::Keep => "keep",
                Verdict::Recut => "recut",
                Verdict::Scrap => "scrap",
            }
            .to_owned()
        }),
        used_for,
        words: in_their_words(build),
    }
}

/// All that a build says in words.
fn texts<'a>(record: &'a Record, build: &'a Build) -> Vec<&'a str> {
    let mut texts: Vec<&str> = vec![&record.title];
    let spanned = [&build.purpose, &build.customer, &build.told, &build.said];
    texts.extend(spanned.into_iter().flatten().map(|text| text.value.as_str()));
    for item in &build.bench {
        texts.extend(item.note.as_deref());
        match &item.action {
            Action::Feel(words) => texts.push(words),
            Action::Settled(ends) => {
                texts.extend(
                    [&ends.tip, &ends.butt].into_iter().flatten().map(|why| why.value.as_str()),
                );
            }
            _ => {}
        }
    }
    texts
}

fn split(text: &str) -> impl Iterator<Item = String> {
    text.split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
}

/// A word without the ending of a plural.
fn plain(word: &str) -> String {
    match word.strip_suffix('s') {
        Some(one) if 3 <= one.chars().count() && !one.ends_with('s') => one.to_owned(),
        _ => word.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn build(text: &str) -> Arc<Record> {
        let text = format!("---\nkind: build\nblank: heron\n{text}\n---\n# For the estuary\n");
        Arc::new(taperbook_record::read("builds/x.md", text.as_bytes()).record)
    }

    #[track_caller]
    fn found(use_words: &str, text: &str) -> String {
        let record = build(text);
        UseWords::new(use_words).in_build(&record, record.build().unwrap()).join(" ")
    }

    #[test]
    fn words_are_found_in_one_and_many_and_whatever_their_case() {
        let purpose = "purpose: Small spoon for Sea-Trout";
        assert_eq!(found("sea trout spoons", purpose), "sea trout spoons");
        assert_eq!(found("estuary, pike", purpose), "estuary");
        assert_eq!(found("jigs", "bench:\n  - feel: throws a jig badly"), "jigs");
        assert_eq!(found("the rod for small and heavy", purpose), "");
    }

    #[test]
    fn a_use_that_went_well_is_worth_something_and_one_that_went_badly_costs() {
        let worth = |text: &str| worth_of_use(&[build(text)], &UseWords::new("spoons jigs"), None);
        assert_eq!(worth("purpose: spoons and jigs\nrating: 5"), -0.5);
        assert_eq!(worth("purpose: spoons and jigs\nrating: 1"), 0.5);
        assert_eq!(worth("purpose: spoons and jigs\nrating: 5\nverdict: scrap"), 0.5);
        assert_eq!(worth("purpose: spoons\nrating: 5"), -0.25);
        assert_eq!(worth("purpose: pike\nrating: 5"), 0.0);
        let itself = worth_of_use(
            &[build("purpose: spoons\nrating: 5")],
            &UseWords::new("spoons"),
            Some("builds/x"),
        );
        assert_eq!(itself, 0.0);
    }
}
