//! What the reckoner refuses: what can't be read names its field (INVALID_ARGUMENT), and what lies beyond the data or
//! can't be reached is a precondition (FAILED_PRECONDITION); each in one sentence that says what to do.

use crate::shop::Shop;
use leadhand_proto::v1;
use leadhand_sdk::{Code, SdkError};

fn said(text: &str) -> String {
    text.to_owned()
}

/// Code, reason, first field and sentence.
fn told<T: std::fmt::Debug>(answer: Result<T, SdkError>) -> (Code, String, String, String) {
    let error = answer.unwrap_err();
    let field = error.fields.first().map(|fault| fault.field.clone()).unwrap_or_default();
    (error.code, error.reason.clone(), field, error.message)
}

#[track_caller]
fn refused<T: std::fmt::Debug>(answer: Result<T, SdkError>, code: Code, reason: &str, field: &str, part: &str) {
    let (got, why, where_, sentence) = told(answer);
    assert_eq!((got, why.as_str(), where_.as_str()), (code, reason, field), "{sentence}");
    assert!(sentence.contains(part) && !sentence.contains('\n'), "{sentence:?} does not say {part:?}");
}

fn adapter(torque: &str, wrench: &str) -> v1::ReckonAdapterRequest {
    v1::ReckonAdapterRequest {
        torque: said(torque),
        wrench: said(wrench),
        adapter: said("50 mm"),
        ..Default::default()
    }
}

fn fill(left: &str, target: &str) -> v1::ReckonFillRequest {
    v1::ReckonFillRequest { capacity: said("7 L"), left: said(left), target: said(target), ..Default::default() }
}

#[tokio::test(flavor = "multi_thread")]
async fn what_can_not_be_read_names_its_field() {
    let shop = Shop::open().await;
    let who = &shop.lead;
    let bad = Code::InvalidArgument;
    refused(who.reckon_adapter(adapter("", "400 mm")).await, bad, "UNREADABLE", "torque", "nothing was typed");
    refused(who.reckon_adapter(adapter("80", "400 mm")).await, bad, "WRONG_UNIT", "torque", "its unit is missing");
    refused(who.reckon_adapter(adapter("80 Nm", "400 L")).await, bad, "WRONG_UNIT", "wrench", "a unit of volume");
    refused(who.reckon_adapter(adapter("1,500 Nm", "400 mm")).await, bad, "UNREADABLE", "torque", "thousands");
    let gallons = who.reckon_fill(fill("1 gal", "50 %")).await;
    refused(gallons, bad, "WRONG_UNIT", "left", "American and the imperial");
    let thread = v1::ReckonThreadRequest { thread: said("M10x1.3") };
    refused(who.reckon_thread(thread).await, bad, "UNKNOWN", "thread", "known are 1.5, 1.25");
    let strength = v1::ReckonStrengthRequest { thread: said("M10"), class: said("11.9"), ..Default::default() };
    refused(who.reckon_strength(strength.clone()).await, bad, "UNKNOWN", "class", "8.8");
    let manufacturer = vec![v1::ManufacturersFigure { figure: said("torque"), value: said("50 Nm") }];
    let strength = v1::ReckonStrengthRequest { class: said("8.8"), manufacturer, ..strength };
    refused(who.reckon_strength(strength).await, bad, "UNKNOWN", "manufacturer[0].figure", "proof_load");
    let bolt = |name: &str| v1::LayoutBolt { name: said(name), x: said("0 mm"), y: said("0 mm") };
    let sequence = v1::ReckonSequenceRequest { bolts: vec![bolt("A1"), bolt("A1")] };
    refused(who.reckon_sequence(sequence).await, bad, "CONTRADICTION", "bolts[1].name", "a name of its own");
    let lift = v1::ReckonLiftRequest { load: said("10 kg"), ..Default::default() };
    refused(who.reckon_lift(lift).await, bad, "CONTRADICTION", "grip", "choose one");
    let heard = v1::ReckonLeakDownRequest { heard: vec![77], ..leak("80 psi", "60 psi") };
    refused(who.reckon_leak_down(heard).await, bad, "UNKNOWN", "heard[0]", "77");
    let cylinders = vec![v1::CylinderReading { name: said("1"), dry: said("12 Nm"), wet: String::new() }];
    let compression =
        v1::ReckonCompressionRequest { banks: vec![v1::CylinderBank { cylinders }], ..Default::default() };
    refused(who.reckon_compression(compression).await, bad, "WRONG_UNIT", "banks[0].cylinders[0].dry", "pressure");
    // A path for programs, and people's words in the sentence.
    let angles = v1::ReckonTorqueThenAngleRequest {
        thread: said("M10"),
        class: said("10.9"),
        seated: said("10 kN"),
        length: said("110 mm"),
        angles: vec![said("90"), said("ninety")],
        ..Default::default()
    };
    refused(who.reckon_torque_then_angle(angles.clone()).await, bad, "UNREADABLE", "angles[1]", "2nd angle: ");
    let friction = Some(v1::Friction { thread: said("0.12"), bearing: said("0.12") });
    let seated = v1::ReckonTorqueThenAngleRequest { friction, angles: vec![said("90")], ..angles };
    refused(who.reckon_torque_then_angle(seated).await, bad, "CONTRADICTION", "friction", "leave it out");
    let fuse = v1::ReckonBladeFuseRequest { rating: said("fifteen") };
    refused(who.reckon_blade_fuse(fuse).await, bad, "UNREADABLE", "rating", "15 A");
    shop.verified().await;
}

