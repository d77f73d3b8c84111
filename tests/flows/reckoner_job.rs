//! The reckoner at a job: its tightenings, its readings and its fill, out of its own books. Common practice, on invented
//! vehicles.

use crate::shop::{Shop, finish, start};
use leadhand_proto::v1;
use leadhand_sdk::{Client, Code, new_write};

const ENGINE_CHECK: &str = include_str!("../../deploy/demo-shop/templates/engine-check.toml");

fn figure<'a>(answer: &'a v1::Answer, name: &str) -> &'a v1::AnswerFigure {
    answer.figures.iter().find(|figure| figure.name == name).unwrap_or_else(|| panic!("no {name} in {answer:#?}"))
}

fn standing(answer: &v1::Answer, name: &str) -> v1::FigureStanding {
    answer.inputs.iter().find(|input| input.name == name).unwrap_or_else(|| panic!("no {name}: {answer:#?}")).standing()
}

/// 30 N.m, then twice 90 degrees, as the template has it; through an adapter of 50 mm on a wrench of 400 mm in line the
/// setting is 30 × 400 / 450 N.m: equilibrium of moments.
#[tokio::test(flavor = "multi_thread")]
async fn the_tightenings_of_a_job_are_told_in_both_units_and_through_an_adapter() {
    let shop = Shop::open().await;
    let viewer = shop.token(v1::Role::Viewer, "wall screen").await;
    let job = shop.job("head-gasket-20", "silver coupe").await;
    let asked = v1::ReckonTighteningsRequest { job, ..Default::default() };
    let all = viewer.reckon_tightenings(asked.clone()).await.unwrap();
    assert!(all.tightenings.len() > 5 && all.deference.contains("manufacturer's data"));
    let plain = |one: &v1::JobTightening| one.stages.iter().all(|stage| stage.setting.is_none());
    assert!(all.tightenings.iter().all(|one| plain(one) && one.reckoned.is_none()));
    let head = all.tightenings.iter().find(|one| one.stages.len() == 3).expect("the head's bolts");
    let asked = v1::ReckonTighteningsRequest {
        position: head.position.clone(),
        wrench: "400 mm".into(),
        adapter: "50 mm".into(),
        class: "10.9".into(),
        ..asked
    };
    let found = viewer.reckon_tightenings(asked).await.unwrap().tightenings;
    let [head] = found.as_slice() else { panic!("{found:#?}") };
    // 30 / 1.355 818 = 22.1: NIST SP 811, Appendix B.
    let told: Vec<_> = head.stages.iter().map(|stage| (stage.text.as_str(), stage.beside.as_str())).collect();
    assert_eq!(told, [("30 N.m", "22.1 lbf.ft"), ("90 deg", ""), ("90 deg", "")]);
    let setting = head.stages[0].setting.as_ref().unwrap();
    assert_eq!(figure(setting, "setting").text, "26.7 N.m");
    assert_eq!(standing(setting, "torque"), v1::FigureStanding::Manufacturer);
    assert!(setting.cautions.iter().any(|caution| caution.text.contains("middle of the grip")), "{setting:#?}");
    assert!(head.stages[1].setting.is_none());
    let book = viewer.get_strip(v1::GetStripRequest { job, ..Default::default() }).await.unwrap();
    let own = book.positions.iter().find(|one| one.position == head.position).unwrap();
    assert_eq!(own.tighten_beside, ["22.1 lbf.ft", "", ""]);
    shop.verified().await;
}

/// The template's figure stands in the place of what is reckoned, and both show.
#[tokio::test(flavor = "multi_thread")]
async fn the_manufacturers_torque_comes_first_and_what_is_reckoned_stands_beside_it() {
    let shop = Shop::open().await;
    let job = shop.job("front-brakes", "blue estate").await;
    let asked = v1::ReckonTighteningsRequest { job, class: "10.9".into(), ..Default::default() };
    let found = shop.lead.reckon_tightenings(asked).await.unwrap().tightenings;
    let reckoned: Vec<_> = found.iter().filter_map(|one| Some((one, one.reckoned.as_ref()?))).collect();
    assert!(!reckoned.is_empty(), "{found:#?}");
    for (one, answer) in reckoned {
        let torque = figure(answer, "torque");
        assert_eq!(torque.standing(), v1::FigureStanding::Manufacturer, "{torque:?}");
        let own: f64 = one.stages.last().unwrap().text.trim_end_matches(" N.m").parse().unwrap();
        assert!((torque.value - own).abs() < 1e-9 && torque.reckoned.is_some_and(|value| value > 0.0), "{torque:?}");
        assert_eq!(standing(answer, "thread"), v1::FigureStanding::Job);
        // Nobody said how tight and how slippery: what is taken is told, with why. Common practice.
        for name in ["preload", "friction.thread", "friction.bearing"] {
            assert_eq!(standing(answer, name), v1::FigureStanding::Usual);
        }
        let why = |input: &v1::AnswerInput| input.name != "friction.bearing" || input.why.contains("common practice");
        assert!(answer.inputs.iter().all(why), "{answer:#?}");
        assert!(!answer.cautions.is_empty(), "{answer:#?}");
    }
    // What has no thread that is known says why nothing is reckoned.
    assert!(found.iter().all(|one| one.reckoned.is_some() == one.unreckoned.is_empty()), "{found:#?}");
    shop.verified().await;
}

