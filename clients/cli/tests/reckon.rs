//! `leadhand reckon` against a server that answers with what it was asked: figures first, in lines that fit a page.
#![allow(clippy::unwrap_used, reason = "test code")]

#[allow(dead_code, reason = "the shop and the board of the others")]
mod support;

use leadhand_sdk::v1;
use leadhand_sdk::v1::reckoner_service_server::{ReckonerService, ReckonerServiceServer};
use serde_json::Value;
use support::{leadhand, said};
use tokio::net::TcpListener;
use tokio_stream::wrappers::TcpListenerStream;
use tonic::{Code, Request, Response, Status};
use tonic_types::{ErrorDetails, StatusExt};

struct Echo;

async fn start() -> String {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let server = tonic::transport::Server::builder().add_service(ReckonerServiceServer::new(Echo));
    tokio::spawn(server.serve_with_incoming(TcpListenerStream::new(listener)));
    format!("http://{address}")
}

/// An answer that says back what was asked.
fn echo(asked: &[(&str, &str)]) -> v1::Answer {
    let input = |(name, typed): &(&str, &str)| v1::AnswerInput {
        name: (*name).to_owned(),
        typed: (*typed).to_owned(),
        taken: (*typed).to_owned(),
        standing: v1::FigureStanding::Given.into(),
        ..Default::default()
    };
    let figure = v1::AnswerFigure {
        name: "torque".into(),
        label: "Torque".into(),
        value: 58.942,
        unit: "N.m".into(),
        shown: "58.9".into(),
        text: "58.9 N.m".into(),
        standing: v1::FigureStanding::Reckoned.into(),
        ..Default::default()
    };
    v1::Answer {
        title: "Echo".into(),
        inputs: asked.iter().map(input).collect(),
        figures: vec![figure],
        formula: "what was asked".into(),
        deference: "The manufacturer's data, local codes and licensed practice come before this answer.".into(),
        ..Default::default()
    }
}

macro_rules! echoed {
    (also { $($more:tt)* } $($name:ident($request:ident) -> $answer:ident;)+) => {
        #[tonic::async_trait]
        impl ReckonerService for Echo {
            $($more)*
            $(async fn $name(&self, _: Request<v1::$request>) -> Result<Response<v1::$answer>, Status> {
                Err(Status::unimplemented("not in this test"))
            })+
        }
    };
}

