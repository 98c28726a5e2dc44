//! Debian's Chromium without a screen, driven by the WebDriver protocol (W3C, 2018): one browser at a time.
//!
//! It holds no test.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::workshop::is_missing;

/// How long something on a page is waited for.
const DEADLINE: Duration = Duration::from_secs(60);
/// Between two looks at it.
const PAUSE: Duration = Duration::from_millis(20);
/// The key of an element in the protocol.
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";

/// Several browsers at once would only wait for each other.
static ONE: Mutex<()> = Mutex::new(());

/// A browser with a session; it ends when it is dropped.
pub(crate) struct Browser {
    driver: Child,
    port: u16,
    session: String,
    _one: MutexGuard<'static, ()>,
}

/// What is to be set up otherwise than usual.
#[derive(Default)]
pub(crate) struct Wishes {
    /// Pages run no script.
    pub(crate) without_script: bool,
    /// Further arguments.
    pub(crate) arguments: Vec<String>,
}

impl Browser {
    /// Starts one; `None`, with words, where there is none.
    pub(crate) fn begin(wishes: &Wishes) -> Option<Self> {
        if is_missing("chromium") || is_missing("chromedriver") {
            return None;
        }
        let one = ONE.lock().unwrap_or_else(PoisonError::into_inner);
        let mut driver = Command::new("chromedriver")
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the driver runs");
        let output = BufReader::new(driver.stdout.take().expect("it is piped"));
        let mut lines = output.lines().map_while(Result::ok);
        let port = lines
            .find_map(|line| {
                line.split("successfully on port ").nth(1)?.trim_end_matches('.').parse().ok()
            })
            .expect("the driver says its port");
        std::thread::spawn(move || lines.for_each(drop));
        let mut browser = Self { driver, port, session: String::new(), _one: one };
        let mut arguments = [
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-dev-shm-usage",
            "--hide-scrollbars",
        ]
        .map(str::to_owned)
        .to_vec();
        arguments.extend(wishes.arguments.iter().cloned());
        let mut options = json!({ "args": arguments });
        if wishes.without_script {
            options["prefs"] = json!({ "profile.managed_default_content_settings.javascript": 2 });
        }
        let wanted = json!({ "capabilities": { "alwaysMatch": { "browserName": "chrome", "goog:chromeOptions": options } } });
        let session = browser.ask("POST", "/session", &wanted);
        browser.session = session["sessionId"].as_str().expect("a session").to_owned();
        Some(browser)
    }

    #[track_caller]
    fn ask(&self, method: &str, path: &str, body: &Value) -> Value {
        let (status, value) = self.exchange(method, path, body);
        assert_eq!(status, 200, "{method} {path} {body}: {value}");
        value
    }

