//! What holds for every file, whatever its bytes are.

use taperbook_record::{Insertion, Parsed, append_item, read, verify};

/// Reads a file twice and checks all that must hold of the outcome.
pub(crate) fn check_read(path: &str, bytes: &[u8]) -> Result<Parsed, String> {
    let parsed = read(path, bytes);
    if format!("{parsed:?}") != format!("{:?}", read(path, bytes)) {
        return Err("two readings differ".to_owned());
    }
    let text = std::str::from_utf8(bytes).ok();
    let inside = |start: usize, end: usize| {
        let boundary = |at| text.is_none_or(|text| text.is_char_boundary(at));
        start <= end && end <= bytes.len() && boundary(start) && boundary(end)
    };
    for problem in &parsed.problems {
        if !inside(problem.span.start, problem.span.end)
            || problem.end < problem.start
            || problem.start.line == 0
            || problem.start.column == 0
        {
            return Err(format!("{problem:?} does not lie in the file"));
        }
        if problem.message.is_empty()
            || problem.message.contains('\n')
            || 1000 < problem.message.len()
        {
            return Err(format!("{:?} is no message", problem.message));
        }
    }
    if !parsed.problems.is_sorted_by_key(|problem| problem.span.start) {
        return Err("the problems are not in order".to_owned());
    }
    for field in &parsed.fields {
        if !inside(field.span.start, field.span.end) {
            return Err(format!("{field:?} does not lie in the file"));
        }
    }
    for span in spans(&format!("{:?}", parsed.record)) {
        if !inside(span.0, span.1) {
            return Err(format!("{span:?} of the record does not lie in the file"));
        }
    }
    if let Some(build) = parsed.record.build()
        && !build.bench.is_sorted_by_key(|item| item.span.start)
    {
        return Err("the bench is not in order".to_owned());
    }
    Ok(parsed)
}

/// The spans of a record, from its debug text: so none is forgotten when a field is added.
fn spans(debug: &str) -> Vec<(usize, usize)> {
    let number = |text: &str| {
        text.split(|c: char| !c.is_ascii_digit()).next().and_then(|digits| digits.parse().ok())
    };
    debug
        .split(" span: ")
        .skip(1)
        .filter_map(|rest| Some((number(rest)?, number(rest.split_once("..")?.1)?)))
        .collect()
}

/// Appends an item and checks that nothing else changed.
pub(crate) fn check_append(
    path: &str,
    text: &str,
    item: &str,
) -> Result<Option<Insertion>, String> {
    let Ok(insertion) = append_item(path, text, item) else { return Ok(None) };
    let Insertion { at, text: inserted, result, .. } = &insertion;
    if !text.is_char_boundary(*at)
        || *result != format!("{}{inserted}{}", &text[..*at], &text[*at..])
    {
        return Err("the file's own bytes were touched".to_owned());
    }
    verify(path, text, result, item).map_err(|error| error.to_string())?;
    let (before, after) = (read(path, text.as_bytes()), check_read(path, result.as_bytes())?);
    let (Some(old), Some(new)) = (before.record.build(), after.record.build()) else {
        return Err("it is a build no longer".to_owned());
    };
    if new.bench.len() != old.bench.len() + 1 {
        return Err(format!("{} items became {}", old.bench.len(), new.bench.len()));
    }
    let mut new = new.clone();
    new.bench.pop();
    if without_spans(&format!("{old:?}")) != without_spans(&format!("{new:?}")) {
        return Err(format!("{old:?} became {new:?}"));
    }
    if before.body != after.body || before.record.title != after.record.title {
        return Err("the body changed".to_owned());
    }
    Ok(Some(insertion))
}

/// Takes the spans out of a record's debug text.
fn without_spans(debug: &str) -> String {
    let mut rest = debug.split(" span: ");
    let mut text = rest.next().unwrap_or_default().to_owned();
    for part in rest {
        text.push_str(part.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.'));
    }
    text
}
