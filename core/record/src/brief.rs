//! A brief as it is typed on one line, `length 6'10", power 235 g`, made into a line of a build.

/// Longer than this no brief is.
const MOST_BYTES: usize = 4096;

/// Makes the line of a build of what was typed for its `aim` or its `limits`, with or without braces and colons.
///
/// # Errors
/// When it is empty, too long or not on one line; what it says is not read here.
pub fn brief_line(key: &str, typed: &str) -> Result<String, String> {
    let example = match key {
        "aim" => "length: 6'10\", power: 235 g",
        _ => "length: 6'8\" .. 7'0\", power: 200 g .. 260 g",
    };
    if typed.contains(['\n', '\r']) || MOST_BYTES < typed.len() {
        return Err(format!(
            "{} goes on one line: write it such as `{example}`",
            if key == "aim" { "the aim" } else { "a list of limits" }
        ));
    }
    let text = typed.trim();
    let text = match text.strip_prefix('{').and_then(|inner| inner.strip_suffix('}')) {
        Some(inner) => inner.trim(),
        None => text,
    };
    if text.is_empty() {
        return Err(format!(
            "`{typed}` says nothing of what is {}: write such as `{example}`",
            if key == "aim" { "tried for" } else { "allowed" }
        ));
    }
    let entries: Vec<String> = text.split(',').map(entry).collect();
    Ok(format!("{key}: {{ {} }}\n", entries.join(", ")))
}

/// Puts the colon and the space after a name that begins a part; what does not begin with one stays as it is.
fn entry(part: &str) -> String {
    let part = part.trim();
    let is_name = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '-');
    let end = part.find(|c| !is_name(c)).unwrap_or(part.len());
    let (name, rest) = part.split_at(end);
    let rest = rest.trim_start();
    let rest = rest.strip_prefix(':').unwrap_or(rest).trim_start();
    if name.starts_with(|c: char| c.is_ascii_alphabetic()) && !rest.is_empty() {
        format!("{}: {rest}", name.replace('-', "_"))
    } else {
        part.to_owned()
    }
}