    /// One request to the driver, which answers with a JSON body of a stated length.
    fn exchange(&self, method: &str, path: &str, body: &Value) -> (u16, Value) {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).expect("the driver listens");
        stream.set_read_timeout(Some(2 * DEADLINE)).expect("a timeout");
        let body = if method == "POST" { body.to_string() } else { String::new() };
        let head = format!(
            "{method} {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nConnection: close\r\nContent-Length: {}\r\n\r\n{body}",
            self.port,
            body.len()
        );
        stream.write_all(head.as_bytes()).expect("the driver reads");
        let mut reader = BufReader::new(stream);
        let (mut status, mut length) = (0, 0);
        loop {
            let mut line = String::new();
            reader.read_line(&mut line).expect("the driver answers");
            if let Some(code) = line.strip_prefix("HTTP/1.1 ") {
                status = code.get(..3).and_then(|code| code.parse().ok()).unwrap_or(0);
            }
            let line = line.trim().to_lowercase();
            if let Some(bytes) = line.strip_prefix("content-length:") {
                length = bytes.trim().parse().expect("a length");
            }
            if line.is_empty() {
                break;
            }
        }
        let mut bytes = vec![0; length];
        reader.read_exact(&mut bytes).expect("a whole answer");
        let mut answer: Value = serde_json::from_slice(&bytes).expect("JSON");
        (status, answer["value"].take())
    }

    #[track_caller]
    fn act(&self, path: &str, body: &Value) -> Value {
        self.ask("POST", &format!("/session/{}/{path}", self.session), body)
    }

    /// A command of the browser's own protocol.
    #[track_caller]
    pub(crate) fn devtools(&self, command: &str, values: Value) -> Value {
        self.act("goog/cdp/execute", &json!({ "cmd": command, "params": values }))
    }

    /// Makes the window so wide, and the scheme light or dark.
    pub(crate) fn look(&self, width: u32, scheme: &str) {
        let size =
            json!({ "width": width, "height": 800, "deviceScaleFactor": 1, "mobile": width < 500 });
        self.devtools("Emulation.setDeviceMetricsOverride", size);
        let features = json!([{ "name": "prefers-color-scheme", "value": scheme }]);
        self.devtools("Emulation.setEmulatedMedia", json!({ "features": features }));
    }

    #[track_caller]
    pub(crate) fn open(&self, address: &str) {
        self.act("url", &json!({ "url": address }));
    }

    /// Runs the body of a function on the page and gives what it returns.
    #[track_caller]
    pub(crate) fn run(&self, script: &str) -> Value {
        self.act("execute/sync", &json!({ "script": script, "args": [] }))
    }

    /// Waits until the text of the page holds this.
    #[track_caller]
    pub(crate) fn wait_for(&self, part: &str) {
        let begun = Instant::now();
        let mut text = String::new();
        while begun.elapsed() < DEADLINE {
            // While a page is left for the next there is a moment without a body.
            let path = format!("/session/{}/element", self.session);
            let body = json!({ "using": "css selector", "value": "body" });
            if let (200, found) = self.exchange("POST", &path, &body)
                && let Some(id) = found[ELEMENT].as_str()
                && let (200, seen) = self.exchange(
                    "GET",
                    &format!("/session/{}/element/{id}/text", self.session),
                    &Value::Null,
                )
            {
                text = seen.as_str().unwrap_or_default().to_owned();
                if text.contains(part) {
                    return;
                }
            }
            std::thread::sleep(PAUSE);
        }
        panic!("no `{part}` on the page, but:\n{text}");
    }

    #[track_caller]
    pub(crate) fn element(&self, css: &str) -> String {
        let found = self.act("element", &json!({ "using": "css selector", "value": css }));
        found[ELEMENT].as_str().expect("an element").to_owned()
    }

    /// Clicks the middle of an element, which must be what is seen there.
    #[track_caller]
    pub(crate) fn click(&self, css: &str) {
        let element = self.element(css);
        self.act(&format!("element/{element}/click"), &json!({}));
    }

    /// Types into an element; keys without a letter are those of the protocol, such as `\u{e014}` for right.
    #[track_caller]
    pub(crate) fn keys(&self, css: &str, keys: &str) {
        let element = self.element(css);
        self.act(&format!("element/{element}/value"), &json!({ "text": keys }));
    }

    /// Drags from a place in an element to another; places are from its middle.
    #[track_caller]
    pub(crate) fn drag(&self, css: &str, from_x: i32, to_x: i32) {
        let origin = json!({ ELEMENT: self.element(css) });
        let to = |x: i32| json!({ "type": "pointerMove", "duration": 50, "origin": origin, "x": x, "y": 0 });
        let actions = json!([
            to(from_x),
            { "type": "pointerDown", "button": 0 },
            to((from_x + to_x) / 2),
            to(to_x),
            { "type": "pointerUp", "button": 0 },
        ]);
        let mouse = json!({ "type": "pointer", "id": "mouse", "parameters": { "pointerType": "mouse" }, "actions": actions });
        self.act("actions", &json!({ "actions": [mouse] }));
    }

    /// The page on paper, as the bytes of a PDF in base 64.
    #[track_caller]
    pub(crate) fn print(&self) -> String {
        self.act("print", &json!({})).as_str().expect("a document").to_owned()
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        if !self.session.is_empty() && !std::thread::panicking() {
            self.exchange("DELETE", &format!("/session/{}", self.session), &Value::Null);
        }
        // Asked to end, the driver ends its browser too; where that fails it is killed.
        if TcpStream::connect(("127.0.0.1", self.port)).is_ok() {
            let _ = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
                self.exchange("GET", "/shutdown", &Value::Null)
            }));
        }
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}
