//! A page that is served no more by one process, and goes on in another one.

use std::time::Duration;

use taperbook_web::Wrote;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use crate::served::{MANY, Served};

const ILSE: &str = "builds/ilse%201%3F%23";

/// Sends a request without waiting for the answer.
async fn ask(page: &Served, path: &str) -> TcpStream {
    let mut stream = TcpStream::connect(page.address).await.unwrap();
    let request = format!("GET {path} HTTP/1.1\r\nHost: {}\r\n\r\n", page.address);
    stream.write_all(request.as_bytes()).await.unwrap();
    stream
}

/// Reads until the connection ends.
async fn whole(mut stream: TcpStream) -> String {
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).await.unwrap();
    String::from_utf8(bytes).unwrap()
}

#[tokio::test]
async fn what_was_asked_is_answered_and_what_is_asked_later_waits() {
    let page = Served::begin().await;
    let pen = page.pen().await;
    page.shop.slow.forget_permits(MANY);
    let slow = ask(&page, &format!("/guides/{ILSE}")).await;
    let mut followed = ask(&page, "/changes").await;
    let mut bytes = [0; 4096];
    assert_ne!(followed.read(&mut bytes).await.unwrap(), 0, "it is heard");
    while page.shop.asked.load(std::sync::atomic::Ordering::SeqCst) == 0 {
        tokio::time::sleep(Duration::from_millis(5)).await;
    }

    // One that has connected and not asked yet is not turned away.
    let mut silent = TcpStream::connect(page.address).await.unwrap();
    page.get("/style.css").await.is(200);
    page.close();
    whole(followed).await;
    let request = format!("GET / HTTP/1.1\r\nHost: {}\r\n\r\n", page.address);
    silent.write_all(request.as_bytes()).await.unwrap();
    assert!(whole(silent).await.starts_with("HTTP/1.1 200"));
    let later = ask(&page, "/").await;
    assert!(!page.is_over(), "somebody waits for an answer");
    page.shop.slow.add_permits(MANY);
    assert!(whole(slow).await.contains("</html>"), "the connection ends with the answer");
    let wrote = Wrote {
        number: 7,
        path: "builds/ilse 1?#.md".to_owned(),
        line: 9,
        inserted: "  - cut: { tip: 1 in }\n".to_owned(),
        doubts: Vec::new(),
    };
    let page = page.renewed(vec![wrote]).await;

    let mut later = later;
    let n_bytes = later.read(&mut bytes).await.unwrap();
    assert!(String::from_utf8_lossy(&bytes[..n_bytes]).starts_with("HTTP/1.1 200"));
    assert_eq!(page.pen().await, pen, "who has the pen keeps it");
    let request = format!(
        "GET /bench/{ILSE} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nCookie: {pen}\r\n\r\n",
        page.address
    );
    page.send(&request).await.is(200).has("line 9");
}
