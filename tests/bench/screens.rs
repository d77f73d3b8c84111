//! How fast the pages are on this machine: 500 event streams on one process, memory a stream, from a commit to a browser at
//! four changes a second, bytes to the first paint, and what moved on the page meanwhile.
//!
//! `deploy/bench-screens` runs it. It prints figures beside what is aimed at, and asserts nothing.
#![allow(clippy::unwrap_used, reason = "a program for one machine, which stops where it can't go on")]
#![allow(clippy::disallowed_methods, reason = "it measures time")]
#![allow(clippy::cast_precision_loss, reason = "figures for people to read")]

#[allow(dead_code, reason = "the browser of the tests, of which not all is needed here")]
#[path = "../browser/chrome.rs"]
mod chrome;
#[allow(dead_code, reason = "the scene of the tests, of which not all is needed here")]
#[path = "../screens/scene.rs"]
mod scene;

use leadhand_sdk::new_write;
use leadhand_sdk::v1::{self, Role};
use serde_json::json;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::TcpStream;

const STREAMS: usize = 500;
const BAYS: usize = 24;
const CHANGES: usize = 240;
const PACE: Duration = Duration::from_millis(250);

/// The screen's program, ended with this value.
struct Screen {
    process: Child,
    at: SocketAddr,
    _token: tempfile::NamedTempFile,
}

impl Drop for Screen {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

impl Screen {
    async fn start(server: &str, token: &str) -> Self {
        let at = SocketAddr::from((Ipv4Addr::LOCALHOST, kit::postgres::free_port().unwrap()));
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), token).unwrap();
        let own = std::env::current_exe().unwrap();
        let program: PathBuf = own.ancestors().nth(2).unwrap().join("leadhand_screen_under_test");
        let process = Command::new(program)
            .args(["--server", server, "--listen", &at.to_string(), "--token-file"])
            .arg(file.path())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let screen = Self { process, at, _token: file };
        while get(at, "/healthz").await.is_none_or(|page| !page.contains("ok, live")) {
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        screen
    }

    /// KiB that its process holds (VmRSS, proc(5)).
    fn memory(&self) -> u64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.process.id())).unwrap();
        let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap();
        line.trim().trim_end_matches(" kB").trim().parse().unwrap()
    }
}

async fn get(at: SocketAddr, path: &str) -> Option<String> {
    let mut stream = TcpStream::connect(at).await.ok()?;
    stream.write_all(format!("GET {path} HTTP/1.0\r\nHost: {at}\r\n\r\n").as_bytes()).await.ok()?;
    let mut text = String::new();
    stream.read_to_string(&mut text).await.ok()?;
    Some(text)
}

/// A stream that is read as a browser reads it: until its first word, and then for ever.
async fn stream(at: SocketAddr) {
    let mut stream = TcpStream::connect(at).await.unwrap();
    stream.write_all(format!("GET /events HTTP/1.1\r\nHost: {at}\r\n\r\n").as_bytes()).await.unwrap();
    let mut lines = BufReader::with_capacity(1024, stream);
    let mut line = String::new();
    while !line.starts_with("data:") {
        line.clear();
        assert!(lines.read_line(&mut line).await.unwrap() > 0, "a stream is over");
    }
    tokio::spawn(async move {
        let mut bytes = [0; 4096];
        while lines.read(&mut bytes).await.is_ok_and(|read| read > 0) {}
    });
}

/// What is loaded before anything is seen: the page with its styles and its script, as they are sent.
async fn first_paint(at: SocketAddr) -> usize {
    let page = get(at, "/").await.unwrap();
    let links = page.split(['"', '\'']).filter(|link| link.starts_with("/assets/"));
    let mut bytes = page.len();
    for link in links {
        bytes += get(at, link).await.unwrap().len();
    }
    bytes
}

/// Says on the page when it shows something, and adds up what moved.
const WATCH: &str = "
    window.seen = {};
    window.moved = 0;
    new PerformanceObserver((list) => { for (const one of list.getEntries()) window.moved += one.value; })
        .observe({ type: 'layout-shift', buffered: true });
    new MutationObserver(() => {
        for (const found of document.body.textContent.matchAll(/mark-\\d+/g)) window.seen[found[0]] ??= Date.now();
    }).observe(document.body, { subtree: true, childList: true, characterData: true });";

fn millis() -> f64 {
    SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_secs_f64() * 1000.0
}

fn percentile(of: &mut [f64], percent: usize) -> f64 {
    of.sort_by(f64::total_cmp);
    of[(of.len() * percent).div_ceil(100).saturating_sub(1)]
}

