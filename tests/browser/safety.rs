//! What a browser does with what strangers write and send: nothing.

use crate::chrome::DESK;
use crate::hand::Hand;
use crate::scene::Scene;
use leadhand_sdk::new_write;
use leadhand_sdk::v1::{self, Role, StageState, StepState};
use std::net::SocketAddr;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

const PIN: &str = "4831905";
const LEAD_PIN: &str = "6194027";
/// As OWASP's list of ways past a filter has them: a script, a handler, the end of an attribute, a link that runs.
const EVIL: [&str; 4] = [
    "<script>window.ran = 1</script>",
    "<img src=x onerror=\"window.ran = 2\">",
    "\"><svg onload=window.ran=3>",
    "javascript:window.ran=4//'\"",
];
/// Notes what the policy kept from being done, from before the page's own script on.
const WATCH: &str = "window.kept = []; document.addEventListener('securitypolicyviolation', (event) => window.kept.push(event.violatedDirective + ' ' + event.blockedURI));";

/// A shop in which everything that people write is evil.
async fn evil_shop(scene: &Scene) -> i64 {
    let job = scene.job(EVIL[0], "lift-1", 1).await;
    let step = v1::AddStepRequest {
        write: Some(new_write()),
        job,
        stage: "mend".into(),
        instruction: EVIL[1].into(),
        ..Default::default()
    };
    scene.lead.add_step(step).await.unwrap();
    let blocker = v1::RaiseBlockerRequest {
        write: Some(new_write()),
        job,
        stage: "mend".into(),
        cause: v1::Cause::Tool.into(),
        note: EVIL[2].into(),
        ..Default::default()
    };
    scene.lead.raise_blocker(blocker).await.unwrap();
    scene.job(EVIL[3], "lift-2", 1).await;
    job
}

#[tokio::test(flavor = "multi_thread")]
async fn what_people_write_is_shown_as_it_was_written_and_nothing_of_it_runs() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, DESK).await else { return };
    let heron = scene.person_as(EVIL[1], LEAD_PIN, Role::Lead, &[]).await;
    let job = evil_shop(&scene).await;
    hand.chrome.devtools("Page.addScriptToEvaluateOnNewDocument", serde_json::json!({ "source": WATCH })).await;
    hand.sign_in(&heron, LEAD_PIN, "/desk").await;
    let start = v1::StartStageRequest { write: Some(new_write()), job, stage: "mend".into(), ..Default::default() };
    let own = leadhand_sdk::WriteContextExt::for_person(new_write(), EVIL[1]);
    scene.lead.start_stage(v1::StartStageRequest { write: Some(own), ..start }).await.unwrap();
    let below = format!("/bay/lift-1/job/{job}/met/mend");
    let pages = [
        ("/", EVIL[0]),
        ("/", EVIL[2]),
        ("/bay/lift-1", EVIL[1]),
        ("/bay/lift-2", EVIL[3]),
        ("/desk", EVIL[2]),
        ("/parts", EVIL[1]),
        ("/time", EVIL[0]),
        ("/sign-in", EVIL[1]),
        (below.as_str(), EVIL[1]),
        ("/parts?item=%3Cscript%3Ewindow.ran%20%3D%201%3C%2Fscript%3E", EVIL[0]),
    ];
    for (path, words) in pages {
        hand.open(path).await;
        // What is folded away at the desk is read as well.
        hand.ask("document.querySelectorAll('details').forEach((one) => { one.open = true; })", &[]).await;
        hand.see(words).await;
        let ran = "return [typeof window.ran, document.querySelectorAll('body script, main img, [onload], [onerror], a[href^=javascript]').length, window.kept]";
        assert_eq!(hand.ask(ran, &[]).await, serde_json::json!(["undefined", 0, []]), "{path}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_script_that_got_into_a_page_all_the_same_would_not_run() {
    let scene = Scene::open(Role::Viewer).await;
    let Some(hand) = Hand::at(scene.screen, DESK).await else { return };
    hand.chrome.devtools("Page.addScriptToEvaluateOnNewDocument", serde_json::json!({ "source": WATCH })).await;
    hand.open("/").await;
    let put = "
        const script = document.createElement('script');
        script.textContent = 'window.ran = 1';
        const picture = document.createElement('div');
        picture.innerHTML = '<img src=\"x\" onerror=\"window.ran = 2\">';
        document.body.append(script, picture);";
    hand.ask(put, &[]).await;
    hand.until("return window.kept.filter((one) => one.startsWith('script-src')).length >= 2", &[]).await;
    assert_eq!(hand.ask("return typeof window.ran", &[]).await, "undefined");
}

/// Another site: one page with a form that sends itself to the screen.
async fn elsewhere(screen: SocketAddr, job: i64) -> SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let at = listener.local_addr().unwrap();
    let page = format!(
        "<!doctype html><form method=post action=\"http://{screen}/bay/lift-1\"><input name=act value=tick-all>\
         <input name=steps value=1,2,3><input name=job value={job}><input name=stage value=mend>\
         <input name=request value=00000000-0000-4000-8000-000000000001><button>Win</button></form>"
    );
    tokio::spawn(async move {
        while let Ok((stream, _)) = listener.accept().await {
            // A browser opens connections in advance and says nothing on them for a minute: none waits for another.
            tokio::spawn(answer(stream, page.clone()));
        }
    });
    at
}

