//! A drawing as a part of a page, which brings the style.

use crate::svg::STYLE;

/// The style of all drawings, for the sheet of a page that they stand in.
pub fn style() -> &'static str {
    STYLE
}

/// Takes the mark and the style out of a drawing, for a page whose own sheet holds [`style`]: a page that runs nothing
/// which stands in it may not take a style that stands in it either.
pub fn inline(svg: &str) -> String {
    const OPENS: &str = "<style>";
    const CLOSES: &str = "</style>\n";
    let drawing = svg.find("<svg").map_or(svg, |start| &svg[start..]);
    match (drawing.find(OPENS), drawing.find(CLOSES)) {
        (Some(opens), Some(closes)) if opens < closes => {
            format!("{}{}", &drawing[..opens], &drawing[closes + CLOSES.len()..])
        }
        _ => drawing.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::svg::Svg;
    use crate::svg::testing::is_well_formed;

    #[test]
    fn mark_and_style_are_gone_and_all_else_is_there() {
        let mut svg = Svg::new(10.0, 10.0, "<style>", "words");
        svg.line("ink", (0.0, 0.0), (5.0, 5.0));
        let inlined = inline(&svg.finish());
        is_well_formed(&inlined);
        assert!(inlined.starts_with("<svg ") && !inlined.contains("<style>"), "{inlined}");
        assert!(inlined.contains("&lt;style&gt;") && inlined.contains("<line class=\"ink\""));
    }
}
