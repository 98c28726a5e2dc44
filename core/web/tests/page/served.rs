//! It holds no test.

use std::net::SocketAddr;
use std::os::fd::OwnedFd;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use taperbook_engine::{Answer, FindAnswer, HitAnswer, Refusal, Request, ShowAnswer};
use taperbook_web::{Behind, Coming, Moment, Page, Shop, Want, Wrote};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::sync::{Semaphore, watch};
use tokio::task::JoinHandle;

/// So long an answer is waited for; every limit of the page is shorter.
const DEADLINE: Duration = Duration::from_secs(120);

/// More than any test works out.
pub(crate) const MANY: usize = 1000;

/// A shop of one build, whose text tries to be markup.
pub(crate) struct Invented {
    /// What was written, and what was taken back.
    pub(crate) written: Mutex<Vec<String>>,
    /// What must be worked out is answered when this has a permit, which is used up.
    pub(crate) slow: Arc<Semaphore>,
    /// How many things were asked for that must be worked out.
    pub(crate) asked: Arc<AtomicUsize>,
    /// There is one more of it for each state of the shop that is held.
    held: Arc<()>,
    changes: watch::Sender<u64>,
}

impl Shop for Invented {
    fn now(&self, _want: Want) -> Coming<Result<Arc<dyn Moment>, String>> {
        let (slow, asked) = (self.slow.clone(), self.asked.clone());
        let moment: Arc<dyn Moment> =
            Arc::new(AtAllTimes { slow, asked, _held: self.held.clone() });
        Box::pin(async { Ok(moment) })
    }

    fn append(&self, path: String, item: String) -> Coming<Result<Wrote, String>> {
        self.written.lock().unwrap().push(format!("{path}: {item}"));
        let inserted = format!("  - {item}\n");
        Box::pin(
            async move { Ok(Wrote { number: 1, path, line: 9, inserted, doubts: Vec::new() }) },
        )
    }

    fn take_back(&self, number: u64) -> Coming<Result<(), String>> {
        self.written.lock().unwrap().push(format!("back {number}"));
        Box::pin(async { Ok(()) })
    }

    fn today(&self) -> String {
        "2026-03-15".to_owned()
    }

    fn changes(&self) -> watch::Receiver<u64> {
        self.changes.subscribe()
    }
}

/// The only state of it.
struct AtAllTimes {
    slow: Arc<Semaphore>,
    asked: Arc<AtomicUsize>,
    _held: Arc<()>,
}

impl Moment for AtAllTimes {
    fn ask(&self, questions: Vec<Request>) -> Coming<Result<Vec<Answer>, String>> {
        let (slow, asked) = (self.slow.clone(), self.asked.clone());
        Box::pin(async move {
            if !matches!(questions.as_slice(), [Request::Read { .. } | Request::Find { .. }]) {
                asked.fetch_add(1, Ordering::Relaxed);
                slow.acquire().await.map_err(|closed| closed.to_string())?.forget();
            }
            Ok(questions.iter().map(answer).collect())
        })
    }

    fn behind(&self) -> Behind {
        Behind { n_unread: 0, n_pending: 7 }
    }
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
            pending: 0,
            unread: 0,
            hits: vec![HitAnswer {
                record: "builds/ilse 1?#".into(),
                title: "<script>alert(1)</script>".into(),
                kind: "build".into(),
                snippet: "loads <b>early</b>".into(),
                marks: vec![(0, 5), (90, 99)],
                numbers: Default::default(),
                flags: vec!["<i>".into()],
            }],
        }),
        Request::Show { record } | Request::Read { record }
            if ["builds/ilse 1?#", "blanks/heron"].contains(&&**record) =>
        {
            let (kind, _) = record.split_once("s/").unwrap();
            Answer::Show(Box::new(ShowAnswer {
                record: record.clone(),
                path: format!("{record}.md"),
                title: "Ilse \"<b>\"".into(),
                kind: kind.into(),
                text: "---\nkind: build\ncustomer: Ilse & Co\n---\n# Ilse\n\n<img src=x onerror=alert(1)>[x](javascript:alert(1))"
                    .into(),
                blank: None,
                builds: Vec::new(),
                numbers: Default::default(),
                bench: Vec::new(),
                flags: Vec::new(),
                problems: Vec::new(),
            }))
        }
        Request::Guides(asked) if asked.count == Some(13) => panic!("as a test wants it"),
        _ => Answer::Refused(Refusal { message: "no record is called <that>".into(), at: None }),
    }
}