/// The page, to whoever asks for anything.
async fn answer(mut stream: TcpStream, page: String) {
    let mut asked = [0; 4096];
    if stream.read(&mut asked).await.is_ok_and(|bytes| bytes > 0) {
        let length = page.len();
        let head = format!(
            "HTTP/1.1 200 OK\r\nContent-Type: text/html\r\nContent-Length: {length}\r\nConnection: close\r\n\r\n"
        );
        let _ = stream.write_all(format!("{head}{page}").as_bytes()).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_form_on_another_site_does_nothing_here() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, DESK).await else { return };
    let flint = scene.person("Flint", PIN).await;
    let job = scene.job("green estate", "lift-1", 3).await;
    hand.sign_in(&flint, PIN, "/bay/lift-1").await;
    hand.go_words("Start").await;
    let other = elsewhere(scene.screen, job).await;
    // By another port of the same machine, which a cookie that is kept to its site goes along with, and by another name.
    for name in [other.to_string(), format!("localhost:{}", other.port())] {
        hand.chrome.client.goto(&format!("http://{name}/")).await.unwrap();
        hand.go("button").await;
        hand.see("not sent from a page of this screen").await;
    }
    let stage = scene.stage(job, "mend").await;
    assert!(stage.steps.iter().all(|step| step.state() == StepState::Pending));
    // The same by the page of the screen is done: it was not refused for anything else.
    hand.open("/bay/lift-1").await;
    hand.go_words("Steps 1 to 3: as listed").await;
    assert!(scene.stage(job, "mend").await.steps.iter().all(|step| step.state() == StepState::Done));
}

#[tokio::test(flavor = "multi_thread")]
async fn at_a_screen_that_only_looks_nobody_signs_in_and_nothing_can_be_touched() {
    let scene = Scene::open(Role::Viewer).await;
    let Some(hand) = Hand::at(scene.screen, DESK).await else { return };
    let flint = scene.person("Flint", PIN).await;
    let job = scene.job("green estate", "lift-1", 3).await;
    hand.open("/bay/lift-1").await;
    hand.see("Mend it").await;
    let forms = "return document.querySelectorAll('main form, main button').length";
    assert_eq!(hand.ask(forms, &[]).await, 0);
    hand.open(&format!("/sign-in?person={flint}&to=/bay/lift-1")).await;
    hand.write("#pin", PIN).await;
    hand.go("button.main").await;
    hand.until("return document.querySelector('[role=alert]') !== null", &[]).await;
    hand.open("/bay/lift-1").await;
    assert_eq!(hand.ask(forms, &[]).await, 0);
    assert_eq!(scene.stage(job, "mend").await.state(), StageState::Ready);
    for path in ["/desk", "/parts"] {
        hand.open(path).await;
        hand.until("return location.pathname === '/sign-in'", &[]).await;
    }
}
