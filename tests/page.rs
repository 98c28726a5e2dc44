//! The page in a real browser, of a real daemon on a real folder.

use std::io::{Read as _, Write as _};
use std::net::TcpListener;

use serde_json::{Value, json};

use crate::browser::{Browser, Wishes};
use crate::workshop::{Daemon, Workshop};

const RIGHT: &str = "\u{e014}";
const PAGE_UP: &str = "\u{e00e}";

/// A workshop with its daemon, and a browser; both end with it.
struct Bench {
    browser: Browser,
    workshop: Workshop,
    _daemon: Daemon,
    address: String,
    pen: String,
}

impl Bench {
    fn begin(workshop: Workshop, wishes: &Wishes) -> Option<Self> {
        let browser = Browser::begin(wishes)?;
        let (daemon, address, pen) = workshop.watch_with_page();
        Some(Self { browser, workshop, _daemon: daemon, address, pen })
    }

    fn demo() -> Option<Self> {
        Self::begin(Workshop::demo(), &Wishes::default())
    }

    #[track_caller]
    fn open(&self, path: &str) {
        self.browser.open(&format!("{}{path}", self.address));
    }

    /// Opens a page and looks for what a reader would stumble over, on a screen of this width.
    #[track_caller]
    fn check(&self, path: &str, width: u32, scheme: &str) {
        self.browser.look(width, scheme);
        self.open(path);
        let faults = self.browser.run(include_str!("page/faults.js"));
        assert_eq!(faults, json!([]), "/{path} at {width} px, {scheme}");
    }
}

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
        for (width, scheme) in [(360, "light"), (360, "dark"), (1600, "light"), (1600, "dark")] {
            bench.check(path, width, scheme);
        }
    }
    bench.browser.run("document.cookie = 'units=mm; path=/'; return 0");
    bench.open("units/mm?to=/record/builds/ilse-heron");
    bench.browser.wait_for("2188 mm");
    for path in
        ["record/builds/ilse-heron", "try/builds/ilse-heron?tip=25+mm", "record/blanks/heron-704"]
    {
        bench.check(path, 360, "light");
        bench.check(path, 1000, "light");
    }
}

#[test]
fn an_empty_book_one_record_and_mistakes_everywhere_look_as_well() {
    let workshop = Workshop::empty();
    let Some(bench) = Bench::begin(workshop, &Wishes::default()) else { return };
    for path in ["", "flags", "problems"] {
        bench.check(path, 360, "light");
    }
    let folder = bench.workshop.folder();
    std::fs::create_dir_all(folder.join("builds")).unwrap();
    bench.workshop.write("builds/one.md", "---\nkind: build\nblank: none-such\n---\n");
    bench.open("");
    bench.browser.wait_for("one");
    bench.check("record/builds/one", 360, "dark");
    bench.check("try/builds/one?tip=1in", 360, "light");
    let long = "a-very-long-name-without-an-end".repeat(6);
    for n in 0..70 {
        let text = format!(
            "---\nkind: build\nblank: {long}\nlimits: {{ length: 6 }}\nbench: [[\n---\n# {long}\n"
        );
        bench.workshop.write(&format!("builds/{n}-wrong.md"), &text);
    }
    for path in [
        "",
        "problems",
        "problems?from=60",
        "flags",
        "record/builds/3-wrong",
        "bench/builds/3-wrong",
    ] {
        bench.check(path, 360, "light");
        bench.check(path, 1600, "light");
    }
    bench.open("problems");
    bench.browser.wait_for("those after");
}

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
    browser.wait_for("`2` has no unit");
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
    browser.click("details.tap summary");
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

/// Serves one page to whoever asks, at a port of its own: somebody else's.
fn somebody_elses(page: impl Fn(u16) -> String + Send + 'static) -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let Ok(mut stream) = stream else { continue };
            let mut head = [0; 4096];
            let _ = stream.read(&mut head);
            let page = page(port);
            let answer = format!(
                "HTTP/1.1 200 OK\r\nContent-Type: text/html\r\nConnection: close\r\nContent-Length: {}\r\n\r\n{page}",
                page.len()
            );
            let _ = stream.write_all(answer.as_bytes());
        }
    });
    port
}