/// An unknown stage or job has no tightenings, which is another answer than a stage that has none.
#[tokio::test(flavor = "multi_thread")]
async fn a_stage_or_a_job_that_is_not_there_is_refused_by_its_name() {
    let shop = Shop::open().await;
    let job = shop.job("front-brakes", "blue estate").await;
    let asked = |job: i64, stage: &str| v1::ReckonTighteningsRequest { job, stage: stage.into(), ..Default::default() };
    let refused = shop.lead.reckon_tightenings(asked(job, "nowhere")).await.unwrap_err();
    assert_eq!(refused.code, Code::NotFound, "{refused}");
    assert!(refused.message.contains("'nowhere' of job '1'"), "{refused}");
    let refused = shop.lead.reckon_tightenings(asked(77, "")).await.unwrap_err();
    assert!(refused.code == Code::NotFound && refused.message.contains("77"), "{refused}");
    let first = shop.whole_job(job).await.stages[0].stage.clone();
    assert!(shop.lead.reckon_tightenings(asked(job, &first)).await.unwrap().tightenings.is_empty());
    let refused = shop.lead.reckon_readings(v1::ReckonReadingsRequest { job: 77, ..Default::default() }).await;
    assert_eq!(refused.unwrap_err().code, Code::NotFound);
    // What counts only beside a class is not passed over.
    let slippery = v1::ReckonTighteningsRequest { preload: "60 %".into(), ..asked(job, "") };
    let refused = shop.lead.reckon_tightenings(slippery).await.unwrap_err();
    assert_eq!(refused.fields.first().map(|fault| fault.field.as_str()), Some("class"), "{refused}");
    shop.verified().await;
}

async fn record(who: &Client, job: i64, reading: &str, figures: &[&str]) {
    let figures = figures.iter().map(|figure| (*figure).to_owned()).collect();
    let write = Some(new_write());
    let asked = v1::RecordReadingRequest { write, job, reading: reading.into(), figures, ..Default::default() };
    who.record_reading(asked).await.unwrap();
}

fn points(labels: &[&str]) -> v1::ReadingDetail {
    v1::ReadingDetail {
        kind: v1::ReadingKind::Flatness.into(),
        unit: "um".into(),
        labels: labels.iter().map(|label| (*label).to_owned()).collect(),
        high: "50".into(),
        ..Default::default()
    }
}

async fn add(who: &Client, job: i64, reading: &str, detail: v1::ReadingDetail, figures: &[&str]) {
    let asked = v1::AddReadingRequest {
        write: Some(new_write()),
        job,
        stage: "measure".into(),
        reading: reading.into(),
        what: reading.into(),
        detail: Some(detail),
        figures: figures.iter().map(|figure| (*figure).to_owned()).collect(),
        ..Default::default()
    };
    who.add_reading(asked).await.unwrap();
}

async fn measured() -> (Shop, Client, i64) {
    let shop = Shop::open().await;
    let publish = v1::PublishTemplateRequest { write: Some(new_write()), source: ENGINE_CHECK.into() };
    shop.lead.publish_template(publish).await.unwrap();
    let larch = shop.technician("Larch", &["engine"]).await;
    let job = shop.job("engine-check", "silver coupe").await;
    shop.assign(job, "floor-1").await.unwrap();
    start(&larch, job, "look").await.unwrap();
    finish(&larch, job, "look").await.unwrap();
    start(&larch, job, "measure").await.unwrap();
    (shop, larch, job)
}

