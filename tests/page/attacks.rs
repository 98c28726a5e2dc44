use std::io::{Read as _, Write as _};
use std::net::TcpListener;

use serde_json::{Value, json};

use super::Bench;
use crate::browser::Wishes;
use crate::workshop::Workshop;

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
