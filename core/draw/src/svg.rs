//! The text of an SVG, piece by piece: what is written into it is escaped here and nowhere else.

use std::fmt::Write as _;

/// Stands at the start of every drawing, so that it can be told from a file that somebody else made.
pub(crate) const MARK: &str = "<!-- drawn by taperbook -->";

/// Says whether a file begins as our drawings do.
pub fn is_ours(bytes: &[u8]) -> bool {
    bytes.starts_with(MARK.as_bytes())
}

/// Ink on paper, and the other way round where the reader's screen is dark.
pub(crate) const STYLE: &str = "\
svg { color: #20242a; background: #fbfaf6; font: 13px system-ui, sans-serif; }
@media (prefers-color-scheme: dark) { svg { color: #e9e6de; background: #17191c; } }
@media print { svg { color: #000; background: none; } }
text { fill: currentColor; }
.small { font-size: 11px; }
.ink { fill: none; stroke: currentColor; stroke-width: 1.6; stroke-linejoin: round; }
.fine { fill: none; stroke: currentColor; stroke-width: 0.7; opacity: 0.55; }
.dots { fill: none; stroke: currentColor; stroke-width: 1.2; stroke-dasharray: 5 4; }
.level { fill: none; stroke: currentColor; stroke-width: 1; stroke-dasharray: 16 4 2 4; }
.wash { fill: currentColor; fill-opacity: 0.09; stroke: none; }
.full { fill: currentColor; stroke: none; }
.open { fill: none; stroke: currentColor; stroke-width: 1.2; }
.grid { stroke: currentColor; stroke-width: 0.6; opacity: 0.22; }
.pale { fill: currentColor; fill-opacity: 0.16; stroke: none; }
.blue { fill: none; stroke: #1a5381; stroke-width: 2.4; stroke-linejoin: round; stroke-linecap: round; }
.bluewash { fill: #1a5381; fill-opacity: 0.2; stroke: none; }
.red { fill: none; stroke: #9c2018; stroke-width: 2.4; }
@media (prefers-color-scheme: dark) { .blue { stroke: #8cc4f0; } .bluewash { fill: #8cc4f0; } .red { stroke: #ff9c8f; } }
";

/// A drawing that grows.
pub(crate) struct Svg {
    text: String,
}

/// Where a text stands beside its place.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

impl Svg {
    pub(crate) fn new(width: f64, height: f64, title: &str, description: &str) -> Self {
        Self::named("", width, height, title, description)
    }

    /// Begins a drawing whose ids begin with a name, so that several can stand on one page.
    pub(crate) fn named(
        name: &str,
        width: f64,
        height: f64,
        title: &str,
        description: &str,
    ) -> Self {
        let (title, description) = (escaped(title), escaped(description));
        let text = format!(
            "{MARK}\n<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" \
             height=\"{height}\" role=\"img\" aria-labelledby=\"{name}title {name}desc\">\n\
             <title id=\"{name}title\">{title}</title>\n\
             <desc id=\"{name}desc\">{description}</desc>\n<style>\n{STYLE}</style>\n"
        );
        Self { text }
    }

    pub(crate) fn line(&mut self, class: &str, from: (f64, f64), to: (f64, f64)) {
        self.add(format_args!(
            "<line class=\"{class}\" x1=\"{:.1}\" y1=\"{:.1}\" x2=\"{:.1}\" y2=\"{:.1}\"/>",
            from.0, from.1, to.0, to.1
        ));
    }

    /// A line through places, or the area that they enclose.
    pub(crate) fn path(&mut self, class: &str, places: &[(f64, f64)], closed: bool) {
        if places.len() < 2 {
            return;
        }
        let mut path = String::new();
        for (place_idx, (x, y)) in places.iter().enumerate() {
            let command = if place_idx == 0 { 'M' } else { 'L' };
            // Writing to a string can't fail.
            let _ = write!(path, "{command}{x:.1} {y:.1}");
        }
        if closed {
            path.push('Z');
        }
        self.add(format_args!("<path class=\"{class}\" d=\"{path}\"/>"));
    }

    pub(crate) fn circle(&mut self, class: &str, (x, y): (f64, f64), radius: f64) {
        self.add(format_args!(
            "<circle class=\"{class}\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius}\"/>"
        ));
    }

    pub(crate) fn rectangle(&mut self, class: &str, (x, y): (f64, f64), (to_x, to_y): (f64, f64)) {
        self.add(format_args!(
            "<rect class=\"{class}\" x=\"{x:.1}\" y=\"{y:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>",
            to_x - x,
            to_y - y
        ));
    }

    pub(crate) fn text(&mut self, class: &str, (x, y): (f64, f64), anchor: Anchor, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let text = escaped(text);
        self.add(format_args!(
            "<text class=\"{class}\" x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\">{text}</text>"
        ));
    }

    pub(crate) fn finish(self) -> String {
        self.text + "</svg>\n"
    }

    fn add(&mut self, element: std::fmt::Arguments) {
        // Writing to a string can't fail.
        let _ = writeln!(self.text, "{element}");
    }
}

/// A text without what would be markup, or no character of XML at all.
fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\u{fffe}' | '\u{ffff}' => escaped.push(char::REPLACEMENT_CHARACTER),
            c if c.is_control() => escaped.push(' '),
            c => escaped.push(c),
        }
    }
    escaped
}

/// What tests of drawings look at.
#[cfg(test)]
pub(crate) mod testing {
    /// Every number of an attribute, with its name.
    pub(crate) fn coordinates(svg: &str) -> Vec<(String, f64)> {
        let named = svg.split(['<', ' ']).filter_map(|part| {
            let (name, rest) = part.split_once("=\"")?;
            Some((name.to_owned(), rest.split('"').next()?.parse().ok()?))
        });
        named.collect()
    }

    /// The element that each `<` opens or closes, matched against each other.
    #[track_caller]
    pub(crate) fn is_well_formed(svg: &str) {
        let mut open: Vec<&str> = Vec::new();
        for tag in svg.split('<').skip(1).filter(|tag| !tag.starts_with('!')) {
            let (tag, _) = tag.split_once('>').expect("every tag is closed");
            if let Some(name) = tag.strip_prefix('/') {
                assert_eq!(open.pop(), Some(name));
            } else if !tag.ends_with('/') {
                open.push(tag.split(' ').next().unwrap_or(tag));
            }
        }
        assert!(open.is_empty(), "{open:?}");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_record_is_called_is_text_and_never_markup() {
        let mut svg = Svg::new(10.0, 10.0, "<script>", "a & \"b\"");
        svg.text("", (1.0, 1.0), Anchor::Start, "</text>\u{1b}[2J");
        let text = svg.finish();
        assert!(text.contains("&lt;script&gt;") && text.contains("a &amp; &quot;b&quot;"));
        assert!(text.contains("&lt;/text&gt; [2J") && !text.contains('\u{1b}'));
    }

    #[test]
    fn a_file_of_somebody_else_is_not_ours() {
        assert!(!is_ours(b"<svg xmlns=\"http://www.w3.org/2000/svg\"/>"));
        assert!(!is_ours(b""));
    }
}
