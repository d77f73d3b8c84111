//! What the reckoner is asked in the samples.

use super::{Sample, Who, by};
use leadhand_proto::v1;
use leadhand_sdk::new_write;
use prost::{Message, Name};

fn one<M: Message + Name>(message: &M) -> Sample {
    by(Who::Lead, message)
}

fn said(text: &str) -> String {
    text.to_owned()
}

fn friction() -> Option<v1::Friction> {
    Some(v1::Friction { thread: said("0,12"), bearing: said("0.12") })
}

fn bearing() -> Option<v1::Bearing> {
    Some(v1::Bearing { face: said("14.6 mm"), hole: said("11 mm") })
}

fn maker(figure: &str, value: &str) -> Vec<v1::ManufacturersFigure> {
    vec![v1::ManufacturersFigure { figure: said(figure), value: said(value) }]
}

/// A sample of each request, with as many fields said as go together.
pub fn samples(job: i64) -> Vec<Sample> {
    [fasteners(), coolant(job), fills(job), engine(), shop(), of_job(job)].into_iter().flatten().collect()
}

fn fasteners() -> Vec<Sample> {
    let (thread, class) = (|| said("M10"), || said("10.9"));
    vec![
        one(&v1::ReckonConversionRequest { amount: said("70 lbf.ft"), into: said("N.m") }),
        one(&v1::ReckonThreadRequest { thread: thread() }),
        one(&v1::ReckonStrengthRequest {
            thread: thread(),
            class: class(),
            manufacturer: maker("proof_load", "48 kN"),
        }),
        one(&v1::ReckonTorqueRequest {
            thread: thread(),
            class: class(),
            preload: said("75 %"),
            friction: friction(),
            bearing: bearing(),
            manufacturer: maker("torque", "58 Nm"),
        }),
        one(&v1::ReckonPreloadRequest {
            thread: thread(),
            class: class(),
            torque: said("59 Nm"),
            friction_least: said("0.10"),
            friction_most: said("0.16"),
            head_least: said("0.08"),
            head_most: said("0.12"),
            wrench: said("4 %"),
            bearing: bearing(),
        }),
        one(&v1::ReckonShortFormRequest {
            thread: thread(),
            preload: said("36 kN"),
            k: said("0.2"),
            class: class(),
            friction: friction(),
            bearing: bearing(),
            manufacturer: maker("torque", "58 Nm"),
        }),
        one(&v1::ReckonAdapterRequest {
            torque: said("80 Nm"),
            wrench: said("400 mm"),
            adapter: said("50 mm"),
            angle: said("45°"),
        }),
        one(&v1::ReckonSpannerRequest { torque: said("60 Nm"), length: said("350 mm"), most: said("250 N") }),
        one(&v1::ReckonTorqueThenAngleRequest {
            thread: said("M10x1.25"),
            class: class(),
            seated: said("30 Nm"),
            friction: friction(),
            bearing: bearing(),
            angles: vec![said("90°")],
            length: said("110 mm"),
            modulus: said("205 GPa"),
            joint: said("5"),
        }),
        one(&v1::ReckonSequenceRequest { bolts: vec![bolt()] }),
        one(&v1::ReckonAcrossFlatsRequest { thread: said("M8"), manufacturer: maker("hexagon", "13 mm") }),
        one(&v1::ReckonThreadsOfHeadRequest { width: said("12 mm") }),
    ]
}

fn bolt() -> v1::LayoutBolt {
    v1::LayoutBolt { name: said("A1"), x: said("0 mm"), y: said("90 mm") }
}

fn coolant(job: i64) -> Vec<Sample> {
    let (capacity, half) = (|| said("7 L"), || said("50 %"));
    vec![
        one(&v1::ReckonFreezingPointRequest { strength: half(), basis: 1, manufacturer: maker("freezes", "-36 °C") }),
        one(&v1::ReckonFillRequest {
            capacity: capacity(),
            left: said("2,5 L"),
            left_strength: said("0 %"),
            target: said("-30 °C"),
            margin: said("3"),
            poured_strength: said("100 %"),
            job,
            fluid: said("coolant"),
            item: said("coolant-concentrate"),
        }),
        one(&v1::ReckonDrainAndRefillRequest {
            capacity: capacity(),
            drained: said("4.5 L"),
            now: said("30 %"),
            filled: half(),
            target: said("48 %"),
            tolerance: said("1 %"),
        }),
        one(&v1::ReckonSwapRequest { capacity: capacity(), now: said("35 %"), target: half(), filled: said("100 %") }),
        one(&v1::ReckonExpansionRequest {
            volume: capacity(),
            strength: half(),
            cold: said("20 °C"),
            hot: said("90 °C"),
        }),
        one(&v1::ReckonPacksRequest {
            needed: said("3.5 L"),
            packs: vec![v1::PackSize { size: said("1 L"), on_hand: Some(9) }],
        }),
    ]
}