echoed! {
    also {
        async fn reckon_torque(
            &self,
            request: Request<v1::ReckonTorqueRequest>,
        ) -> Result<Response<v1::ReckonTorqueResponse>, Status> {
            let asked = request.into_inner();
            let (friction, maker) = (asked.friction.unwrap_or_default(), asked.manufacturer.first().cloned());
            let maker = maker.map(|maker| format!("{}={}", maker.figure, maker.value)).unwrap_or_default();
            let said = [
                ("thread", asked.thread.as_str()), ("class", &asked.class), ("preload", &asked.preload),
                ("friction.thread", &friction.thread), ("friction.bearing", &friction.bearing), ("maker", &maker),
            ];
            Ok(Response::new(v1::ReckonTorqueResponse { answer: Some(echo(&said)) }))
        }

        async fn reckon_preload(
            &self,
            request: Request<v1::ReckonPreloadRequest>,
        ) -> Result<Response<v1::ReckonPreloadResponse>, Status> {
            let asked = request.into_inner();
            let said = [
                ("least", asked.friction_least.as_str()), ("most", &asked.friction_most),
                ("head_least", &asked.head_least), ("head_most", &asked.head_most),
            ];
            Ok(Response::new(v1::ReckonPreloadResponse { answer: Some(echo(&said)) }))
        }

        async fn reckon_fill(
            &self,
            request: Request<v1::ReckonFillRequest>,
        ) -> Result<Response<v1::ReckonFillResponse>, Status> {
            let asked = request.into_inner();
            if asked.target == "70%" {
                let mut details = ErrorDetails::with_error_info("OUT_OF_RANGE", "leadhand", std::collections::HashMap::<String, String>::new());
                let why = "target is 70 %, outside of 10 % to 60 %, the range of the data by volume; choose a strength";
                details.add_precondition_failure_violation("OUT_OF_RANGE", "target", why);
                return Err(Status::with_error_details(Code::FailedPrecondition, why, details));
            }
            let job = asked.job.to_string();
            let said = [("target", asked.target.as_str()), ("capacity", &asked.capacity), ("job", &job)];
            Ok(Response::new(v1::ReckonFillResponse { answer: Some(echo(&said)), fluid: asked.fluid.clone() }))
        }

        async fn reckon_flatness(
            &self,
            request: Request<v1::ReckonFlatnessRequest>,
        ) -> Result<Response<v1::ReckonFlatnessResponse>, Status> {
            let asked = request.into_inner();
            let points: Vec<String> =
                asked.points.iter().map(|point| format!("{}/{}/{}", point.x, point.y, point.z)).collect();
            let answer = Some(echo(&[("points", &points.join(" "))]));
            let picture = if asked.picture { "<svg/>" } else { "" }.to_owned();
            Ok(Response::new(v1::ReckonFlatnessResponse { answer, picture }))
        }
    }
    reckon_conversion(ReckonConversionRequest) -> ReckonConversionResponse;
    reckon_thread(ReckonThreadRequest) -> ReckonThreadResponse;
    reckon_strength(ReckonStrengthRequest) -> ReckonStrengthResponse;
    reckon_short_form(ReckonShortFormRequest) -> ReckonShortFormResponse;
    reckon_adapter(ReckonAdapterRequest) -> ReckonAdapterResponse;
    reckon_spanner(ReckonSpannerRequest) -> ReckonSpannerResponse;
    reckon_torque_then_angle(ReckonTorqueThenAngleRequest) -> ReckonTorqueThenAngleResponse;
    reckon_sequence(ReckonSequenceRequest) -> ReckonSequenceResponse;
    reckon_across_flats(ReckonAcrossFlatsRequest) -> ReckonAcrossFlatsResponse;
    reckon_threads_of_head(ReckonThreadsOfHeadRequest) -> ReckonThreadsOfHeadResponse;
    reckon_freezing_point(ReckonFreezingPointRequest) -> ReckonFreezingPointResponse;
    reckon_drain_and_refill(ReckonDrainAndRefillRequest) -> ReckonDrainAndRefillResponse;
    reckon_swap(ReckonSwapRequest) -> ReckonSwapResponse;
    reckon_expansion(ReckonExpansionRequest) -> ReckonExpansionResponse;
    reckon_packs(ReckonPacksRequest) -> ReckonPacksResponse;
    reckon_compression(ReckonCompressionRequest) -> ReckonCompressionResponse;
    reckon_leak_down(ReckonLeakDownRequest) -> ReckonLeakDownResponse;
    reckon_skim(ReckonSkimRequest) -> ReckonSkimResponse;
    reckon_compression_change(ReckonCompressionChangeRequest) -> ReckonCompressionChangeResponse;
    reckon_lift(ReckonLiftRequest) -> ReckonLiftResponse;
    reckon_star(ReckonStarRequest) -> ReckonStarResponse;
    reckon_recheck(ReckonRecheckRequest) -> ReckonRecheckResponse;
    reckon_run_out(ReckonRunOutRequest) -> ReckonRunOutResponse;
    reckon_durations(ReckonDurationsRequest) -> ReckonDurationsResponse;
    reckon_pert(ReckonPertRequest) -> ReckonPertResponse;
    reckon_reorder_point(ReckonReorderPointRequest) -> ReckonReorderPointResponse;
    reckon_order_quantity(ReckonOrderQuantityRequest) -> ReckonOrderQuantityResponse;
    reckon_earned_value(ReckonEarnedValueRequest) -> ReckonEarnedValueResponse;
    reckon_blade_fuse(ReckonBladeFuseRequest) -> ReckonBladeFuseResponse;
    reckon_rounded_head(ReckonRoundedHeadRequest) -> ReckonRoundedHeadResponse;
    reckon_battery_leads(ReckonBatteryLeadsRequest) -> ReckonBatteryLeadsResponse;
    reckon_tightenings(ReckonTighteningsRequest) -> ReckonTighteningsResponse;
    reckon_readings(ReckonReadingsRequest) -> ReckonReadingsResponse;
}

