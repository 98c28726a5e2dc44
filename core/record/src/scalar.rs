//! A text as one YAML scalar that reads back as the same text.
//!
//! It writes scalars only; records are read elsewhere, and every edit is read back before it is kept.

/// Where the scalar stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ScalarPlace {
    /// Between the braces of a flow map, where commas and braces part the items.
    Flow,
    /// After `key: ` on a line of its own.
    Line,
}

/// Writes a text plain where that is safe, else in double quotes (YAML 1.2.2, 7.3.1 and 7.3.3).
pub fn scalar(text: &str, place: ScalarPlace) -> String {
    if is_plain(text, place) { text.to_owned() } else { quoted(text) }
}

/// Errs on the side of quotes: what YAML allows plain and people misread is quoted too.
fn is_plain(text: &str, place: ScalarPlace) -> bool {
    let Some(first) = text.chars().next() else { return false };
    let is_text = |c: char| c.is_alphanumeric() || " '\"’”′″°½¼¾⅛.,:;!?/()+-_&=%…–".contains(c);
    let flow_marks = |c: char| place == ScalarPlace::Flow && ",[]{}".contains(c);
    first.is_alphanumeric()
        && text.trim() == text
        && text.chars().all(|c| is_text(c) && !flow_marks(c))
        && !text.contains(": ")
        && !text.ends_with(':')
        && !is_other_than_text(text)
}

/// Tells whether YAML would make a number, a truth or nothing of a text.
fn is_other_than_text(text: &str) -> bool {
    let lower = text.to_lowercase();
    matches!(
        lower.as_str(),
        "null" | "true" | "false" | "yes" | "no" | "on" | "off" | "y" | "n" | "nan" | "inf"
    ) || lower.parse::<f64>().is_ok()
        || lower.starts_with("0x")
        || lower.starts_with("0o")
        || lower.starts_with("0b")
}

fn quoted(text: &str) -> String {
    let mut quoted = String::from('"');
    for c in text.chars() {
        match c {
            '"' => quoted.push_str("\\\""),
            '\\' => quoted.push_str("\\\\"),
            '\n' => quoted.push_str("\\n"),
            '\t' => quoted.push_str("\\t"),
            '\u{2028}' | '\u{2029}' | '\u{feff}' => {
                quoted.push_str(&format!("\\u{:04X}", u32::from(c)))
            }
            c if c.is_control() => quoted.push_str(&format!("\\x{:02X}", u32::from(c))),
            c => quoted.push(c),
        }
    }
    quoted.push('"');
    quoted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_words_stay_plain_and_others_are_quoted() {
        for text in ["rotary disc", "6'10\"", "7 ft 10 in", "won't throw, or so", "a:b", "Søren"] {
            assert_eq!(scalar(text, ScalarPlace::Line), text);
        }
        for (text, written) in [
            ("", "\"\""),
            (" x", "\" x\""),
            ("# 6", "\"# 6\""),
            ("line # 6", "\"line # 6\""),
            ("no: never", "\"no: never\""),
            ("tip:", "\"tip:\""),
            ("yes", "\"yes\""),
            ("10", "\"10\""),
            ("0x1F", "\"0x1F\""),
            ("\"quoted\" \\", "\"\\\"quoted\\\" \\\\\""),
            ("two\nlines\u{7}", "\"two\\nlines\\x07\""),
            ("*anchor", "\"*anchor\""),
        ] {
            assert_eq!(scalar(text, ScalarPlace::Line), written);
        }
    }

    #[test]
    fn commas_and_braces_are_quoted_inside_a_flow_map_alone() {
        assert_eq!(scalar("early, straight", ScalarPlace::Line), "early, straight");
        assert_eq!(scalar("early, straight", ScalarPlace::Flow), "\"early, straight\"");
        assert_eq!(scalar("a {b}", ScalarPlace::Flow), "\"a {b}\"");
    }
}
