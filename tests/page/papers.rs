use serde_json::json;

use super::Bench;

/// What a builder takes to the bench is the same from the page and from the command, and is styled and printed.
#[test]
fn a_sheet_and_a_handover_are_those_of_the_commands() {
    let Some(bench) = Bench::demo() else { return };
    let browser = &bench.browser;
    let cut = ["--tip", "1in", "--butt", "3in"];
    for (command, record, cut, path) in [
        ("sheet", "ilse-heron", &cut[..], "sheet/builds/ilse-heron?tip=1+in&butt=3+in"),
        ("sheet", "emil-egret", &[], "sheet/builds/emil-egret"),
        ("handover", "karl-reed", &[], "handover/builds/karl-reed"),
    ] {
        let arguments = [&[command, record, "--html", "it.html", "--force"][..], cut].concat();
        bench.workshop.run(&arguments).ended(0);
        bench.open(path);
        let file = json!(bench.workshop.read("it.html"));
        let compared = browser.run(&format!(
            "const main = (page) => page.querySelector('main').innerHTML;
             return [main(new DOMParser().parseFromString({file}, 'text/html')), main(document)]"
        ));
        assert_eq!(compared[0], compared[1], "{path}");
        // Its style is a file of its own, since the policy forbids any that stands in the page.
        let style = browser.run(
            "const svg = document.querySelector('svg .ink, svg .fine');
             return [getComputedStyle(document.querySelector('table')).borderCollapse, getComputedStyle(svg).fill]",
        );
        assert_eq!(style, json!(["collapse", "none"]), "{path}");
        let document = browser.print();
        assert!(document.starts_with("JVBERi0") && 10_000 < document.len(), "{path}");
    }
    browser.devtools("Emulation.setEmulatedMedia", json!({ "media": "print" }));
    assert_eq!(
        browser.run("return document.querySelector('.back').checkVisibility()"),
        json!(false)
    );
}

#[test]
fn from_a_build_one_comes_to_its_papers_fittings_and_guides_and_back() {
    let Some(bench) = Bench::demo() else { return };
    let browser = &bench.browser;
    bench.open("try/builds/ilse-heron?tip=1+in&butt=3+in");
    browser.click("a[href^='/sheet/']");
    browser.wait_for("cuts as given");
    browser.click(".back a");
    browser.wait_for("On the bench");
    for (link, words) in [
        ("/sheet/", "bench sheet"),
        ("/handover/", "A cut can't be undone. I have seen these numbers"),
        ("/fittings/", "Fittings as suggested"),
        ("/guides/", "Static test:"),
    ] {
        bench.open("record/builds/ilse-heron");
        browser.click(&format!("a[href^='{link}']"));
        browser.wait_for(words);
    }
    browser.keys("#count", "5");
    browser.click("form.cuts button");
    browser.wait_for("5 guides under ");
    let rows = "return document.querySelectorAll('tbody tr').length";
    assert_eq!(browser.run(rows), json!(6), "five and the tip-top");
    browser.keys("#count", "55");
    browser.click("form.cuts button");
    browser.wait_for("write a number from 1 to 40");
}
