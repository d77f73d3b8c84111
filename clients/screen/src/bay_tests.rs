use super::*;
use crate::sessions::{Sessions, Signed};
use jiff::Timestamp;
use leadhand_sdk::Endpoint;
use leadhand_sdk::v1::Role;

fn visitor(signed: bool) -> Visitor {
    let sessions = Sessions::new("k".repeat(64), false);
    let nobody = sessions.visitor(&HeaderMap::new(), Timestamp::UNIX_EPOCH);
    if !signed {
        return nobody;
    }
    let client = Client::connect(Endpoint::new("http://127.0.0.1:1")).unwrap();
    let until = Timestamp::from_second(60).unwrap();
    sessions.begin(&nobody, Signed { client, name: "Flint".into(), role: Role::Technician, until })
}

/// A bay whose job has one step, which was done at 22:30 of the day before in UTC.
fn loaded(zone: &str) -> Loaded {
    let step = Step {
        step: 1,
        instruction: "Drain it".into(),
        state: StepState::Done.into(),
        done_by: "Wren".into(),
        done_at: Some(moment::to_wire("2024-07-01T22:30:00Z".parse().unwrap())),
        ..Step::default()
    };
    let stage =
        Stage { stage: "drain".into(), state: StageState::Active.into(), steps: vec![step], ..Stage::default() };
    let whole = GetJobResponse { stages: vec![stage], ..GetJobResponse::default() };
    Loaded {
        name: "Lift 1".into(),
        job: Some((BoardJob { job: 1, ..BoardJob::default() }, whole)),
        number: 7,
        now: "2024-07-01T22:45:10Z".parse().unwrap(),
        zone: TimeZone::get(zone).unwrap(),
    }
}

fn draw(loaded: &Loaded, visitor: &Visitor) -> String {
    let texts = Texts::of("en-GB");
    let asked = Asked { undo: None, anew: false };
    compose(&texts, "e1", visitor, "lift-1", &asked, loaded).render().unwrap()
}

#[tokio::test]
async fn a_page_says_as_of_when_it_is_true_and_is_loaded_anew_where_no_script_does_it() {
    let page = draw(&loaded("Europe/Berlin"), &visitor(false));
    // In summer two hours before UTC's (IANA time zone database).
    assert!(page.contains("<noscript>as of 2024-07-02 00:45:10</noscript>"), "{page}");
    assert!(page.contains("<noscript><meta http-equiv=\"refresh\" content=\"60\"></noscript>"), "{page}");
    assert!(page.contains("data-number=\"7\"") && page.contains("data-now=\"1719873910000\""), "{page}");
    assert!(page.contains("/assets/watch.js?e1"), "{page}");
}

#[tokio::test]
async fn times_are_told_in_the_shops_zone() {
    assert!(draw(&loaded("Europe/Berlin"), &visitor(false)).contains("00:30"));
    assert!(draw(&loaded("UTC"), &visitor(false)).contains("22:30"));
}

#[tokio::test]
async fn a_page_is_another_one_only_when_it_shows_anything_else() {
    let first = loaded("UTC");
    let mut later = Loaded { number: 8, now: "2024-07-01T22:46:00Z".parse().unwrap(), ..loaded("UTC") };
    later.job.as_mut().unwrap().1.number = 8;
    assert_eq!(first.mark(None), later.mark(None), "another bay's fact");
    assert_ne!(first.mark(None), first.mark(Some("Flint")), "somebody signed in");
    later.job.as_mut().unwrap().1.stages[0].steps[0].state = StepState::Pending.into();
    assert_ne!(first.mark(None), later.mark(None));
    assert_ne!(first.mark(None), Loaded { job: None, ..loaded("UTC") }.mark(None));
}

#[tokio::test]
async fn only_a_session_that_the_server_knows_no_more_is_over() {
    let mut error = Client::connect(Endpoint::new("nowhere")).err().unwrap();
    for code in (0..=16).map(Code::from_i32) {
        error.code = code;
        assert_eq!(is_over(&error, &visitor(true)), code == Code::Unauthenticated, "{code:?}");
        assert!(!is_over(&error, &visitor(false)), "the screen's own token: nobody's session");
    }
}