fn leak(supply: &str, cylinder: &str) -> v1::ReckonLeakDownRequest {
    v1::ReckonLeakDownRequest { supply: said(supply), cylinder: said(cylinder), ..Default::default() }
}

#[tokio::test(flavor = "multi_thread")]
async fn beyond_the_data_there_is_no_answer() {
    let shop = Shop::open().await;
    let who = &shop.lead;
    let beyond = Code::FailedPrecondition;
    // The volume data go from 10 to 60 % (CoolProp 8.0, AEG).
    let strength = v1::ReckonFreezingPointRequest { strength: said("70 %"), ..Default::default() };
    refused(who.reckon_freezing_point(strength).await, beyond, "OUT_OF_RANGE", "strength", "60 %");
    refused(who.reckon_fill(fill("2.5 L", "-80 °C")).await, beyond, "OUT_OF_RANGE", "target", "10 to 60 %");
    // 7 L with 2.5 L of water left in, filled with 50 % premix, tops out at 32.1 %: by the balance of glycol.
    let premix = v1::ReckonFillRequest { poured_strength: said("50 %"), ..fill("2.5 L", "50 %") };
    refused(who.reckon_fill(premix).await, beyond, "IMPOSSIBLE", "", "32.1 %");
    refused(
        who.reckon_leak_down(leak("80 psi", "81 psi")).await,
        beyond,
        "OUT_OF_RANGE",
        "cylinder",
        "exchange the two",
    );
    // The method's own limits of use: NIOSH 94-110, read in a copy.
    let lift = v1::ReckonLiftRequest {
        load: said("10 kg"),
        reach: said("30 cm"),
        from: said("30 cm"),
        to: said("90 cm"),
        grip: v1::Grip::Good.into(),
        lasting: v1::Lasting::Hour.into(),
        circumstances: vec![v1::LiftCircumstance::OneHanded.into()],
        ..Default::default()
    };
    refused(who.reckon_lift(lift).await, beyond, "NOT_COVERED", "circumstances", "use a hoist");
    // No preload is told that a bolt never has: M10 10.9 yields at 54 520 N (ISO 898-1, from copies).
    let preload = v1::ReckonPreloadRequest {
        thread: said("M10"),
        class: said("10.9"),
        torque: said("120 Nm"),
        friction_least: said("0.10"),
        friction_most: said("0.14"),
        ..Default::default()
    };
    refused(who.reckon_preload(preload).await, beyond, "IMPOSSIBLE", "", "yields at 54500 N");
    let star = v1::ReckonStarRequest { studs: 2 };
    refused(who.reckon_star(star).await, beyond, "OUT_OF_RANGE", "studs", "3 to 12");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_fill_of_a_job_needs_the_job_its_fluid_and_a_drain() {
    let shop = Shop::open().await;
    let who = &shop.lead;
    let of_job = |job: i64, fluid: &str| v1::ReckonFillRequest {
        job,
        fluid: said(fluid),
        target: said("50 %"),
        ..Default::default()
    };
    let unknown = who.reckon_fill(of_job(77, "")).await;
    refused(unknown, Code::NotFound, "NOT_FOUND", "", "77");
    refused(who.reckon_fill(of_job(0, "coolant")).await, Code::InvalidArgument, "INVALID_FIELD", "job", "which job");
    let blank = shop.blank_job(&["strip"]).await;
    refused(who.reckon_fill(of_job(blank, "")).await, Code::InvalidArgument, "CONTRADICTION", "fluid", "give capacity");
    let job = shop.job("head-gasket-20", "silver coupe").await;
    let dry = who.reckon_fill(of_job(job, "coolant")).await;
    refused(dry, Code::InvalidArgument, "CONTRADICTION", "left", "leadhand fluid out");
    shop.verified().await;
}