/// Two low cylinders side by side: the gasket between them, as usually taught; low when wet as well: not the rings.
#[tokio::test(flavor = "multi_thread")]
async fn the_readings_of_a_job_are_judged_by_its_own_limits() {
    let (shop, larch, job) = measured().await;
    record(&larch, job, "compression", &["12.4", "6.0", "6.2", "12.2"]).await;
    let wet = v1::ReadingDetail {
        kind: v1::ReadingKind::Compression.into(),
        unit: "bar".into(),
        labels: vec!["2".into(), "3".into()],
        ..Default::default()
    };
    add(&larch, job, "compression-wet", wet, &["6.1", "9.0"]).await;
    record(&larch, job, "leak-down", &["600", "540", "600", "300", "600", "552", "600", "546"]).await;
    let asked = v1::ReckonReadingsRequest { job, ..Default::default() };
    let all = larch.reckon_readings(asked.clone()).await.unwrap().readings;
    let of = |key: &str| all.iter().filter(|one| one.reading == key).collect::<Vec<_>>();
    assert!(of("compression-wet").is_empty(), "it is judged with the dry one: {all:#?}");
    let compression = of("compression")[0].answer.as_ref().unwrap();
    assert!(all.iter().all(|one| !one.answer.as_ref().unwrap().cautions.is_empty()), "{all:#?}");
    assert_eq!(standing(compression, "least"), v1::FigureStanding::Job);
    assert_eq!(standing(compression, "cylinder 2, dry"), v1::FigureStanding::Job);
    let says = |answer: &v1::Answer, part: &str| answer.conclusions.iter().any(|one| one.text.contains(part));
    assert!(says(compression, "Cylinders 2 and 3 may stand side by side"), "{compression:#?}");
    assert!(says(compression, "Cylinder 2 stays low when wet") && says(compression, "Cylinder 3 rises when wet"));
    // Asked for by its key, the wet one is told with the dry one; the dry one that is missing is named.
    let wet = v1::ReckonReadingsRequest { reading: "compression-wet".into(), ..asked.clone() };
    let told = larch.reckon_readings(wet).await.unwrap().readings;
    assert!(matches!(told.as_slice(), [only] if only.reading == "compression" && only.answer.is_some()), "{told:#?}");
    let alone = v1::ReadingDetail {
        kind: v1::ReadingKind::Compression.into(),
        unit: "bar".into(),
        labels: vec!["1".into(), "2".into()],
        ..Default::default()
    };
    add(&larch, job, "comp-wet", alone, &["9.0", "9.1"]).await;
    let wet = v1::ReckonReadingsRequest { reading: "comp-wet".into(), ..asked.clone() };
    let told = larch.reckon_readings(wet).await.unwrap().readings;
    assert!(told[0].unjudged.contains("the dry reading comp is missing") && told[0].answer.is_none(), "{told:#?}");
    let leaks = of("leak-down");
    assert_eq!(leaks.iter().map(|one| one.of.as_str()).collect::<Vec<_>>(), ["1", "2", "3", "4"]);
    // 100 (600 - 300) / 600 = 50 %.
    assert_eq!(figure(leaks[1].answer.as_ref().unwrap(), "leak").text, "50 %");
    let tailpipe = v1::HeardOf { cylinder: "2".into(), at: v1::HeardAt::Tailpipe.into() };
    let listened = v1::ReckonReadingsRequest { heard: vec![tailpipe], ..asked.clone() };
    let told = larch.reckon_readings(listened).await.unwrap().readings;
    let heard: Vec<&str> = told
        .iter()
        .filter(|one| one.answer.as_ref().is_some_and(|answer| says(answer, "an exhaust valve")))
        .map(|one| one.of.as_str())
        .collect();
    assert_eq!(heard, ["2"]);
    let parted = v1::ReckonReadingsRequest { reading: "compression".into(), banks: vec![2, 2], ..asked.clone() };
    let told = larch.reckon_readings(parted).await.unwrap().readings;
    assert!(!says(told[0].answer.as_ref().unwrap(), "side by side"), "2 ends one bank, 3 begins the other: {told:#?}");
    let wrong = v1::ReckonReadingsRequest { banks: vec![4, -1], ..asked.clone() };
    assert_eq!(larch.reckon_readings(wrong).await.unwrap_err().fields[0].field, "banks[1]");
    let one = v1::ReckonReadingsRequest { kind: v1::ReadingKind::LeakDown.into(), ..asked };
    assert_eq!(larch.reckon_readings(one).await.unwrap().readings.len(), 4);
    let listed = larch.get_readings(v1::GetReadingsRequest { job }).await.unwrap().readings;
    let told = |key: &str| &listed.iter().find(|one| one.reading == key).unwrap().conclusions;
    assert!(told("compression").iter().any(|one| one.text.contains("side by side")));
    assert!(told("leak-down").iter().any(|one| one.text.starts_with("2: It leaks more than the 20 %")));
    let sheet = larch.get_hand_over_sheet(v1::GetHandOverSheetRequest { job }).await.unwrap();
    assert!(sheet.readings.iter().any(|one| one.reading == "compression" && !one.conclusions.is_empty()));
    shop.verified().await;
}