#[test]
fn a_page_of_somebody_elses_reads_and_writes_nothing() {
    let rules = "--host-resolver-rules=MAP rod.example 127.0.0.1".to_owned();
    let wishes = Wishes { arguments: vec![rules], ..Wishes::default() };
    let Some(bench) = Bench::begin(Workshop::demo(), &wishes) else { return };
    let browser = &bench.browser;
    let before = bench.workshop.read("builds/ilse-heron.md");
    browser.open(&bench.pen);
    // A name of somebody else's that leads here.
    let port = bench.address.trim_end_matches('/').rsplit(':').next().unwrap().to_owned();
    browser.open(&format!("http://rod.example:{port}/record/builds/ilse-heron"));
    browser.wait_for("this page is served to this machine alone");

    let address = bench.address.clone();
    let theirs = somebody_elses(move |_| {
        format!(
            "<title>theirs</title><form method=post action='{address}bench/builds/ilse-heron'>\
             <input name=action value=cut><input name=tip value='9 in'><button>win</button></form>\
             <iframe src='{address}'></iframe>"
        )
    });
    for host in ["127.0.0.1", "localhost", "rod.example"] {
        browser.open(&format!("http://{host}:{theirs}/"));
        let read = "return fetch(arguments[0]).then((a) => a.text()).catch((e) => 'refused')";
        let read =
            read.replace("arguments[0]", &format!("'{}record/builds/ilse-heron'", bench.address));
        assert_eq!(browser.run(&read), json!("refused"));
        let sent = "return fetch(ADDRESS, { method: 'POST', credentials: 'include', mode: 'no-cors', body: \
                    new URLSearchParams({ action: 'cut', tip: '9 in' }) }).then((a) => a.type).catch((e) => 'refused')";
        browser
            .run(&sent.replace("ADDRESS", &format!("'{}bench/builds/ilse-heron'", bench.address)));
        let framed = browser.run("return document.querySelector('iframe').contentDocument?.body?.textContent ?? 'closed'");
        assert_eq!(framed, json!("closed"));
        browser.click("button");
        browser.wait_for("only this page itself may write");
    }
    assert_eq!(bench.workshop.read("builds/ilse-heron.md"), before);
}

#[test]
fn what_a_note_brings_along_does_nothing() {
    let Some(bench) = Bench::demo() else { return };
    let browser = &bench.browser;
    let note = "---\nkind: build\nblank: heron-704\ncustomer: <script>stolen = 1</script>\n---\n# <img src=x onerror=stolen=1>\n\n\
                <script>stolen = 1</script><img src=x onerror=\"stolen=1\"><a href=\"javascript:stolen=1\">press</a>\n\
                <style>main { display: none }</style><svg onload=\"stolen=1\"></svg>\n\n[go](javascript:stolen=1)\n";
    bench.workshop.write("builds/bad.md", note);
    for path in ["record/builds/bad", "?q=press", "try/builds/bad?tip=1in", "bench/builds/bad"] {
        bench.open(path);
        let state = "return [typeof stolen, document.querySelectorAll('main img, main script, main [onload], main style').length, \
                     document.querySelectorAll('a[href^=javascript]').length]";
        assert_eq!(browser.run(state), json!(["undefined", 0, 0]), "{path}");
    }
    // Were there a hole, what came through it would not run.
    bench.open("record/builds/bad");
    let run = "const s = document.createElement('script'); s.textContent = 'stolen = 1'; document.body.append(s); \
               const i = document.createElement('img'); i.setAttribute('onerror', 'stolen = 1'); i.src = 'x'; document.body.append(i); \
               return new Promise((done) => setTimeout(() => done(typeof stolen), 300))";
    assert_eq!(browser.run(run), Value::from("undefined"));
}