/// A page that is being served.
pub(crate) struct Served {
    pub(crate) address: SocketAddr,
    pub(crate) shop: Arc<Invented>,
    pen_path: String,
    secret: String,
    listener: OwnedFd,
    closing: watch::Sender<bool>,
    serving: JoinHandle<()>,
}

impl Served {
    pub(crate) async fn begin() -> Self {
        Self::of(Page::open(0).await.unwrap())
    }

    fn of(page: Page) -> Self {
        let (address, pen_path) = (page.address(), page.pen_path());
        let (secret, listener) = (page.secret().to_owned(), page.listener().unwrap());
        let (written, changes) = (Mutex::default(), watch::Sender::default());
        let slow = Arc::new(Semaphore::new(MANY));
        let (asked, held) = (Arc::default(), Arc::default());
        let shop = Arc::new(Invented { written, slow, asked, held, changes });
        let (closing, is_closing) = watch::channel(false);
        let served = shop.clone();
        let serving = tokio::spawn(async move { page.serve(served, is_closing).await });
        Self { address, shop, pen_path, secret, listener, closing, serving }
    }

    /// Lets all that was asked be answered, and serves no more.
    pub(crate) fn close(&self) {
        self.closing.send_replace(true);
    }

    pub(crate) fn is_over(&self) -> bool {
        self.serving.is_finished()
    }

    /// Goes on at the same listener, as another process would.
    pub(crate) async fn renewed(self, wrote: Vec<Wrote>) -> Self {
        tokio::time::timeout(DEADLINE, self.serving).await.expect("an end").unwrap();
        Self::of(Page::resume(self.listener.into(), self.secret, wrote).unwrap())
    }

    pub(crate) fn change(&self) {
        self.shop.changes.send_modify(|count| *count += 1);
    }

    /// Waits until nobody works for a page any more.
    pub(crate) async fn at_rest(&self) {
        let at_rest = async {
            while Arc::strong_count(&self.shop.held) != 1 {
                tokio::time::sleep(Duration::from_millis(5)).await;
            }
        };
        tokio::time::timeout(DEADLINE, at_rest).await.expect("the work to end");
    }

    /// The cookie that a browser gets by the address with the pen in it.
    pub(crate) async fn pen(&self) -> String {
        let answer = self.get(&self.pen_path).await;
        let cookie = answer.header("set-cookie").expect("a cookie");
        assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"), "{cookie}");
        cookie.split(';').next().unwrap().to_owned()
    }

    pub(crate) async fn get(&self, path: &str) -> Got {
        self.send(&format!(
            "GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n",
            self.address
        ))
        .await
    }

    /// A form as this page's own would send it, with some header lines besides.
    pub(crate) async fn post(&self, path: &str, headers: &str, form: &str) -> Got {
        self.send(&format!(
            "POST {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nContent-Type: application/x-www-form-urlencoded\r\n\
             Content-Length: {}\r\n{headers}\r\n{form}",
            self.address,
            form.len()
        ))
        .await
    }

    pub(crate) fn origin(&self) -> String {
        format!("Origin: http://{}\r\n", self.address)
    }

    /// Sends bytes and reads until the connection ends.
    pub(crate) async fn send(&self, request: &str) -> Got {
        let mut stream = TcpStream::connect(self.address).await.unwrap();
        // The page may end the connection before it has read everything.
        let _ = stream.write_all(request.as_bytes()).await;
        let mut bytes = Vec::new();
        let read = stream.read_to_end(&mut bytes);
        let _ = tokio::time::timeout(DEADLINE, read).await.expect("an answer or an end in time");
        Got(String::from_utf8_lossy(&bytes).into_owned())
    }
}

/// An answer, as it came.
#[derive(Debug)]
pub(crate) struct Got(pub(crate) String);

impl Got {
    pub(crate) fn status(&self) -> u16 {
        self.0.get(9..12).and_then(|status| status.parse().ok()).unwrap_or(0)
    }

    pub(crate) fn header(&self, name: &str) -> Option<&str> {
        let head = self.0.split("\r\n\r\n").next()?;
        head.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(": "))
    }

    #[track_caller]
    pub(crate) fn has(&self, part: &str) -> &Self {
        assert!(self.0.contains(part), "`{part}` is not in {}", self.0);
        self
    }

    #[track_caller]
    pub(crate) fn has_not(&self, part: &str) -> &Self {
        assert!(!self.0.contains(part), "`{part}` is in {}", self.0);
        self
    }

    #[track_caller]
    pub(crate) fn is(&self, status: u16) -> &Self {
        assert_eq!(self.status(), status, "{}", self.0);
        self
    }
}
