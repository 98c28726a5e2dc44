//! The bench sheet's own numbers, read back from the text and from the page and added up; pages printed by a real browser.

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::workshop::{Workshop, is_missing};

/// What a mark may be off by, in millimetres.
const HALF: f64 = 0.5;

/// One cut as the sheet says it, each length in inches and in millimetres.
#[derive(Debug)]
struct Step {
    is_tip: bool,
    cut: f64,
    before: f64,
    from_tip: f64,
    from_butt: f64,
    from_clamp: f64,
    kerf: f64,
    whole: f64,
    after: f64,
}

#[test]
fn marks_add_up_to_half_a_millimetre_on_paper_and_on_the_screen() {
    let workshop = Workshop::demo();
    for (record, tip, butt) in [
        ("ilse-heron", "1in", "3in"),
        ("ilse-heron", "17 mm", "0mm"),
        ("emil-egret", "0in", "2 3/32in"),
        ("nora-dipper", "33.3mm", "41.7mm"),
    ] {
        for units in ["inches", "millimetres"] {
            let shop = workshop.read("shop.yaml").replace("units: inches", "units: millimetres");
            workshop.write(
                "shop.yaml",
                &shop.replace("units: millimetres", &format!("units: {units}")),
            );
            let page = format!("{record}.html");
            let arguments = ["sheet", record, "--tip", tip, "--butt", butt, "--html", &page];
            let text = workshop.run(&arguments).ended(0).stdout.clone();
            for told in [text, plain(&workshop.read(&page))] {
                let steps = steps(&told);
                assert!(!steps.is_empty(), "{told}");
                add_up(&told, &steps, (mm(tip), mm(butt)));
            }
        }
    }
}

#[track_caller]
fn add_up(told: &str, steps: &[Step], (tip, butt): (f64, f64)) {
    let near = |a: f64, b: f64| assert!((a - b).abs() <= HALF, "{a} {b}\n{told}");
    let held_at = 9.0 * 25.4;
    let mut before = steps[0].before;
    for step in steps {
        near(step.before, before);
        near(step.from_tip + step.from_butt, step.before);
        near(if step.is_tip { step.from_tip } else { step.from_butt }, step.cut);
        near(step.from_clamp, step.from_butt - held_at);
        near(step.kerf + step.whole, step.cut);
        near(step.before - step.cut, step.after);
        before = step.after;
    }
    let sum =
        |is_tip: bool| steps.iter().filter(|s| s.is_tip == is_tip).map(|s| s.cut).sum::<f64>();
    near(sum(true), tip);
    near(sum(false), butt);
}

/// Reads the steps of a sheet; what stands before the first is no step.
fn steps(told: &str) -> Vec<Step> {
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    let lower = told.replace(". Cut ", ". cut ");
    lower.split(". cut ").skip(1).map(step).collect()
}

#[track_caller]
fn step(text: &str) -> Step {
    let is_tip = text.split(" off the ").nth(1).is_some_and(|rest| rest.starts_with("tip"));
    let (out, behind) = (before(text, " out from the clamp"), before(text, " behind the clamp"));
    let kerf = text.split("kerf ").nth(1).and_then(|rest| rest.split(' ').next());
    Step {
        is_tip,
        cut: before(text, " off the ").expect("a cut"),
        before: before(text, " mark ").or_else(|| before(text, "mark ")).expect("a length"),
        from_tip: before(text, " from the tip").expect("a mark"),
        from_butt: before(text, " from the butt").expect("a mark"),
        from_clamp: out.or(behind.map(|mm| -mm)).expect("a mark"),
        kerf: kerf.and_then(|kerf| kerf.parse().ok()).unwrap_or(0.0),
        whole: before(text, " comes off whole").expect("an offcut"),
        after: text
            .split("xpected: length ")
            .nth(1)
            .and_then(|rest| before(rest, ", power").or_else(|| before(rest, ", tip")))
            .expect("a length"),
    }
}

