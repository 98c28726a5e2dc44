use serde_json::json;

use super::Bench;
use crate::browser::Wishes;
use crate::workshop::Workshop;

const RIGHT: &str = "\u{e014}";
const PAGE_UP: &str = "\u{e00e}";

#[test]
fn a_try_follows_the_keyboard_and_the_pointer() {
    let Some(bench) = Bench::demo() else { return };
    let browser = &bench.browser;
    browser.look(1000, "light");
    bench.open("try/builds/ilse-heron");
    let power = "return document.querySelector('#tried table:last-of-type').textContent";
    let before = browser.run(power);
    // Sixteen steps of a sixteenth are an inch, by the keys of a slider.
    browser.keys(".slide[data-for=tip]", &RIGHT.repeat(16));
    browser.wait_for("tip: 1 in");
    browser.wait_for("is 1 in shorter");
    assert_eq!(browser.run("return document.getElementById('tip').value"), json!("1 in"));
    assert_ne!(browser.run(power), before);
    browser.keys(".slide[data-for=butt]", PAGE_UP);
    browser.wait_for("butt: ");
    // The pointer drags the thumb from the end where it stands.
    bench.open("try/builds/ilse-heron");
    browser.drag(".slide[data-for=butt]", -150, -80);
    browser.wait_for("cut: { butt: ");
    let dragged =
        browser.run("return document.querySelector('.slide[data-for=butt]').valueAsNumber");
    assert!(dragged.as_f64().is_some_and(|steps| 16.0 < steps), "{dragged}");
    assert!(
        browser.run("return location.search").as_str().is_some_and(|query| query.contains("butt="))
    );
    // What is typed moves the slider, and what can't be read is said.
    browser.run("document.getElementById('butt').value = ''; return 0");
    browser.keys("#butt", "3 in");
    browser.wait_for("butt: 3 in");
    assert_eq!(
        browser.run("return document.querySelector('.slide[data-for=butt]').value"),
        json!("48")
    );
    browser.keys("#tip", "2");
    browser.wait_for("2 has no unit");
    browser.keys("#tip", " in");
    browser.wait_for("tip: 2 in, butt: 3 in");
    browser.click("[data-copy]");
    browser.wait_for("copied");
}

#[test]
fn a_tried_cut_is_written_as_a_plan_and_taken_back() {
    let Some(bench) = Bench::demo() else { return };
    let browser = &bench.browser;
    let before = bench.workshop.read("builds/ilse-heron.md");
    bench.open("try/builds/ilse-heron?tip=1+in&butt=3+in");
    browser.wait_for("This browser has no pen");
    browser.open(&bench.pen);
    bench.open("try/builds/ilse-heron?tip=1+in&butt=3+in");
    browser.click(".ways form button");
    browser.wait_for("written at builds/ilse-heron.md, line 12");
    let after = bench.workshop.read("builds/ilse-heron.md");
    assert_eq!(after.replace(&added(&before, &after), ""), before);
    assert!(added(&before, &after).starts_with("  - plan: { tip: 1 in, butt: 3 in, date: 20"));
    browser.click(".wrote button");
    browser.wait_for("to be written down in");
    assert_eq!(bench.workshop.read("builds/ilse-heron.md"), before);
    // What somebody wrote meanwhile is never taken away.
    bench.open("try/builds/ilse-heron?tip=1+in");
    browser.click(".ways form button");
    browser.wait_for("Take it back");
    let theirs = bench.workshop.read("builds/ilse-heron.md") + "\nMine.\n";
    bench.workshop.write("builds/ilse-heron.md", &theirs);
    browser.click(".wrote button");
    browser.wait_for("was changed since");
    assert_eq!(bench.workshop.read("builds/ilse-heron.md"), theirs);
}

/// The lines that came in.
fn added(before: &str, after: &str) -> String {
    let at = before.bytes().zip(after.bytes()).take_while(|(a, b)| a == b).count();
    let start = after[..at].rfind('\n').map_or(0, |at| at + 1);
    after[start..start + after.len() - before.len()].to_owned()
}

#[test]
fn a_reading_and_a_cut_are_written_by_thumb() {
    let Some(bench) = Bench::demo() else { return };
    let browser = &bench.browser;
    browser.look(360, "light");
    browser.open(&bench.pen);
    bench.open("bench/builds/emil-egret");
    let before = bench.workshop.read("builds/emil-egret.md");
    browser.click("details.tap:has(#read-power) summary");
    browser.keys("#read-power", "301");
    browser.click("details.tap[open] button");
    browser.wait_for("written at builds/emil-egret.md");
    let read = bench.workshop.read("builds/emil-egret.md");
    assert!(added(&before, &read).contains("read: { power: 301 g, "), "{read}");
    browser.click(".wrote button");
    browser.wait_for("suggested");
    assert_eq!(bench.workshop.read("builds/emil-egret.md"), before);
    // The suggested cut takes two taps.
    browser.click("[data-live=cuts] details.tap summary");
    browser.click("details.tap[open] button");
    browser.wait_for("written at builds/emil-egret.md");
    let cut = bench.workshop.read("builds/emil-egret.md");
    assert!(added(&before, &cut).contains("cut: { tip: "), "{cut}");
    browser.click(".wrote button");
    browser.wait_for("suggested");
    assert_eq!(bench.workshop.read("builds/emil-egret.md"), before);
}

