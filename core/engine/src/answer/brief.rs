//! A brief as it is typed, in the notation of records: `length: 6'10", power: 235 g`.
//!
//! It is read by the same reader as a build, so that what a record may say may be typed, with the same words about a slip.

use taperbook_record::{Build, Content, brief_line};

use super::{Answered, refusal};

/// What was typed of a brief.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Typed<'a> {
    pub(super) aim: Option<&'a str>,
    pub(super) limits: Option<&'a str>,
    pub(super) held_at_mm: Option<f64>,
}

impl Typed<'_> {
    /// Reads aims and limits as a build holds them.
    pub(super) fn read(&self) -> Answered<Build> {
        let aim = self
            .aim
            .map(|text| brief_line("aim", text))
            .transpose()
            .map_err(|message| refusal(&message))?;
        let limits = self
            .limits
            .map(|text| brief_line("limits", text))
            .transpose()
            .map_err(|message| refusal(&message))?;
        // Each by itself first, so that what is said of a slip says where it is.
        for (name, line) in [("the aim", &aim), ("the limits", &limits)] {
            if let Some(line) = line {
                build(line).map_err(|message| refusal(&format!("in {name}: {message}")))?;
            }
        }
        let both = format!("{}{}", aim.unwrap_or_default(), limits.unwrap_or_default());
        build(&both).map_err(|message| refusal(&message))
    }
}

/// Reads lines as those of a build; the first problem is what is wrong.
fn build(lines: &str) -> Result<Build, String> {
    let text = format!("---\nkind: build\nblank: any\n{lines}---\n");
    let parsed = taperbook_record::read("builds/brief.md", text.as_bytes());
    if let Some(problem) = parsed.problems.into_iter().next() {
        return Err(problem.message);
    }
    match parsed.record.content {
        Content::Build(build) => Ok(*build),
        _ => Err("it can't be read".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn aims(typed: &str) -> String {
        let aim = Some(typed);
        let build =
            Typed { aim, ..Typed::default() }.read().unwrap_or_else(|why| panic!("{why:?}"));
        let aims =
            build.aim.iter().map(|(measure, aim)| format!("{} {}", measure.key(), aim.value));
        aims.collect::<Vec<_>>().join(", ")
    }

    #[track_caller]
    fn refused(typed: Typed, part: &str) {
        let message = typed.read().unwrap_err().message;
        assert!(message.contains(part), "{message}");
    }

    #[test]
    fn braces_and_colons_may_be_left_out() {
        for typed in [
            "{ length: 6'10\", power: 235 g }",
            "length: 6'10\", power: 235 g",
            "length 6'10\", power 235 g",
            " length:6'10\" ,power:235g ",
            "length 6'10”, power 235 g",
        ] {
            assert_eq!(aims(typed), "length 2083 mm, power 235 g", "{typed}");
        }
        assert_eq!(aims("tip-od 2.2 mm"), "tip_od 2.2 mm");
    }

    #[test]
    fn slips_are_told_in_the_words_of_the_records() {
        let aim = |aim| Typed { aim: Some(aim), ..Typed::default() };
        let limits = |limits| Typed { limits: Some(limits), ..Typed::default() };
        refused(aim("power 235"), "in the aim: `235` has no unit: write `235 g`");
        refused(aim("powr 235 g"), "`powr` is nothing that `aim` knows: did you mean `power`?");
        refused(aim("power 200 g .. 260 g"), "is a range where one value belongs");
        refused(aim("tip_od 2,4 mm"), "has a comma");
        refused(aim(" { } "), "says nothing of what is tried for");
        refused(aim("length 6'10\"\nverdict: keep"), "one line");
        refused(limits("power 235 g"), "in the limits: `235 g` is one value where a range belongs");
        refused(limits("power 260 g .. 200 g"), "the wrong way round");
        refused(limits("power 200 g .. 260 g, power .. 3 oz"), "twice");
        refused(limits("power"), "in the limits:");
        refused(limits("power 1 g .. }, kind: note"), "in the limits:");
    }
}
