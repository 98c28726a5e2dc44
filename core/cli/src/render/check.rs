//! `check`: problems and flags, one a line, as a compiler gives them, so that an editor can jump there.

use taperbook_engine::CheckAnswer;

use super::{Setting, counted};
use crate::style::{BAD, FAINT, STRONG, clean, paint};

/// Prints `path:line:col: message` for every problem and flag, in the order of their places.
pub(crate) fn check(setting: &Setting, answer: &CheckAnswer) -> String {
    let problems = answer.problems.iter().map(|p| (&p.path, p.line, p.column, None, &p.message));
    let flags = answer.flags.iter().map(|f| (&f.path, f.line, f.column, Some(&f.flag), &f.message));
    let mut lines: Vec<_> = problems.chain(flags).collect();
    lines.sort();
    lines
        .into_iter()
        .map(|(path, line, column, flag, message)| {
            let place = paint(
                STRONG,
                &format!("{}:{line}:{column}:", clean(&format!("{}{path}", setting.prefix))),
            );
            let flag = flag.map(|flag| paint(BAD, &clean(flag)) + ": ").unwrap_or_default();
            format!("{place} {flag}{}\n", clean(message))
        })
        .collect()
}

/// Sums it up in a line, for standard error, so that standard output holds places alone.
pub(crate) fn summary(answer: &CheckAnswer) -> String {
    let sum = format!(
        "{} checked: {}, {}",
        counted(answer.checked, "record"),
        counted(answer.problems.len(), "problem"),
        counted(answer.flags.len(), "flag")
    );
    paint(FAINT, &sum) + "\n"
}

#[cfg(test)]
mod tests {
    use expect_test::expect;

    use super::*;
    use crate::render::sample;

    #[test]
    fn problems_and_flags_stand_in_the_order_of_their_places() {
        let answer =
            CheckAnswer { checked: 53, problems: sample::problems(), flags: sample::flags() };
        sample::check(
            &check(&Setting::default(), &answer),
            expect![[r#"
            builds/ada-wren.md:4:20: `purpuse` is not a key of a build: did you mean `purpose`?
            builds/nils-heron.md:14:5: below-shortest-length: the 3 in cut off the butt left 6'7", an inch below the shortest length of 6'8" that Nils allows
            builds/per-heron.md:9:20: `2,4 mm` has a comma: write `2.4 mm`
            builds/per-heron.md:12:5: above-most-power: 268 g read, 8 g above the most that Per allows
        "#]],
        );
        let elsewhere = Setting { prefix: "shops/mine/".to_owned(), ..Setting::default() };
        sample::check(
            &check(&elsewhere, &answer),
            expect![[r#"
            shops/mine/builds/ada-wren.md:4:20: `purpuse` is not a key of a build: did you mean `purpose`?
            shops/mine/builds/nils-heron.md:14:5: below-shortest-length: the 3 in cut off the butt left 6'7", an inch below the shortest length of 6'8" that Nils allows
            shops/mine/builds/per-heron.md:9:20: `2,4 mm` has a comma: write `2.4 mm`
            shops/mine/builds/per-heron.md:12:5: above-most-power: 268 g read, 8 g above the most that Per allows
        "#]],
        );
        sample::check(
            &summary(&answer),
            expect![[r#"
            53 records checked: 2 problems, 2 flags
        "#]],
        );
    }
}
