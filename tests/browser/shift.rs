//! Whoever signs in at a bay stays signed in for the shift; what is answered for by name is shown anew.

use crate::chrome::TABLET;
use crate::hand::Hand;
use crate::scene::Scene;
use leadhand_sdk::v1::{self, PositionStanding, Role};
use leadhand_sdk::{moment, new_write};
use prost_types::value::Kind;

const TEMPLATE: &str = include_str!("../../deploy/demo-shop/templates/inlet-gasket.toml");
const PIN: &str = "6194027";
const BAY: &str = "/bay/lift-1";
const HOUR: f64 = 3600.0;

/// A time zone in which it is eight in the morning now. POSIX counts westwards, so the sign is the other way round.
fn morning() -> String {
    let hour = i64::from(moment::now().to_zoned_datetime(jiff::tz::TimeZone::UTC).hour());
    // Zones go from 12 hours behind to 14 before.
    match if hour <= 20 { 8 - hour } else { 32 - hour } {
        0 => "Etc/GMT".to_owned(),
        east @ 1.. => format!("Etc/GMT-{east}"),
        west => format!("Etc/GMT+{}", -west),
    }
}

/// A lead signed in at the tablet of a bay, with a strip before it.
async fn at_the_tablet(scene: &Scene) -> Option<(Hand, String, i64)> {
    let hand = Hand::at(scene.screen, TABLET).await?;
    scene.publish(&[TEMPLATE]).await;
    let heron = scene.person_as("Heron", PIN, Role::Lead, &["engine"]).await;
    let job = scene.job_from("inlet-gasket", "silver coupe", "lift-1", 0).await;
    hand.sign_in(&heron, PIN, BAY).await;
    Some((hand, heron, job))
}

/// What only a lead may let pass: nobody felt whether the engine is cold.
async fn refused(hand: &Hand) {
    hand.go_words("Start").await;
    hand.go_words("Airbox with its hose").await;
    hand.go("button.main").await;
    hand.until("return document.querySelector('[role=alert]') !== null", &[]).await;
    hand.go_words("A lead overrules it").await;
    hand.see("What was refused").await;
}

/// For how many seconds the server lets the one session of the shop last.
async fn lasts(scene: &Scene) -> f64 {
    let asked = v1::ReadJournalRequest { page_size: 1000, ..Default::default() };
    let facts = scene.lead.read_journal(asked).await.unwrap().facts;
    let fact = facts.iter().find(|fact| fact.kind == "signed_in").unwrap();
    let Some(Kind::StringValue(until)) = &fact.body.as_ref().unwrap().fields["expires_at"].kind else {
        panic!("{fact:?}")
    };
    let recorded = fact.recorded_at.as_ref().and_then(moment::from_wire).unwrap();
    until.parse::<jiff::Timestamp>().unwrap().duration_since(recorded).as_secs_f64()
}

#[tokio::test(flavor = "multi_thread")]
async fn at_a_bay_a_lead_stays_signed_in_all_day_and_shows_a_pin_for_a_leads_word() {
    let zone = morning();
    let scene = Scene::open_in(Role::Technician, &zone).await;
    let all_day = |weekday| {
        let hours = vec![v1::DayHours { from_minute: 0, until_minute: 1440 }];
        v1::WeekdayHours { weekday, hours }
    };
    let week = (1..=7).map(all_day).collect();
    let from_day = moment::now().in_tz(&zone).unwrap().date().to_string();
    let hours = v1::SetHoursRequest { write: Some(new_write()), from_day, week };
    scene.lead.set_hours(hours).await.unwrap();
    let Some((hand, heron, job)) = at_the_tablet(&scene).await else { return };
    // From eight on the day has fifteen whole hours.
    assert!(lasts(&scene).await >= 15.0 * HOUR);
    refused(&hand).await;
    // Heron is signed in, and the tablet lies open all day: it asks who says so.
    hand.go(&format!("button[name=person][value='{heron}']")).await;
    hand.touch_words("I looked at it, it is safe to go on").await;
    hand.write("#pin", "1111111").await;
    hand.go("button.main").await;
    assert_eq!(scene.position(job, "airbox").await.standing(), PositionStanding::NotYet);
    hand.open(&format!("/overrule?person={heron}")).await;
    hand.touch_words("I looked at it, it is safe to go on").await;
    hand.write("#pin", PIN).await;
    hand.go("button.main").await;
    hand.see("Heron overruled it.").await;
    assert_eq!(scene.position(job, "airbox").await.standing(), PositionStanding::Off);
    // The word was for that one time, and the bay is signed in as before; elsewhere the session leads nobody.
    hand.open(BAY).await;
    hand.see("Heron").await;
    assert_eq!(hand.ask("return document.querySelectorAll('main button').length > 0", &[]).await, true);
    hand.open("/desk").await;
    assert!(!hand.sees("Open a job").await, "a tablet that lies open all day is no lead's desk");
}

/// Where the shop has no hours today a session is as short as one that proves who leads.
#[tokio::test(flavor = "multi_thread")]
async fn within_the_hour_that_proves_a_lead_nobody_is_asked_again() {
    let scene = Scene::open(Role::Technician).await;
    let Some((hand, _, job)) = at_the_tablet(&scene).await else { return };
    let lasting = lasts(&scene).await;
    assert!((0.9 * HOUR..=HOUR + 1.0).contains(&lasting), "{lasting} s");
    refused(&hand).await;
    assert_eq!(hand.ask("return document.querySelector('#pin') === null", &[]).await, true);
    hand.touch_words("I looked at it, it is safe to go on").await;
    hand.go("button.main").await;
    assert_eq!(scene.position(job, "airbox").await.standing(), PositionStanding::Off);
}
