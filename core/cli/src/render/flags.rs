//! `flags`: the flags of the shop, with the place of each.

use taperbook_engine::{FlagAnswer, FlagsAnswer};

use super::{Setting, counted};
use crate::style::{BAD, FAINT, clean, paint, wrapped};

/// Prints the answer to `flags`.
pub(crate) fn flags(setting: &Setting, answer: &FlagsAnswer) -> String {
    if answer.flags.is_empty() {
        return "no flags\n".to_owned();
    }
    let mut text = list(setting, &answer.flags);
    text.push_str(&format!("\n{}; ", counted(answer.total, "flag")));
    text.push_str("`taperbook explain FLAG` says what one means\n");
    text
}

/// Prints flags, each with its place and what was found.
pub(crate) fn list(setting: &Setting, flags: &[FlagAnswer]) -> String {
    flags
        .iter()
        .map(|flag| {
            let place = format!("{}{}:{}:{}", setting.prefix, flag.path, flag.line, flag.column);
            let name = paint(BAD, &clean(&flag.flag));
            format!(
                "{name}  {}\n{}",
                paint(FAINT, &clean(&place)),
                wrapped(&clean(&flag.message), "  ")
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use expect_test::expect;

    use super::*;
    use crate::render::sample;

    #[test]
    fn each_flag_has_its_name_its_place_and_what_was_found() {
        let flags_answer = FlagsAnswer { total: 2, flags: sample::flags() };
        sample::check(
            &flags(&Setting::default(), &flags_answer),
            expect![[r#"
                below-shortest-length  builds/nils-heron.md:14:5
                  the 3 in cut off the butt left 6'7", an inch below the shortest length of 6'8"
                  that Nils allows
                above-most-power  builds/per-heron.md:12:5
                  268 g read, 8 g above the most that Per allows

                2 flags; `taperbook explain FLAG` says what one means
            "#]],
        );
        sample::check(
            &flags(&Setting::default(), &FlagsAnswer { total: 0, flags: Vec::new() }),
            expect![[r#"
            no flags
        "#]],
        );
    }
}