#[tokio::test]
async fn the_figure_stands_first_and_what_it_was_reckoned_from_below() {
    let server = start().await;
    let line = ["reckon", "torque", "M10", "10.9", "--friction", "0,12", "--manufacturer", "torque=58 Nm"];
    let output = leadhand(&server, &line).await;
    let (data, aside) = said(&output);
    assert_eq!((output.status.code(), aside.as_str()), (Some(0), ""), "{data}");
    assert!(data.starts_with("Torque: 58.9 N.m\n"), "{data}");
    let from = "from       thread M10; class 10.9; preload 75%; friction thread 0,12; friction\n           \
                bearing 0,12; maker torque=58 Nm\n";
    assert!(data.contains(from), "{data}");
    assert!(data.contains("\nfirst      The manufacturer's data, local codes"), "{data}");
    assert!(data.lines().all(|line| line.chars().count() <= 80), "{data}");
}

#[tokio::test]
async fn as_json_every_field_of_the_answer_is_there() {
    let line = ["--output", "json", "reckon", "fill", "--capacity", "7L", "--left", "2,5L", "--target", "-30C"];
    let output = leadhand(&start().await, &line).await;
    let value: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(value["answer"]["figures"][0]["value"], 58.942);
    assert_eq!(value["answer"]["figures"][0]["standing"], "reckoned");
    assert_eq!(value["answer"]["inputs"][0]["typed"], "-30C");
    assert_eq!(value["answer"]["figures"][0]["beside"], Value::Null);
}

#[tokio::test]
async fn a_refusal_is_one_sentence_and_what_is_missing_is_usage() {
    let server = start().await;
    let output = leadhand(&server, &["reckon", "fill", "--job", "7", "--target", "70%"]).await;
    let (data, aside) = said(&output);
    assert_eq!((data.as_str(), output.status.code()), ("", Some(1)));
    assert!(
        aside.starts_with("leadhand: target is 70 %, outside of 10 % to 60 %") && aside.lines().count() == 1,
        "{aside}"
    );
    let output = leadhand(&server, &["reckon", "torque", "M10", "10.9"]).await;
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).1.contains("--friction"), "{:?}", said(&output));
    let output = leadhand(&server, &["reckon", "fill", "--target", "50%"]).await;
    assert_eq!(output.status.code(), Some(2));
}

#[tokio::test]
async fn a_face_comes_from_a_file_and_its_picture_goes_into_one() {
    let folder = tempfile::tempdir().unwrap();
    let (file, svg) = (folder.path().join("head.csv"), folder.path().join("head.svg"));
    std::fs::write(&file, ";0;90,5\n0;28;9\n70;;18\n").unwrap();
    let (file, svg) = (file.to_str().unwrap(), svg.to_str().unwrap());
    let server = start().await;
    let output = leadhand(&server, &["reckon", "flatness", file, "--height", "um", "--svg", svg]).await;
    let (data, aside) = said(&output);
    assert_eq!(output.status.code(), Some(0), "{aside}");
    assert!(data.contains("0 mm/0 mm/28 um 90,5 mm/0 mm/9 um"), "{data}");
    assert!(data.contains("90,5 mm/70 mm/18 um"), "{data}");
    assert_eq!(std::fs::read_to_string(svg).unwrap(), "<svg/>");
    let output = leadhand(&server, &["reckon", "flatness", file]).await;
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).1.contains("--height um"), "a height without a unit is never guessed");
    // Three columns without a title: a list to whoever wrote it, and a grid by its looks.
    std::fs::write(file, "0,0,28\n90,0,9\n0,70,36\n").unwrap();
    let output = leadhand(&server, &["reckon", "flatness", file, "--height", "um"]).await;
    let (data, aside) = said(&output);
    assert_eq!((data.as_str(), output.status.code()), ("", Some(2)), "{aside}");
    assert!(aside.contains("--as list") && aside.lines().count() == 1, "{aside}");
    let output = leadhand(&server, &["reckon", "flatness", file, "--height", "um", "--as", "list"]).await;
    assert!(said(&output).0.contains("0 mm/0 mm/28 um 90 mm/0 mm/9 um"), "{output:?}");
}