#[test]
fn an_open_page_follows_the_folder() {
    let Some(bench) = Bench::demo() else { return };
    let browser = &bench.browser;
    bench.open("record/builds/ilse-heron");
    browser.click(".written summary");
    let text = bench.workshop.read("builds/ilse-heron.md");
    let cut = "  - cut: { butt: 7 in, with: fine saw, date: 2026-03-15 }\n---\n# Ilse";
    bench.workshop.write("builds/ilse-heron.md", &text.replace("---\n# Ilse", cut));
    browser.wait_for("below-shortest-length");
    browser.wait_for("7 in off the butt, with fine saw");
    // What was opened stays open.
    browser.wait_for("kind: build");
    bench.open("?q=lantern+oil");
    bench.workshop.write("notes/lamp.md", "# A lamp\n\nlantern oil\n");
    browser.wait_for("A lamp");
    bench.open("try/builds/ilse-heron?tip=1+in");
    bench.workshop.write("builds/ilse-heron.md", &text);
    browser.wait_for("after the cut, 7'1 1/8\"");
}

/// A change of the folder and a move of the cuts ask at once, and the older question is answered last.
#[test]
fn an_older_answer_never_replaces_a_newer_one() {
    let Some(bench) = Bench::demo() else { return };
    let browser = &bench.browser;
    bench.open("try/builds/ilse-heron?tip=1+in");
    browser.wait_for("cut: { tip: 1 in");
    browser.run(
        "const asked = window.fetch; window.release = new Promise((go) => { window.go = go; });
         window.fetch = async (address) => {
           const answer = await asked(address);
           if (address.includes('tip=1+in')) {
             document.getElementById('wake').textContent = 'the older one is held';
             await window.release;
           }
           return answer;
         };
         return 0",
    );
    let text = bench.workshop.read("builds/ilse-heron.md");
    bench.workshop.write("builds/ilse-heron.md", &text.replace("220 g,", "230 g,"));
    browser.wait_for("the older one is held");
    browser.run("document.getElementById('tip').value = ''; return 0");
    browser.keys("#tip", "2 in");
    // So long there is room for the newer answer to come first; it must stand there in the end, whenever it came.
    browser.run("setTimeout(window.go, 1000); return 0");
    browser.wait_for("changed just now");
    browser.wait_for("cut: { tip: 2 in");
}

#[test]
fn without_script_everything_is_read_tried_and_written() {
    let wishes = Wishes { without_script: true, ..Wishes::default() };
    let Some(bench) = Bench::begin(Workshop::demo(), &wishes) else { return };
    let browser = &bench.browser;
    browser.open(&bench.pen);
    bench.open("");
    browser.keys("form.find input", "heron tip_cut:1in..1.5in");
    browser.click("form.find button");
    browser.wait_for("Caspar's sandbar rod");
    bench.open("record/builds/ilse-heron");
    browser.click("a.way");
    browser.keys("#tip", "1 in");
    browser.keys("#butt", "3 in");
    browser.click("#cuts button");
    browser.wait_for("holds 4 % more");
    browser.click(".ways form button");
    browser.wait_for("written at builds/ilse-heron.md");
    browser.click(".wrote button");
    browser.wait_for("to be written down in");
}

#[test]
fn what_is_printed_is_the_sheet_without_what_is_pressed() {
    let Some(bench) = Bench::demo() else { return };
    let browser = &bench.browser;
    browser.look(1000, "dark");
    browser.open(&bench.pen);
    bench.open("try/builds/ilse-heron?tip=1+in&butt=3+in");
    // `JVBERi0` is `%PDF-` in base 64.
    let document = browser.print();
    assert!(document.starts_with("JVBERi0") && 20_000 < document.len(), "{} bytes", document.len());
    browser.devtools("Emulation.setEmulatedMedia", json!({ "media": "print" }));
    let shown = browser.run(
        "return [...document.querySelectorAll('button, form, .slide')].filter((e) => e.checkVisibility()).length",
    );
    assert_eq!(shown, json!(0));
    let colours = browser.run(
        "return [getComputedStyle(document.documentElement).color, getComputedStyle(document.querySelector('svg text')).fill]",
    );
    assert_eq!(colours, json!(["rgb(0, 0, 0)", "rgb(0, 0, 0)"]));
    browser.wait_for("Eye protection always");
}
