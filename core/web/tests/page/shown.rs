use std::sync::atomic::Ordering;

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use crate::served::{MANY, Served};

const ILSE: &str = "builds/ilse%201%3F%23";

#[tokio::test]
async fn what_a_record_says_is_text_and_never_markup() {
    let page = Served::begin().await;
    let found = page.get("/?q=loads").await;
    found
        .is(200)
        .has("&lt;script&gt;alert(1)&lt;/script&gt;")
        .has("<mark>loads</mark> &lt;b&gt;early");
    found.has_not("<script>alert").has(&format!("/record/{ILSE}"));
    let shown = page.get(&format!("/record/{ILSE}")).await;
    shown.is(200).has("Ilse &quot;&lt;b&gt;&quot;").has("&lt;img src=x onerror").has_not("<img");
    shown.has_not("href=\"javascript");
}

#[tokio::test]
async fn what_is_not_worked_out_yet_is_said() {
    let page = Served::begin().await;
    for path in ["/?q=loads".to_owned(), format!("/record/{ILSE}"), format!("/bench/{ILSE}")] {
        let shown = page.get(&path).await;
        shown.is(200).has("7 records are still to be worked out").has_not("files are still");
    }
    // What can't be found may be among what was not looked at.
    page.get("/record/nothing").await.is(404).has("7 records are still to be worked out");
}

#[tokio::test]
async fn a_bad_query_shows_its_caret() {
    let page = Served::begin().await;
    page.get("/?q=bad(").await.is(400).has("bad(\n   ^").has("this parenthesis is not closed");
}

#[tokio::test]
async fn what_is_not_there_is_not_found() {
    let page = Served::begin().await;
    for path in ["/record/nothing", "/try/nothing", "/bench/nothing", "/elsewhere", "/record/"] {
        page.get(path).await.is(404);
    }
    page.get("/record/nothing").await.has("no record is called &lt;that&gt;");
}

#[tokio::test]
async fn units_are_switched_and_the_way_back_stays_on_this_page() {
    let page = Served::begin().await;
    let switched = page.get("/units/mm?to=%2Frecord%2Fx%3Fa%3D1").await;
    switched.is(303).has("location: /record/x?a=1\r\n");
    assert!(switched.header("set-cookie").unwrap().starts_with("units=mm; "));
    for away in [
        "%2F%2Frod.example",
        "https%3A%2F%2Frod.example",
        "%2F%5Crod.example",
        "%2Fa%0D%0Ax%3A%201",
        "",
    ] {
        page.get(&format!("/units/in?to={away}")).await.is(303).has("location: /\r\n");
    }
    page.get("/units/cubits").await.is(404);
}

#[tokio::test]
async fn a_form_with_the_pen_writes_and_takes_back() {
    let page = Served::begin().await;
    let headers = format!("Cookie: {}\r\n{}", page.pen().await, page.origin());
    let bench = format!("/bench/{ILSE}");
    let form = "action=read&what=power&value=224&unit=g";
    page.post(&bench, &headers, form).await.is(303).has(&format!("location: {bench}\r\n"));
    let cookie = headers.lines().next().unwrap();
    let host = page.address;
    let shown = page
        .send(&format!(
            "GET {bench} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{cookie}\r\n\r\n"
        ))
        .await;
    shown.is(200).has("- read: { power: 224 g, date: 2026-03-15 }").has("Take it back");
    page.post("/undo", &headers, "number=1").await.is(303);
    page.post("/undo", &headers, "number=1").await.is(409).has("taken back already");
    page.post(&bench, &headers, "action=read&what=power&value=2,4&unit=g").await.is(422);
    let written = page.shop.written.lock().unwrap().clone();
    assert_eq!(written, ["builds/ilse 1?#.md: read: { power: 224 g, date: 2026-03-15 }", "back 1"]);
}

#[tokio::test]
async fn an_open_page_hears_of_a_change() {
    let page = Served::begin().await;
    let mut stream = TcpStream::connect(page.address).await.unwrap();
    let request = format!("GET /changes HTTP/1.1\r\nHost: {}\r\n\r\n", page.address);
    stream.write_all(request.as_bytes()).await.unwrap();
    let mut heard = String::new();
    let mut bytes = [0; 1024];
    while !heard.contains("text/event-stream") {
        let n_bytes = stream.read(&mut bytes).await.unwrap();
        heard.push_str(&String::from_utf8_lossy(&bytes[..n_bytes]));
    }
    assert!(!heard.contains("data:"), "nothing changed so far: {heard}");
    page.change();
    while !heard.contains("data: 1") {
        let n_bytes = stream.read(&mut bytes).await.unwrap();
        assert_ne!(n_bytes, 0, "{heard}");
        heard.push_str(&String::from_utf8_lossy(&bytes[..n_bytes]));
    }
}

/// A page that was long in coming asks when it is there, and the folder may have changed meanwhile.
#[tokio::test]
async fn an_open_page_hears_of_what_changed_while_it_came() {
    let page = Served::begin().await;
    page.change();
    page.get("/").await.is(200).has("data-changes=\"1\"");
    page.change();
    let mut stream = TcpStream::connect(page.address).await.unwrap();
    let request = format!("GET /changes?after=1 HTTP/1.1\r\nHost: {}\r\n\r\n", page.address);
    stream.write_all(request.as_bytes()).await.unwrap();
    let mut heard = String::new();
    let mut bytes = [0; 1024];
    while !heard.contains("data: 2") {
        let n_bytes = stream.read(&mut bytes).await.unwrap();
        assert_ne!(n_bytes, 0, "{heard}");
        heard.push_str(&String::from_utf8_lossy(&bytes[..n_bytes]));
    }
}