/// One change: what held a bay up ends, and something new does, with a mark.
async fn change(scene: &scene::Scene, job: i64, mark: usize) -> f64 {
    let open = scene.whole(job).await.blockers.into_iter().find(|one| one.cleared_at.is_none());
    if let Some(open) = open {
        let (write, blocker) = (Some(new_write()), open.blocker);
        let asked = v1::ClearBlockerRequest { write, job, blocker, note: String::new() };
        scene.lead.clear_blocker(asked).await.unwrap();
    }
    scene.held_up_at(job, "mend", &format!("mark-{mark}")).await;
    millis()
}

async fn shop() -> (scene::Scene, Vec<i64>, String) {
    let scene = scene::Scene::open(Role::Viewer).await;
    for bay in 4..=BAYS {
        let kind = v1::BayKind::Floor.into();
        let bay = v1::Bay { bay: format!("bay-{bay}"), name: format!("Bay {bay}"), kind, rated_kg: 5000 };
        scene.lead.add_bay(v1::AddBayRequest { write: Some(new_write()), bay: Some(bay) }).await.unwrap();
    }
    let mut jobs = Vec::new();
    for bay in
        ["lift-1", "lift-2", "floor-1"].map(str::to_owned).into_iter().chain((4..=BAYS).map(|n| format!("bay-{n}")))
    {
        jobs.push(scene.job("blue saloon 2.0", &bay, 12).await);
    }
    let (write, role, label) = (Some(new_write()), Role::Viewer.into(), "bench".to_owned());
    let asked = v1::IssueTokenRequest { write, role, label, ..Default::default() };
    let token = scene.lead.issue_token(asked).await.unwrap().secret;
    (scene, jobs, token)
}

#[tokio::main]
async fn main() {
    let (scene, jobs, token) = shop().await;
    let screen = Screen::start(&scene.server.url(), &token).await;
    let bytes = first_paint(screen.at).await;
    println!("first paint of {BAYS} bays      {:6.1} kB      (aim: below 60)", bytes as f64 / 1000.0);

    let before = screen.memory();
    for _ in 0..STREAMS {
        stream(screen.at).await;
    }
    let streams = screen.memory().saturating_sub(before);
    let browser = chrome::Chrome::open(chrome::WALL).await;
    if let Some(browser) = &browser {
        browser.devtools("Page.addScriptToEvaluateOnNewDocument", json!({ "source": "window.seen = {};" })).await;
        browser.client.goto(&format!("http://{}/", screen.at)).await.unwrap();
        browser.client.execute(WATCH, Vec::new()).await.unwrap();
        // Until the stream said its first word and a breath more: what a page moves by itself it has moved by then.
        tokio::time::sleep(Duration::from_secs(3)).await;
        let moved = browser.client.execute("return window.moved", Vec::new()).await.unwrap();
        println!(
            "moved while it loads        {:6.3}         (cumulative layout shift; aim: 0)",
            moved.as_f64().unwrap()
        );
    }
    let (mut committed, begun) = (Vec::new(), Instant::now());
    let mut ticks = tokio::time::interval(PACE);
    for mark in 0..CHANGES {
        ticks.tick().await;
        // A blocker that is raised anew is two commits; each bay in its turn.
        committed.push(change(&scene, jobs[mark % jobs.len()], mark).await);
    }
    let took = begun.elapsed();
    let after = screen.memory().saturating_sub(before);
    println!(
        "memory a stream, of {STREAMS}     {:6.1} KiB     (aim: below 64; {:.1} before any change)",
        after as f64 / STREAMS as f64,
        streams as f64 / STREAMS as f64
    );
    println!("changes a second            {:6.1}", CHANGES as f64 / took.as_secs_f64());
    let Some(browser) = browser else { return println!("no browser: the rest was not measured") };
    tokio::time::sleep(Duration::from_secs(2)).await;
    let seen = browser.client.execute("return [window.seen, window.moved]", Vec::new()).await.unwrap();
    let times =
        committed.iter().enumerate().filter_map(|(mark, at)| Some(seen[0][format!("mark-{mark}")].as_f64()? - at));
    let mut times: Vec<f64> = times.collect();
    println!("seen in the browser         {:6} of {CHANGES}", times.len());
    let (half, most) = (percentile(&mut times, 50), percentile(&mut times, 99));
    println!(
        "answered commit to browser  {half:6.0} ms      at the median, {most:.0} ms at the 99th of 100 (aim: below 250)"
    );
    println!(
        "bays changed their places   {:6.3}         (the same sum, by what happened in the shop)",
        seen[1].as_f64().unwrap()
    );
}
