use super::Bench;
use crate::browser::Wishes;
use crate::workshop::Workshop;

/// Every page of the demo.
const PAGES: &[&str] = &[
    "",
    "?q=heron",
    "?q=nothing+like+it",
    "?q=length%3C7",
    "record/builds/ilse-heron",
    "record/builds/detlef-egret",
    "record/builds/karl-reed",
    "record/blanks/heron-704",
    "record/offcuts/karl-reed-butt",
    "record/fittings/tip-tops",
    "record/notes/the-shop",
    "record/shop.yaml",
    "try/builds/ilse-heron",
    "try/builds/ilse-heron?tip=1+in&butt=3+in",
    "try/builds/ilse-heron?tip=2&butt=99+in",
    "try/builds/emil-egret?butt=7+in",
    "try/blanks/gannet-606?tip=50+mm",
    "bench/builds/emil-egret",
    "sheet/builds/ilse-heron",
    "sheet/builds/ilse-heron?tip=1+in&butt=3+in",
    "sheet/builds/ilse-heron?tip=1",
    "handover/builds/ilse-heron",
    "handover/builds/karl-reed",
    "handover/blanks/heron-704",
    "fittings/builds/emil-egret",
    "fittings/blanks/heron-704",
    "guides/builds/ilse-heron",
    "guides/blanks/heron-704?tip=2+in&count=5&side=above",
    "guides/builds/ilse-heron?count=no",
    "flags",
    "flags?only=lengths-disagree",
    "problems",
    "record/nobody",
];

#[test]
fn every_page_is_sound_small_and_large_in_light_and_dark() {
    let Some(bench) = Bench::demo() else { return };
    bench.browser.open(&bench.pen);
    for path in PAGES {
        bench.check(path, &[(360, "light"), (360, "dark"), (1600, "dark"), (1600, "light")]);
    }
    // What was written down stands above what can be, to be taken back.
    bench.open("try/builds/ilse-heron?tip=1+in");
    bench.browser.click(".ways form button");
    bench.browser.wait_for("Take it back");
    bench.check("bench/builds/ilse-heron", &[(360, "light"), (1600, "dark")]);
    bench.browser.click(".wrote button");
    bench.browser.wait_for("to be written down in");
    bench.open("units/mm?to=/record/builds/ilse-heron");
    bench.browser.wait_for("2188 mm");
    for path in
        ["record/builds/ilse-heron", "try/builds/ilse-heron?tip=25+mm", "record/blanks/heron-704"]
    {
        bench.check(path, &[(360, "light"), (1000, "light")]);
    }
}

#[test]
fn an_empty_book_one_record_and_mistakes_everywhere_look_as_well() {
    let workshop = Workshop::empty();
    let Some(bench) = Bench::begin(workshop, &Wishes::default()) else { return };
    for path in ["", "flags", "problems"] {
        bench.check(path, &[(360, "light")]);
    }
    bench.open("");
    bench.browser.wait_for("An empty book");
    let folder = bench.workshop.folder();
    for directory in ["builds", "blanks", "notes"] {
        std::fs::create_dir_all(folder.join(directory)).unwrap();
    }
    bench.workshop.write("builds/one.md", "---\nkind: build\nblank: none-such\n---\n");
    bench.open("");
    bench.browser.wait_for("one");
    bench.check("record/builds/one", &[(360, "dark")]);
    bench.check("try/builds/one?tip=1in", &[(360, "light")]);
    let long = "a-very-long-name-without-an-end".repeat(6);
    for n in 0..70 {
        let text = format!(
            "---\nkind: build\nblank: {long}\nlimits: {{ length: 6 }}\nbench: [[\n---\n# {long}\n"
        );
        bench.workshop.write(&format!("builds/{n}-wrong.md"), &text);
    }
    // Its name is longer than the paper of its drawings, and the table wider than a small screen.
    let card = "---\nkind: blank\nlength: 7 ft\nheld_at: 9 in\ncalipers:\n  - { at: 0 in, od: 11 mm, wall: 1 mm }\n  - { at: 84 in, od: 2 mm }\n---\n";
    bench.workshop.write(&format!("blanks/{long}.md"), card);
    let row = "| a cell of words ".repeat(9);
    let rule = "|---".repeat(9);
    bench.workshop.write("notes/wide.md", &format!("{row}|\n{rule}|\n{row}|\n"));
    let named = [format!("record/blanks/{long}"), format!("guides/blanks/{long}")];
    for path in named.iter().map(String::as_str).chain([
        "record/notes/wide",
        "try/builds/ilse-heron",
        "",
        "problems",
        "problems?from=60",
        "flags",
        "record/builds/3-wrong",
        "bench/builds/3-wrong",
    ]) {
        bench.check(path, &[(360, "light"), (1600, "light")]);
    }
    bench.open("problems");
    bench.browser.wait_for("those after");
}
