//! The page over a real socket: what it shows, and what it refuses.

use std::sync::Arc;

use taperbook_engine::{Answer, FindAnswer, FlagsAnswer, HitAnswer, Refusal, Request};
use taperbook_web::{Ask, Page};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

/// Finds one record whose text tries to be markup, and refuses the query `bad(`.
fn ask() -> Ask {
    Arc::new(|request| Box::pin(async move { answer(&request) }))
}

fn answer(request: &Request) -> Answer {
    match request {
        Request::Find { query, .. } if query == "bad(" => Answer::Refused(Refusal {
            message: "this parenthesis is not closed".into(),
            at: Some((3, 4)),
        }),
        Request::Find { .. } => Answer::Find(FindAnswer {
            total: 1,
            took_ms: 0.1,
            unread: 0,
            pending: 0,
            hits: vec![HitAnswer {
                record: "builds/ilse".into(),
                title: "<script>alert(1)</script>".into(),
                kind: "build".into(),
                snippet: "loads <b>early</b>".into(),
                marks: vec![(0, 5), (90, 99)],
                numbers: Default::default(),
                flags: Vec::new(),
            }],
        }),
        Request::Flags { .. } => Answer::Flags(FlagsAnswer { total: 0, flags: Vec::new() }),
        _ => Answer::Refused(Refusal { message: "no record is called that".into(), at: None }),
    }
}

async fn get(path: &str, host: Option<&str>) -> String {
    let page = Page::open(0).await.unwrap();
    let address = page.address();
    assert!(address.ip().is_loopback());
    let serving = tokio::spawn(page.serve(ask()));
    let mut stream = TcpStream::connect(address).await.unwrap();
    let host = host.map_or(address.to_string(), str::to_owned);
    let request = format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n");
    stream.write_all(request.as_bytes()).await.unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).await.unwrap();
    serving.abort();
    answer
}

#[tokio::test]
async fn what_a_note_says_is_text_and_never_markup() {
    let answer = get("/?q=loads", None).await;
    assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    assert!(answer.contains("&lt;script&gt;alert(1)&lt;/script&gt;"), "{answer}");
    assert!(answer.contains("<mark>loads</mark> &lt;b&gt;early"), "{answer}");
    assert!(answer.contains("content-security-policy: default-src 'none'"), "{answer}");
}

#[tokio::test]
async fn a_bad_query_shows_its_caret() {
    let answer = get("/?q=bad(", None).await;
    assert!(answer.starts_with("HTTP/1.1 400"), "{answer}");
    assert!(answer.contains("bad(\n   ^"), "{answer}");
}

#[tokio::test]
async fn another_host_is_refused() {
    for host in ["rod.example", "127.0.0.1", "127.0.0.1.rod.example:80"] {
        let answer = get("/", Some(host)).await;
        assert!(answer.starts_with("HTTP/1.1 421"), "{host}: {answer}");
    }
}

#[tokio::test]
async fn what_is_not_there_is_not_found() {
    for path in ["/record/nothing", "/record/../../etc/passwd", "/elsewhere"] {
        let answer = get(path, None).await;
        assert!(answer.starts_with("HTTP/1.1 404"), "{path}: {answer}");
    }
    assert!(get("/flags", None).await.contains("No flag is raised."));
}