/// What a record says comes before anything is worked out, and what is worked out makes one page of it in the end.
#[tokio::test]
async fn what_takes_longer_holds_up_nothing_above_it() {
    let page = Served::begin().await;
    let pen = page.pen().await;
    for (path, at_once, at_last) in [
        ("/record/blanks/heron", "As written in", "What it could become"),
        (&format!("/record/{ILSE}"), "As written in", "its bend can"),
        (&format!("/try/{ILSE}?tip=1+in"), "move the tip cut", "no record is called"),
        (&format!("/bench/{ILSE}"), "What it feels like", "Another cut"),
        (&format!("/fittings/{ILSE}"), "builds/ilse 1?#.md", "what goes on can"),
        (&format!("/guides/{ILSE}"), "The guides stand", "no record is called"),
        (&format!("/sheet/{ILSE}"), "for <b>Ilse &amp; Co</b>", "no record is called"),
        (&format!("/handover/{ILSE}"), "for <b>Ilse &amp; Co</b>", "no record is called"),
    ] {
        page.shop.slow.forget_permits(MANY);
        let mut stream = TcpStream::connect(page.address).await.unwrap();
        let request = format!(
            "GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nCookie: {pen}\r\n\r\n",
            page.address
        );
        stream.write_all(request.as_bytes()).await.unwrap();
        let mut text = String::new();
        let mut bytes = [0; 1024];
        while !text.contains(at_once) {
            let n_bytes = stream.read(&mut bytes).await.unwrap();
            assert_ne!(n_bytes, 0, "{path}: {text}");
            text.push_str(&String::from_utf8_lossy(&bytes[..n_bytes]));
        }
        assert!(text.starts_with("HTTP/1.1 200 ") && !text.contains(at_last), "{path}: {text}");
        page.shop.slow.add_permits(MANY);
        stream.read_to_string(&mut text).await.unwrap();
        assert!(text.contains(at_last) && text.contains("</html>"), "{path}: {text}");
        assert!(!text.contains("later"), "{path}: {text}");
    }
}

#[tokio::test]
async fn a_cut_that_is_refused_is_quoted_as_it_was_written() {
    let page = Served::begin().await;
    let far = page.get(&format!("/try/{ILSE}?tip=9+ft&butt=+1+in&part=true")).await;
    far.is(200).has("<code>9 ft</code> off the tip and <code>1 in</code> off the butt can't be tried: no record");
    page.get(&format!("/try/{ILSE}?part=true")).await.is(200).has_not("can't be tried");
}

/// A page that has begun can't become another one: what went wrong stands where the part would be.
#[tokio::test]
async fn a_part_that_fails_says_so_in_its_place() {
    let page = Served::begin().await;
    let guides = page.get(&format!("/guides/{ILSE}?count=13")).await;
    guides.is(200).has("this failed inside: load the page again").has("</html>");
    page.shop.slow.close();
    let record = page.get(&format!("/record/{ILSE}")).await;
    record.is(200).has("role=\"alert\">semaphore closed").has("On the bench").has("</html>");
    page.at_rest().await;
}

#[tokio::test]
async fn nothing_is_worked_out_that_nobody_reads() {
    let page = Served::begin().await;
    page.shop.slow.forget_permits(MANY);
    let head = format!("Host: {}\r\nConnection: close\r\n\r\n", page.address);
    for under in ["record", "try", "bench", "sheet", "handover", "fittings", "guides"] {
        let got = page.send(&format!("HEAD /{under}/{ILSE} HTTP/1.1\r\n{head}")).await;
        got.is(200).has("content-security-policy: ").has_not("<html");
    }
    page.at_rest().await;
    assert_eq!(page.shop.asked.load(Ordering::Relaxed), 0);
    // A browser goes away while the parts of a page are worked out.
    let mut stream = TcpStream::connect(page.address).await.unwrap();
    let request = format!("GET /record/{ILSE} HTTP/1.1\r\n{head}");
    stream.write_all(request.as_bytes()).await.unwrap();
    let mut text = String::new();
    let mut bytes = [0; 1024];
    while !text.contains("As written in") {
        let n_bytes = stream.read(&mut bytes).await.unwrap();
        assert_ne!(n_bytes, 0, "{text}");
        text.push_str(&String::from_utf8_lossy(&bytes[..n_bytes]));
    }
    drop(stream);
    page.at_rest().await;
    assert_ne!(page.shop.asked.load(Ordering::Relaxed), 0, "it was begun");
}

/// The status says what is not there, whatever would have come later.
#[tokio::test]
async fn what_a_kind_of_record_does_not_have_is_not_found() {
    let page = Served::begin().await;
    page.shop.slow.forget_permits(MANY);
    page.get("/bench/blanks/heron").await.is(404).has("only a build has a bench");
    page.get("/handover/blanks/heron").await.is(404).has("name one of build");
    for under in ["record", "try", "bench", "sheet", "handover", "fittings", "guides"] {
        page.get(&format!("/{under}/nothing")).await.is(404).has("no record is called");
    }
    page.get(&format!("/sheet/{ILSE}?tip=1")).await.is(422);
}