/// Oil goes in as it is, and what is asked of a mixture is refused for it.
fn fills(job: i64) -> Vec<Sample> {
    let fill = |write| v1::ReserveFillRequest {
        write: Some(write),
        job,
        fluid: said("oil"),
        item: said("engine-oil-5w30"),
        capacity: said("4.5 L"),
        left: said("0.5 L"),
        stage: said("strip"),
        packs: vec![v1::PackSize { size: said("1 L"), on_hand: Some(9) }],
        ..Default::default()
    };
    let mixed = v1::ReserveFillRequest {
        left_strength: said("0 %"),
        target: said("-30 °C"),
        margin: said("3"),
        poured_strength: said("100 %"),
        ..fill(new_write())
    };
    vec![one(&fill(new_write())), one(&mixed)]
}

fn engine() -> Vec<Sample> {
    let cylinder =
        |name: &str, dry: &str| v1::CylinderReading { name: said(name), dry: said(dry), wet: said("12.5 bar") };
    let point = |x: &str, y: &str, z: &str| v1::SurfacePoint { x: said(x), y: said(y), z: said(z) };
    vec![
        one(&v1::ReckonCompressionRequest {
            banks: vec![v1::CylinderBank { cylinders: vec![cylinder("1", "12.4 bar"), cylinder("2", "8 bar")] }],
            ignition: 1,
            spread: said("20 %"),
            least: said("9 bar"),
            rise: said("10 %"),
        }),
        one(&v1::ReckonLeakDownRequest {
            supply: said("80 psi"),
            cylinder: said("60 psi"),
            orifice: said("1 mm"),
            sound: said("20 %"),
            heard: vec![2],
        }),
        one(&v1::ReckonFlatnessRequest {
            points: vec![
                point("0 mm", "0 mm", "28 um"),
                point("90 mm", "0 mm", "9 um"),
                point("0 mm", "70 mm", "36 um"),
                point("90 mm", "70 mm", "0,018 mm"),
            ],
            limit: said("0,05 mm"),
            picture: true,
        }),
        one(&v1::ReckonSkimRequest { height: said("132.9 mm"), least_height: said("132.7 mm"), cut: said("0.1 mm") }),
        one(&v1::ReckonCompressionChangeRequest {
            bore: said("86 mm"),
            stroke: said("86 mm"),
            ratio: said("10"),
            cut: said("0.2 mm"),
            chamber: said("80 %"),
            gasket: said("-0.1 mm"),
        }),
    ]
}

fn shop() -> Vec<Sample> {
    vec![
        one(&v1::ReckonLiftRequest {
            load: said("26 lb"),
            reach: said("10 in"),
            from: said("22 in"),
            to: said("59 in"),
            reach_at_end: said("20 in"),
            twist: said("0°"),
            grip: 2,
            per_minute: said("3"),
            lasting: 1,
            circumstances: Vec::new(),
        }),
        one(&v1::ReckonStarRequest { studs: 5 }),
        one(&v1::ReckonRecheckRequest {
            fitted_at: said("48210 km"),
            after: said("50 km"),
            manufacturer: maker("due", "48300 km"),
        }),
        one(&v1::ReckonRunOutRequest { measured: said("0.08 mm"), limit: said("0.05 mm"), hub: said("0.04 mm") }),
        one(&v1::ReckonDurationsRequest {
            times: vec![
                v1::KnownDuration { time: said("2 h"), running: false },
                v1::KnownDuration { time: said("3.5 h"), running: true },
            ],
            due: said("3 h"),
        }),
        one(&v1::ReckonPertRequest {
            tasks: vec![v1::ThreePointTask { best: said("1"), likely: said("2"), worst: said("3") }],
            due: said("2.5"),
        }),
        one(&v1::ReckonReorderPointRequest {
            demand: said("5"),
            demand_deviation: said("2"),
            lead_time: said("3"),
            lead_time_deviation: said("0"),
            service: said("95 %"),
        }),
        one(&v1::ReckonOrderQuantityRequest {
            demand: said("1000"),
            order_cost: said("10"),
            holding_cost: said("0,5"),
        }),
        one(&v1::ReckonEarnedValueRequest {
            planned: said("14"),
            earned: said("11"),
            actual: said("13"),
            budget: said("22"),
        }),
        one(&v1::ReckonBladeFuseRequest { rating: said("15 A") }),
        one(&v1::ReckonRoundedHeadRequest { width: said("12 mm") }),
        one(&v1::ReckonBatteryLeadsRequest { direction: 1 }),
    ]
}

fn of_job(job: i64) -> Vec<Sample> {
    vec![
        one(&v1::ReckonTighteningsRequest {
            job,
            position: String::new(),
            stage: said("fit"),
            wrench: said("400 mm"),
            adapter: said("50 mm"),
            angle: said("0°"),
            class: said("10.9"),
            preload: said("75 %"),
            friction: friction(),
        }),
        one(&v1::ReckonReadingsRequest {
            job,
            reading: said("gap"),
            kind: 9,
            ignition: 1,
            picture: true,
            banks: vec![2, 2],
            heard: vec![v1::HeardOf { cylinder: said("2"), at: 1 }],
        }),
    ]
}
