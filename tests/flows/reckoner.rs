//! Every question of the reckoner over real gRPC, held against vectors that were computed apart from this code; their
//! sources stand in `services/reckoner/tests/vectors/README.md`.

use crate::shop::Shop;
use leadhand_proto::v1;
use leadhand_sdk::Client;

macro_rules! vectors {
    ($name:literal) => {
        rows(include_str!(concat!("../../services/reckoner/tests/vectors/", $name, ".csv")))
    };
}

/// Asks, and gives the answer when it has all that an answer has.
macro_rules! ask {
    ($who:expr, $method:ident($request:ident { $($field:ident: $value:expr),* $(,)? })) => {{
        #[allow(clippy::needless_update, reason = "some requests have no other field")]
        let asked = v1::$request { $($field: $value,)* ..Default::default() };
        whole($who.$method(asked).await.unwrap().answer.unwrap())
    }};
}

fn rows(csv: &'static str) -> Vec<Vec<&'static str>> {
    let rows: Vec<Vec<&str>> = csv.lines().skip(1).map(|line| line.split(',').collect()).collect();
    assert!(!rows.is_empty());
    rows
}

fn whole(answer: v1::Answer) -> v1::Answer {
    let said = [&answer.title, &answer.formula, &answer.deference];
    assert!(said.iter().all(|text| !text.is_empty()) && !answer.sources.is_empty(), "{answer:#?}");
    assert!(answer.inputs.iter().all(|input| !input.typed.is_empty() && input.standing != 0), "{answer:#?}");
    assert!(!answer.inputs.is_empty() && answer.figures.len() + answer.lists.len() > 0, "{answer:#?}");
    assert!(
        answer.inputs.iter().all(|input| !input.label.is_empty() && !input.label.contains(['[', '_'])),
        "{answer:#?}"
    );
    assert!(answer.figures.iter().all(|figure| !figure.text.is_empty() && figure.standing != 0), "{answer:#?}");
    warned(&answer);
    answer
}

/// What hurts nobody: conversions, tables and sums.
const HARMLESS: [&str; 9] = [
    "Conversion",
    "Thread geometry",
    "Proof load",
    "Packs to draw",
    "Three-point estimate",
    "Reorder point",
    "Order quantity",
    "Earned value",
    "How long it lasts",
];

/// What can hurt is said with every other answer, by its signal word and gravest first.
fn warned(answer: &v1::Answer) {
    let said = |caution: &v1::Caution| caution.word != 0 && !caution.text.is_empty();
    let words: Vec<i32> = answer.cautions.iter().map(|caution| caution.word).collect();
    assert!(answer.cautions.iter().all(said) && words.is_sorted(), "{answer:#?}");
    assert_eq!(answer.cautions.is_empty(), HARMLESS.contains(&answer.title.as_str()), "{answer:#?}");
}

fn figure<'a>(answer: &'a v1::Answer, name: &str) -> &'a v1::AnswerFigure {
    answer.figures.iter().find(|figure| figure.name == name).unwrap_or_else(|| panic!("no {name} in {answer:#?}"))
}

#[track_caller]
fn near(answer: &v1::Answer, name: &str, should: &str, relative: f64) {
    let (value, should): (f64, f64) = (figure(answer, name).value, should.parse().unwrap());
    assert!((value - should).abs() <= relative * should.abs() + 1e-9, "{name} is {value} and not {should}");
}

