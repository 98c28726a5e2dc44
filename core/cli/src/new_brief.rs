//! What `new` writes into the file that it makes, beside the hints: a brief, or where an offcut came from.

use taperbook_record::{ScalarPlace, brief_line, read, scalar};

use crate::failure::Failure;
use crate::new_args::{NewArgs, NewKind, OffcutEnd};

/// Refuses an option that is of another kind of record.
///
/// # Errors
/// Names the option and what it belongs to.
pub(crate) fn belongs(arguments: &NewArgs) -> Result<(), Failure> {
    let NewArgs { kind, blank, customer, purpose, aim, limits, held_at, from, end, .. } = arguments;
    let of_build = [
        ("--blank", blank.is_some()),
        ("--customer", customer.is_some()),
        ("--use", purpose.is_some()),
        ("--aim", aim.is_some()),
        ("--limits", limits.is_some()),
        ("--held-at", held_at.is_some()),
    ];
    let of_offcut = [("--from", from.is_some()), ("--end", end.is_some())];
    let wrong = |options: &[(&'static str, bool)], what: &str, right: NewKind| {
        let given = options.iter().find(|(_, given)| *given && *kind != right);
        given.map(|(option, _)| {
            Failure::new(format!("`{option}` belongs to {what}")).hint("leave it out here")
        })
    };
    match wrong(&of_build, "a build", NewKind::Build)
        .or_else(|| wrong(&of_offcut, "an offcut", NewKind::Offcut))
    {
        Some(failure) => Err(failure),
        None => Ok(()),
    }
}

/// Writes what was said of it into the text of a new record.
///
/// # Errors
/// When aims or limits can't be read; says what is wrong with them.
pub(crate) fn fill(text: &str, arguments: &NewArgs) -> Result<String, Failure> {
    let mut text = text.to_owned();
    let words = [("customer", &arguments.customer), ("purpose", &arguments.purpose)];
    for (key, value) in words {
        if let Some(value) = value {
            text = filled(&text, key, &scalar(value.trim(), ScalarPlace::Line));
        }
    }
    if let Some(held_at) = &arguments.held_at {
        text = filled(&text, "held_at", &scalar(&held_at.text, ScalarPlace::Line));
    }
    for (key, typed) in [("limits", &arguments.limits), ("aim", &arguments.aim)] {
        let Some(typed) = typed else { continue };
        let line = brief_line(key, typed).map_err(Failure::new)?;
        let value = line.trim_start_matches(key).trim_start_matches(':').trim();
        can_be_read(key, &line)?;
        text = filled(&text, key, value);
    }
    if let Some(end) = arguments.end {
        let end = if end == OffcutEnd::Tip { "tip" } else { "butt" };
        text = filled(&text, "end", end);
    }
    Ok(text)
}

/// Puts a value after a key: in place of what stands there or of the hint, else at the end of the front matter.
pub(crate) fn filled(text: &str, key: &str, value: &str) -> String {
    let line = format!("{key}: {value}\n");
    let (empty, hint) = (format!("{key}:"), format!("# {key}:"));
    let is_its = |old: &str| old.starts_with(&empty) || old.starts_with(&hint);
    if text.lines().any(is_its) {
        let lines = text.split_inclusive('\n');
        return lines.map(|old| if is_its(old) { line.as_str() } else { old }).collect();
    }
    match text.rfind("\n---\n") {
        Some(end) => format!("{}\n{line}{}", &text[..end], &text[end + 1..]),
        None => text.to_owned(),
    }
}

/// Reads a line as that of a build.
fn can_be_read(key: &str, line: &str) -> Result<(), Failure> {
    let text = format!("---\nkind: build\nblank: any\n{line}---\n");
    match read("builds/new.md", text.as_bytes()).problems.into_iter().next() {
        None => Ok(()),
        Some(problem) => Err(Failure::new(format!("in `--{key}`: {}", problem.message))),
    }
}

#[cfg(test)]
mod tests {
    use taperbook_record::{Kind, template};
    use taperbook_units::Units;

    use super::*;

    fn arguments(kind: NewKind) -> NewArgs {
        NewArgs {
            kind,
            name: "ilse".to_owned(),
            blank: None,
            customer: None,
            purpose: None,
            aim: None,
            limits: None,
            held_at: None,
            from: None,
            end: None,
        }
    }

    #[test]
    fn a_brief_reads_back_as_it_was_typed() {
        for units in [Units::Inches, Units::Millimetres] {
            let text = filled(&template(Kind::Build, "ilse", None, units), "blank", "heron-704");
            let typed = NewArgs {
                customer: Some("Ilse: of the rocks".to_owned()),
                purpose: Some("small spoons # and more".to_owned()),
                aim: Some("length 6'10\", power 235 g".to_owned()),
                limits: Some("{ length: 6'8\" .. 7'0\", tip-od .. 2.2 mm }".to_owned()),
                ..arguments(NewKind::Build)
            };
            let text = fill(&text, &typed).expect("it is a brief");
            let read = read("builds/ilse.md", text.as_bytes());
            assert_eq!(read.problems, [], "{text}");
            let build = read.record.build().expect("it is a build");
            let words =
                |text: &Option<taperbook_record::Spanned<String>>| text.clone().map(|t| t.value);
            assert_eq!(words(&build.customer), typed.customer);
            assert_eq!(words(&build.purpose), typed.purpose);
            assert_eq!((build.aim.len(), build.limits.len()), (2, 2));
        }
    }

    #[test]
    fn a_slip_in_a_brief_is_told_and_options_of_another_kind_are_refused() {
        let text = template(Kind::Build, "ilse", None, Units::Inches);
        let typed = NewArgs { aim: Some("length 82".to_owned()), ..arguments(NewKind::Build) };
        let told = fill(&text, &typed).unwrap_err().print();
        assert!(told.contains("in `--aim`") && told.contains("no unit"), "{told}");
        let typed = NewArgs { aim: Some("length 82 in".to_owned()), ..arguments(NewKind::Fitting) };
        assert!(belongs(&typed).unwrap_err().print().contains("`--aim` belongs to a build"));
        let typed = NewArgs { end: Some(OffcutEnd::Tip), ..arguments(NewKind::Build) };
        assert!(belongs(&typed).unwrap_err().print().contains("belongs to an offcut"));
    }

    #[test]
    fn the_blank_of_a_new_build_is_filled_in() {
        let text = template(Kind::Build, "ilse", None, Units::Inches);
        for name in ["heron-704", "blanks/heron-704", "yes", "a: b"] {
            let filled = filled(&text, "blank", &scalar(name, ScalarPlace::Line));
            let read = read("builds/ilse.md", filled.as_bytes());
            assert_eq!(read.problems, []);
            let blank = read.record.build().and_then(|build| build.blank.clone());
            assert_eq!(blank.map(|blank| blank.value).as_deref(), Some(name));
            assert_eq!(filled.lines().count(), text.lines().count());
        }
    }
}