/// A twist of 10 µm at one corner of a square: the minimum zone is half of it, since the plane tilts after it; the
/// range is all of it. By geometry.
#[tokio::test(flavor = "multi_thread")]
async fn a_face_whose_points_say_where_they_are_is_judged_exactly_and_drawn() {
    let (shop, larch, job) = measured().await;
    add(&larch, job, "face", points(&["0_0", "90_0", "0_90", "90_90"]), &["0", "0", "0", "10"]).await;
    add(&larch, job, "elsewhere", points(&["left", "right", "middle"]), &["0", "3", "4"]).await;
    let asked = v1::ReckonReadingsRequest { job, picture: true, ..Default::default() };
    let all = larch.reckon_readings(asked).await.unwrap().readings;
    let face = all.iter().find(|one| one.reading == "face").unwrap();
    let answer = face.answer.as_ref().unwrap();
    assert!((figure(answer, "minimum_zone").value - 0.005).abs() < 1e-12, "{answer:#?}");
    assert!((figure(answer, "raw_range").value - 0.010).abs() < 1e-12);
    assert!(face.picture.starts_with("<svg "));
    let elsewhere = all.iter().find(|one| one.reading == "elsewhere").unwrap();
    assert!(elsewhere.answer.is_none() && elsewhere.unjudged.contains("such as 90_70"), "{elsewhere:?}");
    shop.verified().await;
}

/// Capacity less what came out is what is left; then the balance of glycol: (0.5 × capacity − 0) of concentrate.
#[tokio::test(flavor = "multi_thread")]
async fn a_fill_goes_by_what_the_job_drained() {
    let shop = Shop::open().await;
    let job = shop.job("head-gasket-20", "silver coupe").await;
    let fluids = shop.whole_job(job).await.fluids;
    let coolant = fluids.iter().find(|fluid| fluid.fluid == "coolant").unwrap();
    let expected = coolant.expected_ml;
    shop.fluid(job, "coolant", expected - 1_500, 0).await;
    let unknown = v1::ReckonFillRequest { job, target: "50 %".into(), ..Default::default() };
    // Nobody flushed it, as far as the job says, so what is left is not taken for water.
    let refused = shop.lead.reckon_fill(unknown.clone()).await.unwrap_err();
    assert!(refused.message.contains("nobody says how strong"), "{refused}");
    let asked = v1::ReckonFillRequest { left_strength: "0 %".into(), ..unknown };
    let answer = shop.lead.reckon_fill(asked.clone()).await.unwrap().answer.unwrap();
    #[allow(clippy::cast_precision_loss, reason = "a few litres")]
    let capacity = expected as f64 / 1e3;
    assert!((figure(&answer, "add").value - capacity / 2.0).abs() < 1e-9, "{answer:#?}");
    assert!((figure(&answer, "water").value - (capacity / 2.0 - 1.5)).abs() < 1e-9);
    for name in ["capacity", "left"] {
        assert_eq!(standing(&answer, name), v1::FigureStanding::Job);
    }
    // What is typed beside the job counts: of 9 L what did not come out is left in.
    let typed = v1::ReckonFillRequest { capacity: "9 L".into(), ..asked.clone() };
    let answer = shop.lead.reckon_fill(typed).await.unwrap().answer.unwrap();
    assert_eq!([standing(&answer, "capacity"), standing(&answer, "left")], GIVEN_AND_JOB);
    assert!((figure(&answer, "add").value - 4.5).abs() < 1e-9, "{answer:#?}");
    assert!((figure(&answer, "water").value - (capacity - 1.5 - 4.5)).abs() < 1e-9);
    let typed = v1::ReckonFillRequest { left: "1 L".into(), ..asked };
    let answer = shop.lead.reckon_fill(typed).await.unwrap().answer.unwrap();
    assert_eq!([standing(&answer, "left"), standing(&answer, "capacity")], GIVEN_AND_JOB);
    assert!((figure(&answer, "water").value - (capacity / 2.0 - 1.0)).abs() < 1e-9);
    shop.verified().await;
}

const GIVEN_AND_JOB: [v1::FigureStanding; 2] = [v1::FigureStanding::Given, v1::FigureStanding::Job];

/// What is typed twice was meant once, and nobody knows which.
#[tokio::test(flavor = "multi_thread")]
async fn a_wet_figure_is_given_once_and_what_is_heard_has_its_cylinder() {
    let shop = Shop::open().await;
    for (line, why) in [
        (
            &["compression", "12", "8", "--unit", "bar", "--wet", "2=13", "--wet", "2=14"][..],
            "cylinder 2 has a wet figure",
        ),
        (&["leak-down", "80psi", "60psi", "--heard", "2=tailpipe"][..], "leave out '2='"),
        (&["leak-down", "80psi", "60psi", "--heard", "boot"][..], "not one of throttle"),
    ] {
        let output = kit::leadhand(shop.url(), shop.secret(), &[&["reckon"][..], line].concat()).await.unwrap();
        let aside = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.code() == Some(2) && aside.contains(why), "{line:?}: {aside}");
    }
}