fn list(answer: &v1::Answer, name: &str) -> String {
    answer.lists.iter().find(|list| list.name == name).map(|list| list.entries.join(" ")).unwrap_or_default()
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

fn percent(share: &str) -> String {
    format!("{} %", number(share) * 100.0)
}

async fn viewer() -> (Shop, Client) {
    let shop = Shop::open().await;
    let viewer = shop.token(v1::Role::Viewer, "wall screen").await;
    (shop, viewer)
}

#[tokio::test(flavor = "multi_thread")]
async fn fasteners_are_answered_to_whoever_may_look() {
    let (shop, who) = viewer().await;
    for row in vectors!("thread_stress_area") {
        let answer = ask!(who, reckon_thread(ReckonThreadRequest { thread: row[0].into() }));
        near(&answer, "stress_area", row[5], 1e-9);
        near(&answer, "pitch_diameter", row[3], 1e-9);
    }
    for row in vectors!("proof_load") {
        let (thread, class) = (row[0].to_owned(), row[1].to_owned());
        let answer = ask!(who, reckon_strength(ReckonStrengthRequest { thread: thread, class: class }));
        near(&answer, "proof_load", row[4], 1e-9);
    }
    for row in vectors!("tightening_torque") {
        let friction = Some(v1::Friction { thread: row[4].into(), bearing: row[5].into() });
        let hole = row[0].trim_start_matches('M').split('x').next().unwrap();
        let bearing = Some(v1::Bearing {
            face: format!("{} mm", 2.0 * number(row[6]) - number(hole)),
            hole: format!("{hole} mm"),
        });
        let answer = ask!(
            who,
            reckon_torque(ReckonTorqueRequest {
                thread: row[0].into(),
                class: row[1].into(),
                preload: percent(row[2]),
                friction: friction,
                bearing: bearing,
            })
        );
        near(&answer, "torque", row[8], 1e-9);
        near(&answer, "unsimplified", row[10], 1e-9);
        near(&answer, "short_form", row[11], 1e-9);
        near(&answer, "k", row[12], 1e-9);
    }
    for row in vectors!("torque_adapter") {
        let answer = ask!(
            who,
            reckon_adapter(ReckonAdapterRequest {
                torque: format!("{} Nm", row[0]),
                wrench: format!("{} mm", row[1]),
                adapter: format!("{} mm", row[2]),
                angle: format!("{}°", row[3]),
            })
        );
        near(&answer, "setting", row[4], 1e-8);
    }
    for row in vectors!("tightening_sequence") {
        let (lines, columns) = row[0].split_once('x').unwrap();
        let columns: i32 = columns.parse().unwrap();
        let bolt = |(at, letter): (i32, char), column: i32| v1::LayoutBolt {
            name: format!("{letter}{}", column + 1),
            x: format!("{} cm", column * 9),
            y: format!("{} mm", -70 * at),
        };
        let letters: Vec<(i32, char)> = (0..lines.parse().unwrap()).zip('A'..).collect();
        let bolts = letters.iter().flat_map(|row| (0..columns).map(|column| bolt(*row, column))).collect();
        let answer = ask!(who, reckon_sequence(ReckonSequenceRequest { bolts: bolts }));
        assert_eq!((list(&answer, "tighten"), list(&answer, "undo")), (row[2].to_owned(), row[3].to_owned()));
    }
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn stages_spanners_widths_and_units_are_answered() {
    let (shop, who) = viewer().await;
    let rows = vectors!("torque_angle");
    let answer = ask!(
        who,
        reckon_torque_then_angle(ReckonTorqueThenAngleRequest {
            thread: "M10x1.25".into(),
            class: "10.9".into(),
            seated: "10 kN".into(),
            length: "110 mm".into(),
            angles: vec!["90°".into(), "0,25 turns".into()],
        })
    );
    near(&answer, "elastic", rows[2][2], 1e-9);
    near(&answer, "preload", rows[2][3], 1e-9);
    // F = T/L at 60 N.m: 171 N at 350 mm, 343 N at 175 mm. By equilibrium of moments.
    for (length, force) in [("350 mm", "171.42857142857"), ("0.175 m", "342.85714285714")] {
        let answer = ask!(who, reckon_spanner(ReckonSpannerRequest { torque: "60 Nm".into(), length: length.into() }));
        near(&answer, "force", force, 1e-9);
    }
    // Common practice: small-flange M6 8, M8 12, M10 14, M12 17 mm. ISO 272 from copies: M8 13 mm.
    for (thread, width) in [("M6", "8"), ("M8", "12"), ("M10", "14"), ("M12", "17")] {
        let answer = ask!(who, reckon_across_flats(ReckonAcrossFlatsRequest { thread: thread.into() }));
        near(&answer, "small_flange", width, 0.0);
    }
    let answer = ask!(who, reckon_threads_of_head(ReckonThreadsOfHeadRequest { width: "12 mm".into() }));
    assert_eq!(list(&answer, "threads"), "M8: hexagon with a small flange");
    // NIST SP 811, Appendix B: 1 lbf.ft is 1.355 818 N.m; the vector has it exactly.
    let factor = vectors!("unit_factors").into_iter().find(|row| row[1] == "lbf_ft").unwrap()[3];
    let answer = ask!(who, reckon_conversion(ReckonConversionRequest { amount: "1 lbf.ft".into(), into: "Nm".into() }));
    near(&answer, "converted", factor, 1e-15);
    // Scatter: least friction gives most preload; the middle by the vector's equation, which is linear in the torque.
    let row = &vectors!("tightening_torque")[0];
    let answer = ask!(
        who,
        reckon_preload(ReckonPreloadRequest {
            thread: row[0].into(),
            class: row[1].into(),
            torque: format!("{} Nm", row[8]),
            friction_least: "0.12".into(),
            friction_most: "0.12".into(),
            wrench: "0 %".into(),
            bearing: Some(v1::Bearing { face: format!("{} mm", 2.0 * number(row[6]) - 6.0), hole: "6 mm".into() }),
        })
    );
    near(&answer, "preload", row[3], 1e-9);
    let answer = ask!(
        who,
        reckon_short_form(ReckonShortFormRequest { thread: row[0].into(), preload: format!("{} N", row[3]) })
    );
    near(&answer, "torque", row[11], 1e-9);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn coolant_is_answered() {
    let (shop, who) = viewer().await;
    for row in vectors!("coolant_freeze").iter().filter(|row| !row[4].is_empty()) {
        let strength = format!("{} %", row[0]);
        let answer = ask!(who, reckon_freezing_point(ReckonFreezingPointRequest { strength: strength.clone() }));
        assert!((figure(&answer, "freezes").value - number(row[4])).abs() < 2e-3, "{row:?}");
        let basis = v1::StrengthBasis::Mass.into();
        let answer = ask!(who, reckon_freezing_point(ReckonFreezingPointRequest { strength: strength, basis: basis }));
        assert!((figure(&answer, "freezes").value - number(row[1])).abs() < 2e-3, "{row:?}");
    }
    for row in vectors!("coolant_concentrate").iter().filter(|row| row[8] == "ok") {
        let answer = ask!(
            who,
            reckon_fill(ReckonFillRequest {
                capacity: format!("{} L", row[0]),
                left: format!("{} L", row[1]),
                left_strength: percent(row[2]),
                target: percent(row[3]),
                poured_strength: percent(row[4]),
            })
        );
        near(&answer, "add", row[5], 1e-6);
        near(&answer, "water", row[6], 1e-6);
    }
    for row in vectors!("coolant_swap") {
        let answer = ask!(
            who,
            reckon_swap(ReckonSwapRequest {
                capacity: format!("{} L", row[0]),
                now: percent(row[1]),
                target: percent(row[2]),
                filled: percent(row[3]),
            })
        );
        near(&answer, "swap", row[4], 1e-6);
    }
    for row in vectors!("coolant_drain_fill").iter().filter(|row| row[4] == "2") {
        let answer = ask!(
            who,
            reckon_drain_and_refill(ReckonDrainAndRefillRequest {
                capacity: format!("{} L", row[0]),
                drained: format!("{} L", row[1]),
                now: percent(row[2]),
                filled: percent(row[3]),
                target: percent(row[5]),
                tolerance: "0.1 %".into(),
            })
        );
        near(&answer, "rounds", row[4], 0.0);
    }
    expansion_and_packs(&who).await;
    shop.verified().await;
}

async fn expansion_and_packs(who: &Client) {
    for row in vectors!("coolant_expansion") {
        let answer = ask!(
            who,
            reckon_expansion(ReckonExpansionRequest {
                volume: "7 L".into(),
                strength: format!("{} %", row[0]),
                cold: format!("{} °C", row[1]),
                hot: format!("{} °C", row[2]),
            })
        );
        assert!((figure(&answer, "growth").value - 100.0 * number(row[5])).abs() < 2e-3, "{row:?}");
    }
    // By definition: least left over, of those the fewest packs.
    let pack = |size: &str| v1::PackSize { size: size.into(), on_hand: None };
    let packs = vec![pack("1 L"), pack("5 L")];
    let answer = ask!(who, reckon_packs(ReckonPacksRequest { needed: "3,5 L".into(), packs: packs }));
    assert_eq!((figure(&answer, "drawn").text.as_str(), list(&answer, "packs").as_str()), ("4.00 L", "4 × 1 L"));
}

#[tokio::test(flavor = "multi_thread")]
async fn engines_and_heads_are_answered() {
    let (shop, who) = viewer().await;
    for row in vectors!("compression_test") {
        let cylinder = |at: usize| v1::CylinderReading {
            name: at.to_string(),
            dry: format!("{} bar", row[at]),
            wet: String::new(),
        };
        let banks = vec![v1::CylinderBank { cylinders: (1..5).map(cylinder).collect() }];
        let answer = ask!(who, reckon_compression(ReckonCompressionRequest { banks: banks }));
        near(&answer, "spread", row[6], 1e-9);
    }
    for row in vectors!("leakdown") {
        let (supply, cylinder) = (format!("{} psi", row[0]), format!("{} psi", row[1]));
        let answer = ask!(who, reckon_leak_down(ReckonLeakDownRequest { supply: supply, cylinder: cylinder }));
        near(&answer, "leak", row[2], 1e-9);
    }
    let result = vectors!("flatness_result");
    for case in ["dished_A"] {
        let grid = vectors!("flatness_grid").into_iter().filter(|row| row[0] == case);
        let points = grid.map(|row| v1::SurfacePoint {
            x: format!("{} mm", row[1]),
            y: format!("{} mm", row[2]),
            z: format!("{} um", row[3]),
        });
        let asked = v1::ReckonFlatnessRequest { points: points.collect(), picture: true, ..Default::default() };
        let found = who.reckon_flatness(asked).await.unwrap();
        let zone = result.iter().find(|row| row[0] == case && row[1] == "minimum_zone_um").unwrap();
        assert!((figure(&whole(found.answer.unwrap()), "minimum_zone").value * 1e3 - number(zone[2])).abs() < 1e-9);
        assert!(found.picture.starts_with("<svg ") && found.picture.ends_with("</svg>\n"));
    }
    for row in vectors!("compression_ratio") {
        let answer = ask!(
            who,
            reckon_compression_change(ReckonCompressionChangeRequest {
                bore: format!("{} mm", row[0]),
                stroke: format!("{} mm", row[1]),
                ratio: row[2].into(),
                cut: format!("{} mm", row[3]),
                chamber: percent(row[4]),
                gasket: format!("{} mm", row[5]),
            })
        );
        near(&answer, "ratio", row[9], 1e-9);
    }
    // By subtraction: 132.9 less 132.7 leaves 0.2 mm.
    let answer = ask!(
        who,
        reckon_skim(ReckonSkimRequest {
            height: "132.9 mm".into(),
            least_height: "132.7 mm".into(),
            cut: "0.1 mm".into(),
        })
    );
    assert_eq!(figure(&answer, "allowance").text, "0.20 mm");
    // A disc of 0.08 mm: common limits are 0.05 to 0.10 mm.
    let answer = ask!(who, reckon_run_out(ReckonRunOutRequest { measured: "0,08 mm".into() }));
    assert!(answer.conclusions[0].text.contains("between the usual limits"), "{answer:#?}");
    shop.verified().await;
}

/// What still runs counts as at least as long: the invented set of `kaplan_meier_input.csv`, whose median is 4 h.
async fn durations(who: &Client) {
    let set = vectors!("kaplan_meier_input").into_iter().filter(|row| row[0] == "stages_running");
    let times = set.map(|row| v1::KnownDuration { time: format!("{} h", row[1]), running: row[2] == "0" }).collect();
    let answer = ask!(who, reckon_durations(ReckonDurationsRequest { times: times, due: "5 h".into() }));
    near(&answer, "median", "240", 1e-9);
    assert_eq!(figure(&answer, "chance").text, "55 %");
    assert!(answer.conclusions.iter().any(|one| one.text.contains("3 of 8 still run")), "{answer:#?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn lifting_wheels_formulas_and_practice_are_answered() {
    let (shop, who) = viewer().await;
    lifting(&who).await;
    for row in vectors!("pert_totals") {
        let path: Vec<&str> = row[1].split('-').collect();
        let tasks = vectors!("pert_activities").into_iter().filter(|task| task[0] == row[0] && path.contains(&task[1]));
        let tasks = tasks.map(|task| v1::ThreePointTask {
            best: task[3].into(),
            likely: task[4].into(),
            worst: task[5].into(),
        });
        let answer = ask!(who, reckon_pert(ReckonPertRequest { tasks: tasks.collect(), due: row[5].into() }));
        near(&answer, "expected", row[2], 1e-8);
        assert!((figure(&answer, "chance").value / 100.0 - number(row[7])).abs() < 1e-7, "{row:?}");
    }
    durations(&who).await;
    for row in vectors!("reorder_point") {
        let answer = ask!(
            who,
            reckon_reorder_point(ReckonReorderPointRequest {
                demand: row[1].into(),
                demand_deviation: row[2].into(),
                lead_time: row[3].into(),
                lead_time_deviation: row[4].into(),
                service: percent(row[5]),
            })
        );
        near(&answer, "reorder_point", row[9], 1e-7);
    }
    for row in vectors!("eoq") {
        let answer = ask!(
            who,
            reckon_order_quantity(ReckonOrderQuantityRequest {
                demand: row[1].into(),
                order_cost: row[2].into(),
                holding_cost: row[3].into(),
            })
        );
        near(&answer, "quantity", row[4], 1e-9);
    }
    for row in vectors!("earned_value") {
        let answer = ask!(
            who,
            reckon_earned_value(ReckonEarnedValueRequest {
                planned: row[1].into(),
                earned: row[2].into(),
                actual: row[3].into(),
                budget: row[4].into(),
            })
        );
        near(&answer, "eac", row[9], 1e-9);
    }
    practice(&who).await;
    shop.verified().await;
}

async fn lifting(who: &Client) {
    let rows = vectors!("niosh_lifting");
    let (origin, end) = (&rows[0], &rows[1]);
    let inches = |cell: &str| format!("{cell} in");
    let answer = ask!(
        who,
        reckon_lift(ReckonLiftRequest {
            load: format!("{} lb", origin[13]),
            reach: inches(origin[1]),
            from: inches(origin[2]),
            to: inches(end[2]),
            reach_at_end: inches(end[1]),
            grip: v1::Grip::Fair.into(),
            lasting: v1::Lasting::Hour.into(),
            per_minute: "3".into(),
        })
    );
    let pounds = |name: &str| figure(&answer, name).beside.clone().unwrap();
    assert_eq!(pounds("limit_begin").unit, "[lb_av]");
    assert!((pounds("limit_begin").value - number(origin[11])).abs() < 1e-6);
    assert!((pounds("limit_end").value - number(end[11])).abs() < 1e-6);
    near(&answer, "index", end[14], 1e-9);
}

/// Common practice of the trade, marked as such in each answer.
async fn practice(who: &Client) {
    let answer = ask!(who, reckon_star(ReckonStarRequest { studs: 5 }));
    assert_eq!(list(&answer, "tighten"), "1 3 5 2 4");
    let answer = ask!(who, reckon_blade_fuse(ReckonBladeFuseRequest { rating: "15 A".into() }));
    assert_eq!(list(&answer, "colour"), "blue");
    let answer = ask!(who, reckon_rounded_head(ReckonRoundedHeadRequest { width: "12 mm".into() }));
    near(&answer, "socket", "11", 0.0);
    let answer =
        ask!(who, reckon_battery_leads(ReckonBatteryLeadsRequest { direction: v1::LeadsDirection::Off.into() }));
    assert_eq!(list(&answer, "order"), "earth lead other lead");
    let answer =
        ask!(who, reckon_recheck(ReckonRecheckRequest { fitted_at: "30000 mi".into(), after: "40 mi".into() }));
    assert_eq!(figure(&answer, "due").beside.as_ref().unwrap().unit, "[mi_i]");
    assert!(answer.sources.iter().any(|source| source.kind == i32::from(v1::SourceKind::CommonPractice)));
}