/// The length that stands before some words: in inches and in millimetres where both are given, which must agree.
#[track_caller]
fn before(text: &str, words: &str) -> Option<f64> {
    let text = text.split(words).next().filter(|before| before.len() < text.len())?;
    let Some(inside) = text.strip_suffix(" mm)") else {
        let number = text.strip_suffix(" mm")?;
        return number.rsplit(' ').next()?.parse().ok();
    };
    let (inches, mm) = inside.rsplit_once(" (")?;
    let mm: f64 = mm.parse().ok()?;
    let mut parts = inches.strip_suffix(" in")?.rsplit(' ');
    let last = parts.next()?;
    let in_inches = match last.split_once('/') {
        None => last.parse::<f64>().ok()?,
        Some((over, under)) => {
            let part = over.parse::<f64>().ok()? / under.parse::<f64>().ok()?;
            part + parts.next().and_then(|whole| whole.parse::<f64>().ok()).unwrap_or(0.0)
        }
    };
    assert!((in_inches * 25.4 - mm).abs() <= HALF, "{in_inches} in and {mm} mm");
    Some(mm)
}

/// A quantity of an argument in millimetres.
fn mm(written: &str) -> f64 {
    if let Some(mm) = written.strip_suffix("mm") {
        return mm.trim().parse().expect("a number");
    }
    let inches = written.strip_suffix("in").expect("inches").trim();
    let parts = inches.split(' ').map(|part| match part.split_once('/') {
        None => part.parse::<f64>().expect("a number"),
        Some((over, under)) => over.parse::<f64>().unwrap() / under.parse::<f64>().unwrap(),
    });
    25.4 * parts.sum::<f64>()
}

/// The text of a page without its tags, style and drawings, which stand beside each other.
fn plain(page: &str) -> String {
    let mut text = String::new();
    let drawing = page.find("<svg").zip(page.rfind("</svg>"));
    let (before, after) = drawing.map_or((page, ""), |(from, to)| (&page[..from], &page[to..]));
    for part in [before, after].concat().split('<').skip(1) {
        let (tag, words) = part.split_once('>').unwrap_or((part, ""));
        if !tag.starts_with("style") {
            text.push_str(words);
            if tag.starts_with("/p") || tag.starts_with("/div") || tag.starts_with("/span") {
                text.push(' ');
            }
        }
    }
    text.replace("&amp;", "&").replace("&quot;", "\"")
}

/// Sheets are used at the bench, where a second page is lost.
#[test]
fn each_page_prints_on_one_sheet_of_either_paper() {
    if is_missing("chromium") {
        return;
    }
    let workshop = Workshop::demo();
    for paper in ["a4", "letter"] {
        for (name, arguments) in [
            ("sheet", &["sheet", "ilse-heron", "--tip", "1in", "--butt", "3in"][..]),
            ("rod", &["handover", "caspar-heron"][..]),
            ("before", &["handover", "ilse-heron"][..]),
        ] {
            let page = format!("{name}-{paper}.html");
            let more = ["--html", &page, "--paper", paper];
            workshop.run(&[arguments, &more].concat()).ended(0);
            let pdf = print(&workshop.root(), &workshop.folder().join(&page));
            let n_pages = count(&pdf, b"/Type /Page\n") + count(&pdf, b"/Type /Page ");
            assert_eq!(n_pages, 1, "{name} on {paper}");
        }
    }
}

fn print(place: &Path, page: &Path) -> Vec<u8> {
    let pdf = page.with_extension("pdf");
    let output = Command::new("chromium")
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"])
        .arg(format!("--user-data-dir={}", place.join("browser").display()))
        .arg(format!("--print-to-pdf={}", pdf.display()))
        .arg(format!("file://{}", page.display()))
        .env("HOME", place)
        .output()
        .expect("the browser runs");
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    fs::read(&pdf).unwrap_or_else(|error| panic!("{error}\n{told}"))
}

fn count(bytes: &[u8], part: &[u8]) -> usize {
    bytes.windows(part.len()).filter(|window| *window == part).count()
}
