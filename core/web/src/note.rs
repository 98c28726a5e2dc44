//! The builder's own words: markdown as HTML, cleaned of everything that does something.

use std::collections::{HashMap, HashSet};

use maud::{Markup, PreEscaped};
use pulldown_cmark::{Event, HeadingLevel, Options, Parser, Tag, TagEnd};

/// Prints what stands below the front matter of a file, without a first heading that is the title of the page already.
pub(crate) fn note(text: &str, title: &str) -> Markup {
    let body = taperbook_record::body_of(text);
    let mut raw = String::with_capacity(body.len() * 2);
    let events: Vec<Event> = Parser::new_ext(body, Options::ENABLE_TABLES).collect();
    let n_titles = title_events(&events, title);
    let events = events.into_iter().skip(n_titles).map(below_the_title);
    pulldown_cmark::html::push_html(&mut raw, events);
    PreEscaped(scrolled(&clean(&raw)))
}

/// Lets a table that is wider than the screen move by itself; in cleaned markup a `<` that is text is none.
fn scrolled(clean: &str) -> String {
    let mut parts = clean.split("<table>");
    let mut scrolled = parts.next().unwrap_or_default().to_owned();
    for (table_idx, part) in parts.enumerate() {
        let label = format!("table {} of the note", table_idx + 1);
        scrolled.push_str(&format!(
            "<div class=\"scrolled\" tabindex=\"0\" role=\"region\" aria-label=\"{label}\"><table>"
        ));
        scrolled.push_str(part);
    }
    scrolled.replace("</table>", "</table></div>")
}

/// Counts the events of a first heading that says nothing but the title.
fn title_events(events: &[Event], title: &str) -> usize {
    match events {
        [Event::Start(Tag::Heading { .. }), Event::Text(words), Event::End(_), ..]
            if **words == *title =>
        {
            3
        }
        _ => 0,
    }
}

/// Headings of a note stand below those of the page.
fn below_the_title(event: Event) -> Event {
    let lower = |level: HeadingLevel| {
        HeadingLevel::try_from(level as usize + 2).unwrap_or(HeadingLevel::H6)
    };
    match event {
        Event::Start(Tag::Heading { level, id, classes, attrs }) => {
            Event::Start(Tag::Heading { level: lower(level), id, classes, attrs })
        }
        Event::End(TagEnd::Heading(level)) => Event::End(TagEnd::Heading(lower(level))),
        event => event,
    }
}

/// Keeps words, lists, tables and links; pictures, forms, styles, scripts and what runs are gone.
fn clean(raw: &str) -> String {
    let kept = [
        "a",
        "b",
        "blockquote",
        "br",
        "code",
        "del",
        "em",
        "h3",
        "h4",
        "h5",
        "h6",
        "hr",
        "i",
        "li",
        "ol",
        "p",
        "pre",
        "strong",
        "sub",
        "sup",
        "table",
        "tbody",
        "td",
        "th",
        "thead",
        "tr",
        "ul",
    ];
    ammonia::Builder::empty()
        .tags(HashSet::from(kept))
        .tag_attributes(HashMap::from([("a", HashSet::from(["href"]))]))
        .url_schemes(HashSet::from(["http", "https", "mailto"]))
        .url_relative(ammonia::UrlRelative::Deny)
        .clean_content_tags(HashSet::from(["script", "style"]))
        .link_rel(Some("noopener noreferrer nofollow"))
        .clean(raw)
        .to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(body: &str, expected: &str) {
        assert_eq!(
            note(&format!("---\nkind: build\n---\n{body}\n"), "Per").into_string().trim(),
            expected
        );
    }

    #[test]
    fn words_keep_their_shape() {
        check(
            "She said: *soft*.\n\n- one",
            "<p>She said: <em>soft</em>.</p>\n<ul>\n<li>one</li>\n</ul>",
        );
        check("# Per\n\nx", "<p>x</p>");
        check("# Ilse\n\nx", "<h3>Ilse</h3>\n<p>x</p>");
        check(
            "| a |\n|---|\n| `<table>` |",
            "<div class=\"scrolled\" tabindex=\"0\" role=\"region\" aria-label=\"table 1 of the note\"><table><thead><tr><th>a</th></tr></thead>\
             <tbody>\n<tr><td><code>&lt;table&gt;</code></td></tr>\n</tbody></table></div>",
        );
        check("a < b & c", "<p>a &lt; b &amp; c</p>");
    }

    #[test]
    fn what_does_something_is_gone() {
        check("<script>alert(1)</script>after", "after");
        check("x <img src=x onerror=alert(1)> y", "<p>x  y</p>");
        check("<p onclick=\"alert(1)\" style=\"position:fixed\">words</p>", "<p>words</p>");
        check("[go](javascript:alert(1))", "<p><a rel=\"noopener noreferrer nofollow\">go</a></p>");
        check("<form action=/undo method=post><button>x</button></form>", "x");
        check("<svg><style>*{display:none}</style><a href=\"javascript:x\">y</a></svg>", "<p></p>");
        check("![p](http://elsewhere.example/count.png)", "<p></p>");
        check(
            "<iframe srcdoc='<script>1</script>'></iframe><meta http-equiv=refresh content=0>",
            "",
        );
        check("[up](/undo)", "<p><a rel=\"noopener noreferrer nofollow\">up</a></p>");
    }
}