/// What is typed is sent or refused, and never passed over.
#[tokio::test]
async fn friction_counts_where_it_is_asked_for() {
    let server = start().await;
    let preload = ["reckon", "preload", "M10", "10.9", "59Nm", "--least", "0.10", "--most", "0.16"];
    let head = [&preload[..], &["--head-least", "0.08", "--head-most", "0.12"]].concat();
    let output = leadhand(&server, &head).await;
    assert!(said(&output).0.contains("head least 0.08; head most 0.12"), "{output:?}");
    for stray in [["--friction", "0.12"], ["--head-friction", "0.12"]] {
        let output = leadhand(&server, &[&preload[..], &stray].concat()).await;
        assert_eq!(output.status.code(), Some(2), "{output:?}");
    }
    let output = leadhand(&server, &["reckon", "tightening", "7", "--friction", "0.12"]).await;
    assert_eq!(output.status.code(), Some(2), "{output:?}");
    assert!(said(&output).1.contains("--class"), "{output:?}");
}

/// Beside a job, whose own figures count, what is typed is refused.
#[tokio::test]
async fn nothing_that_is_typed_beside_a_job_is_dropped() {
    let server = start().await;
    for line in [
        &["compression", "--job", "11", "--wet", "2=11bar"][..],
        &["compression", "--job", "11", "--unit", "psi"],
        &["compression", "--job", "11", "--least", "9bar"],
        &["run-out", "--job", "11", "--hub", "0.05mm"],
        &["leak-down", "--job", "11", "--orifice", "1mm"],
        &["flatness", "--job", "11", "--height", "um"],
        &["flatness", "--job", "11", "--places", "in"],
    ] {
        let output = leadhand(&server, &[&["reckon"][..], line].concat()).await;
        let (data, aside) = said(&output);
        assert_eq!((data.as_str(), output.status.code()), ("", Some(2)), "{line:?}: {aside}");
        assert!(aside.contains("cannot be used with") && aside.contains(line[3]), "{line:?}: {aside}");
    }
}

/// A hint is about what was meant.
#[tokio::test]
async fn a_wrong_line_is_told_what_to_write() {
    let server = start().await;
    for (line, hint) in [
        (&["sequence", "2x5"][..], "write --grid 2x5"),
        (&["compression", "100psi", "100psi", "90psi", "95psi", "--wet", "9=100psi"], "no cylinder '9' among the 4"),
        (&["compression", "100psi", "100psi", "--wet", "100psi"], "such as 3=10.5"),
    ] {
        let output = leadhand(&server, &[&["reckon"][..], line].concat()).await;
        let (data, aside) = said(&output);
        assert_eq!((data.as_str(), output.status.code()), ("", Some(2)), "{line:?}: {aside}");
        assert!(aside.contains(hint), "{line:?}: {aside}");
    }
}

#[tokio::test]
async fn shortly_an_answer_has_no_formula() {
    let server = start().await;
    let line = ["reckon", "torque", "M10", "10.9", "--friction", "0.12", "--brief"];
    let (data, _) = said(&leadhand(&server, &line).await);
    assert!(data.starts_with("Torque: 58.9 N.m\n") && !data.contains("formula"), "{data}");
    assert!(data.ends_with("licensed practice come\n           before this answer.\n"), "{data}");
}

/// Every verb's help has an example that the command line itself takes.
#[tokio::test]
async fn every_verb_shows_an_example() {
    let server = start().await;
    let (all, _) = said(&leadhand(&server, &["reckon", "--help"]).await);
    let verbs = all.lines().skip_while(|line| !line.starts_with("Commands:")).skip(1);
    let verbs = verbs.take_while(|line| !line.is_empty()).filter(|line| !line.starts_with("   "));
    let verbs: Vec<&str> = verbs.filter_map(|line| line.split_whitespace().next()).collect();
    assert!(verbs.len() > 30, "{verbs:?}");
    for verb in verbs.into_iter().filter(|verb| *verb != "help") {
        let (help, _) = said(&leadhand(&server, &["reckon", verb, "--help"]).await);
        assert!(help.contains(&format!("leadhand reckon {verb} ")), "{verb}: {help}");
    }
}
