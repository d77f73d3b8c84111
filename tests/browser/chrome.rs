//! A real browser: chromedriver with a headless chromium of its own, ended with this value.

use fantoccini::wd::WebDriverCompatibleCommand;
use fantoccini::{Client, ClientBuilder};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, Stdio};
use tempfile::TempDir;

/// `required`: where there is no browser, tests fail; without it they say so and are skipped.
const DEMAND: &str = "LEADHAND_TEST_BROWSER";

/// A screen's size in CSS pixels.
#[derive(Clone, Copy, Debug)]
pub struct Size {
    pub name: &'static str,
    pub width: u32,
    pub height: u32,
    /// Whether it is touched and held in a hand.
    pub mobile: bool,
}

pub const WALL: Size = Size { name: "wall", width: 1920, height: 1080, mobile: false };
pub const DESK: Size = Size { name: "desk", width: 1280, height: 800, mobile: false };
/// A common tablet across (common practice: 10 inches at 1280 x 800 points).
pub const TABLET: Size = Size { name: "tablet", width: 1280, height: 800, mobile: true };
/// The narrow phone of WCAG 2.2, 1.4.10 is 320; phones of today have 360 and more.
pub const PHONE: Size = Size { name: "phone", width: 390, height: 844, mobile: true };

/// How often what a browser leaves is taken away.
const TRIES: u32 = 10_000;

/// A browser with one page open.
pub struct Chrome {
    pub client: Client,
    _driver: Driver,
}

/// chromedriver, and what it started.
struct Driver {
    process: Child,
    /// Its end stays open, or the process would end by writing.
    _said: BufReader<ChildStdout>,
    /// The browser's process, as soon as it is known.
    browser: Option<i32>,
    port: u16,
    profile: TempDir,
}

impl Drop for Driver {
    fn drop(&mut self) {
        use nix::sys::signal::{Signal, kill};
        // chromedriver leaves its browser behind when it is ended itself.
        if let Some(browser) = self.browser {
            let _ = kill(nix::unistd::Pid::from_raw(browser), Signal::SIGKILL);
        }
        let _ = self.process.kill();
        let _ = self.process.wait();
        // Its other processes go by themselves a moment later, and write until then.
        let gone = |_: &u32| std::fs::remove_dir_all(self.profile.path()).is_ok() || !self.profile.path().exists();
        (0..TRIES).find(gone);
    }
}

/// Where a program is, by the PATH.
fn program(name: &str) -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    std::env::split_paths(&path).map(|dir| dir.join(name)).find(|file| file.is_file())
}

/// Whether whoever runs the tests asks for a browser.
pub fn is_required() -> bool {
    std::env::var(DEMAND).is_ok_and(|value| value == "required")
}

impl Chrome {
    /// A browser of this size; nothing where there is none and nobody asks for one.
    pub async fn open(size: Size) -> Option<Self> {
        let (Some(chromium), Some(chromedriver)) = (program("chromium"), program("chromedriver")) else {
            assert!(!is_required(), "{DEMAND}=required, but chromium or chromedriver is missing: install both");
            eprintln!("skipped: chromium or chromedriver is missing (packages chromium and chromium-driver)");
            return None;
        };
        let mut driver = Driver::start(&chromedriver);
        let client = connect(&chromium, driver.port, driver.profile.path()).await;
        let id = client.capabilities().and_then(|known| known.get("goog:processID")).and_then(Value::as_i64);
        driver.browser = id.and_then(|id| i32::try_from(id).ok());
        let chrome = Self { client, _driver: driver };
        chrome.resize(size).await;
        Some(chrome)
    }

    /// Another size.
    pub async fn resize(&self, size: Size) {
        let Size { width, height, mobile, .. } = size;
        let params = json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": mobile });
        self.devtools("Emulation.setDeviceMetricsOverride", params).await;
        self.devtools("Emulation.setTouchEmulationEnabled", json!({ "enabled": mobile })).await;
    }

    /// What the person has asked of the system: `light` or `dark`, and whether things may move.
    pub async fn prefer(&self, scheme: &str, motion: &str) {
        let features = json!([
            { "name": "prefers-color-scheme", "value": scheme },
            { "name": "prefers-reduced-motion", "value": motion },
        ]);
        self.devtools("Emulation.setEmulatedMedia", json!({ "features": features })).await;
    }

    /// A command of the browser's own protocol, past WebDriver.
    pub async fn devtools(&self, cmd: &'static str, params: Value) -> Value {
        self.client.issue_cmd(Devtools { cmd, params }).await.unwrap()
    }
}

impl Driver {
    fn start(chromedriver: &Path) -> Self {
        let profile = TempDir::with_prefix("leadhand-chromium-").unwrap();
        let mut process = Command::new(chromedriver)
            .arg("--port=0")
            .env("HOME", profile.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut said = BufReader::new(process.stdout.take().unwrap());
        let mut line = String::new();
        let port = loop {
            line.clear();
            assert!(said.read_line(&mut line).unwrap() > 0, "chromedriver ended before it had a port");
            if let Some(port) = line.split("started successfully on port ").nth(1) {
                break port.trim().trim_end_matches('.').parse().unwrap();
            }
        };
        Self { process, _said: said, browser: None, port, profile }
    }
}

async fn connect(chromium: &Path, port: u16, profile: &Path) -> Client {
    let args = [
        "--headless=new".to_owned(),
        // Tests run as root in containers, where the sandbox has nothing to stand on; every page is our own.
        "--no-sandbox".to_owned(),
        "--disable-gpu".to_owned(),
        "--disable-dev-shm-usage".to_owned(),
        "--no-first-run".to_owned(),
        "--hide-scrollbars".to_owned(),
        "--force-color-profile=srgb".to_owned(),
        "--no-proxy-server".to_owned(),
        format!("--user-data-dir={}", profile.display()),
    ];
    let options = json!({ "binary": chromium, "args": args });
    let wanted = json!({ "browserName": "chrome", "goog:chromeOptions": options });
    let Value::Object(wanted) = wanted else { unreachable!("an object was written") };
    let mut builder = ClientBuilder::new(hyper_util::client::legacy::connect::HttpConnector::new());
    builder.capabilities(wanted);
    builder.connect(&format!("http://127.0.0.1:{port}")).await.unwrap()
}

#[derive(Debug)]
struct Devtools {
    cmd: &'static str,
    params: Value,
}

impl WebDriverCompatibleCommand for Devtools {
    fn endpoint(&self, base: &url::Url, session: Option<&str>) -> Result<url::Url, url::ParseError> {
        base.join(&format!("session/{}/goog/cdp/execute", session.unwrap_or_default()))
    }

    fn method_and_body(&self, _: &url::Url) -> (http::Method, Option<String>) {
        let body = json!({ "cmd": self.cmd, "params": self.params });
        (http::Method::POST, Some(body.to_string()))
    }
}
