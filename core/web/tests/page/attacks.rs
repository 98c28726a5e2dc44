use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use crate::served::Served;

const BENCH: &str = "/bench/builds/ilse%201%3F%23";
const FORM: &str = "action=read&what=power&value=224&unit=g";

#[track_caller]
fn nothing_is_written(page: &Served) {
    assert!(page.shop.written.lock().unwrap().is_empty());
}

/// A name of somebody else's that leads to the loopback (DNS rebinding), and requests that name two hosts.
#[tokio::test]
async fn another_host_is_refused() {
    let page = Served::begin().await;
    assert!(page.address.ip().is_loopback());
    let port = page.address.port();
    for host in [
        "rod.example".to_owned(),
        format!("rod.example:{port}"),
        "127.0.0.1".to_owned(),
        format!("127.0.0.1.rod.example:{port}"),
        format!("[::1]:{port}"),
        format!("127.0.0.1:{port}@rod.example"),
        String::new(),
    ] {
        let request = format!("GET / HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n");
        let got = page.send(&request).await;
        assert!([400, 421].contains(&got.status()), "{host}: {}", got.0);
        got.has_not("alert(1)");
    }
    for heads in [
        "GET / HTTP/1.1\r\nConnection: close\r\n\r\n".to_owned(),
        format!(
            "GET http://rod.example/ HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n"
        ),
        format!(
            "GET / HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nHost: rod.example\r\nConnection: close\r\n\r\n"
        ),
    ] {
        let got = page.send(&heads).await;
        assert!([400, 421].contains(&got.status()), "{heads}: {}", got.0);
    }
    let named = format!("GET / HTTP/1.1\r\nHost: localhost:{port}\r\nConnection: close\r\n\r\n");
    page.send(&named).await.is(200);
}

/// A form or a script on a page of somebody else's, in the browser that holds the pen.
#[tokio::test]
async fn another_origin_writes_nothing() {
    let page = Served::begin().await;
    let pen = format!("Cookie: {}\r\n", page.pen().await);
    let port = page.address.port();
    let other = if port == 4000 { 4001 } else { 4000 };
    for headers in [
        String::new(),
        "Origin: null\r\n".to_owned(),
        "Origin: http://rod.example\r\n".to_owned(),
        format!("Origin: http://127.0.0.1:{other}\r\n"),
        format!("Origin: http://localhost:{port}\r\n"),
        format!("Origin: https://127.0.0.1:{port}\r\n"),
        format!("{}Origin: http://rod.example\r\n", page.origin()),
        format!("{}Sec-Fetch-Site: cross-site\r\n", page.origin()),
        format!("{}Sec-Fetch-Site: same-site\r\n", page.origin()),
    ] {
        page.post(BENCH, &format!("{pen}{headers}"), FORM).await.is(403);
        page.post("/undo", &format!("{pen}{headers}"), "number=1").await.is(403);
    }
    for method in ["PUT", "DELETE", "OPTIONS", "PATCH"] {
        let host = page.address;
        let head =
            format!("{method} {BENCH} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{pen}\r\n");
        page.send(&head).await.is(405).has_not("access-control-allow");
    }
    nothing_is_written(&page);
}

#[tokio::test]
async fn without_the_pen_nothing_is_written() {
    let page = Served::begin().await;
    let pen = page.pen().await;
    let port = page.address.port();
    let shorter = &pen[..pen.len() - 1];
    for cookie in [
        "",
        shorter,
        &format!("pen-{port}="),
        &format!("pen-{}={}", port ^ 1, &pen[pen.len() - 32..]),
    ] {
        let headers = format!("Cookie: {cookie}\r\n{}", page.origin());
        page.post(BENCH, &headers, FORM).await.is(403).has("no pen");
        page.post("/undo", &headers, "number=1").await.is(403);
    }
    page.get("/pen/0123456789abcdef0123456789abcdef").await.is(403).has_not("set-cookie");
    page.get(BENCH).await.is(200).has("no pen").has_not("<form method=\"post\"");
    // Writing is no matter of reading.
    page.get(&format!("{BENCH}?{FORM}")).await.is(200);
    nothing_is_written(&page);
}

#[tokio::test]
async fn a_form_can_write_one_item_and_nothing_else() {
    let page = Served::begin().await;
    let headers = format!("Cookie: {}\r\n{}", page.pen().await, page.origin());
    for form in [
        "action=shell&words=x",
        "action=read&what=power&value=224+g+}%0A---&unit=g",
        "action=read&what=power&value=224&unit=g&path=../../etc/passwd",
        "action=cut&tip=1+in%0A-+cut:+{+tip:+9+in+}",
        "action=cut&tip=-1+in",
        "number=1",
        "%ff%fe",
    ] {
        let got = page.post(BENCH, &headers, form).await;
        assert!([400, 422].contains(&got.status()), "{form}: {}", got.0);
    }
    let json = format!("{headers}Content-Type: application/json\r\n");
    let got = page.post(BENCH, &json, "{}").await;
    assert!([400, 415, 422].contains(&got.status()), "{}", got.0);
    nothing_is_written(&page);
}

/// Names are asked of the engine, which knows records and no files; a path is not made of them.
#[tokio::test]
async fn no_path_leads_out_of_the_shop_folder() {
    let page = Served::begin().await;
    let headers = format!("Cookie: {}\r\n{}", page.pen().await, page.origin());
    for id in [
        "../../etc/passwd",
        "%2e%2e/%2e%2e/etc/passwd",
        "..%2f..%2fetc%2fpasswd",
        "%2fetc%2fpasswd",
        "%00",
        "..%5c..",
    ] {
        for under in ["record", "try", "bench"] {
            let got = page.get(&format!("/{under}/{id}")).await;
            assert!([400, 404].contains(&got.status()), "{id}: {}", got.0);
            got.has_not("root:");
        }
        let got = page.post(&format!("/bench/{id}"), &headers, FORM).await;
        assert!([400, 404].contains(&got.status()), "{id}: {}", got.0);
    }
    page.get("/style.css/../../lib.rs").await.is(404);
    nothing_is_written(&page);
}

#[tokio::test]
async fn every_answer_is_hardened() {
    let page = Served::begin().await;
    for path in ["/", "/record/nothing", "/style.css", "/page.js", "/elsewhere", "/flags"] {
        let got = page.get(path).await;
        let policy = got.header("content-security-policy").expect("a policy");
        assert!(policy.starts_with("default-src 'none';"), "{policy}");
        assert!(!policy.contains("unsafe") && !policy.contains('*'), "{policy}");
        for (name, value) in [
            ("x-content-type-options", "nosniff"),
            ("x-frame-options", "DENY"),
            ("referrer-policy", "same-origin"),
            ("cross-origin-resource-policy", "same-origin"),
            ("cache-control", "no-store"),
        ] {
            assert_eq!(got.header(name), Some(value), "{path}");
        }
        assert_eq!(got.header("access-control-allow-origin"), None);
        let body = got.0.split("\r\n\r\n").nth(1).unwrap_or_default();
        assert!(!body.contains(" style=\"") && !body.contains(" onclick="), "{path}");
        for outside in ["src=\"http", "href=\"http", "url(", "@import"] {
            assert!(!body.contains(outside), "{path} brings in something from outside: {outside}");
        }
    }
}

#[tokio::test]
async fn what_is_too_large_is_refused() {
    let page = Served::begin().await;
    let headers = format!("Cookie: {}\r\n{}", page.pen().await, page.origin());
    let words = "a".repeat(20_000);
    page.post(BENCH, &headers, &format!("action=feel&words={words}")).await.is(413);
    let query = "a".repeat(100_000);
    let got = page.get(&format!("/?q={query}")).await;
    assert!([0, 414, 431].contains(&got.status()), "{}", got.0);
    let many: String = (0..200).map(|n| format!("X-{n}: 1\r\n")).collect();
    let host = page.address;
    let got = page.send(&format!("GET / HTTP/1.1\r\nHost: {host}\r\n{many}\r\n")).await;
    assert!([0, 431].contains(&got.status()), "{}", got.0);
    nothing_is_written(&page);
}

/// Somebody who says nothing, or half of something, is sent away, and with every place taken the next one is served
/// after that.
#[tokio::test]
async fn who_is_slow_is_sent_away_and_others_are_served() {
    let page = Served::begin().await;
    let mut slow = Vec::new();
    for n in 0..80 {
        let mut stream = TcpStream::connect(page.address).await.unwrap();
        if n % 2 == 0 {
            stream.write_all(b"GET / HTTP/1.1\r\nHost: ").await.unwrap();
        }
        slow.push(stream);
    }
    page.get("/?q=x").await.is(200);
    let mut bytes = Vec::new();
    let _ = slow[0].read_to_end(&mut bytes).await;
    assert!(!String::from_utf8_lossy(&bytes).starts_with("HTTP/1.1 200"));
}

#[tokio::test]
async fn only_so_many_pages_follow_changes() {
    let page = Served::begin().await;
    let mut following = Vec::new();
    let mut n_refused = 0;
    for _ in 0..30 {
        let mut stream = TcpStream::connect(page.address).await.unwrap();
        let request = format!("GET /changes HTTP/1.1\r\nHost: {}\r\n\r\n", page.address);
        stream.write_all(request.as_bytes()).await.unwrap();
        let mut bytes = [0; 12];
        stream.read_exact(&mut bytes).await.unwrap();
        n_refused += usize::from(&bytes == b"HTTP/1.1 503");
        following.push(stream);
    }
    assert!(0 < n_refused && n_refused < 30, "{n_refused}");
    page.get("/?q=x").await.is(200);
}
