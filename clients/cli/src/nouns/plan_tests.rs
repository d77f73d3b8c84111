//! How a plan looks. 2026-05-04 was a Monday (ISO 8601 week date 2026-W19-1).

use super::plan_chart::{By, Chart};
use super::plan_hours::Hours;
use super::plan_text::{Shown, jobs_table, planned_otherwise, promise_lines, standing, table};
use crate::fit::width_of;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{
    GetPlanResponse, JobOutlook, Plan, PlanNote, PlanPerson, PlannedStage, PlannedStay, ProposePlanResponse,
};
use prost_types::Timestamp;

/// 08:00 UTC, and so many minutes.
#[expect(clippy::unnecessary_wraps, reason = "a message field is an option")]
fn at(minutes: i64) -> Option<Timestamp> {
    Some(Timestamp { seconds: 1_777_881_600 + minutes * 60, nanos: 0 })
}

fn stage(job: i64, stage: &str, bay: &str, people: &[&str], from: i64, until: i64) -> PlannedStage {
    PlannedStage {
        job,
        stage: stage.into(),
        bay: bay.into(),
        people: people.iter().map(|one| (*one).to_owned()).collect(),
        from_at: at(from),
        until_at: at(until),
    }
}

/// Job 1 on a lift by Flint, with a pause in which it stands there; job 2 on the floor by Moss; and a wait.
fn plan() -> Plan {
    let stages = vec![
        stage(1, "strip", "lift-1", &["flint"], 0, 120),
        stage(2, "pads", "floor-1", &["moss", "flint"], 120, 180),
        stage(1, "dry", "", &[], 120, 180),
        stage(1, "fit", "lift-1", &["flint"], 180, 240),
    ];
    let stay =
        |job, bay: &str, from, until| PlannedStay { job, bay: bay.into(), from_at: at(from), until_at: at(until) };
    let stays = vec![stay(1, "lift-1", 0, 240), stay(2, "floor-1", 120, 180)];
    Plan { number: 41, made_at: at(0), stages, stays, jobs: Vec::new() }
}

fn shown() -> Shown {
    let note = |job, stage: &str, title: &str, started, pinned| PlanNote {
        job,
        stage: stage.into(),
        title: title.into(),
        started,
        pinned,
    };
    let notes = vec![note(1, "strip", "Strip <it>", true, false), note(2, "pads", "Pads & discs", false, true)];
    let person = |id: &str, name: &str| PlanPerson { person: id.into(), name: name.into() };
    let persons = vec![person("flint", "Flint"), person("moss", "Moss")];
    Shown::proposed(&ProposePlanResponse { notes, persons, ..Default::default() })
}

#[test]
fn the_chart_has_a_letter_a_job_and_dots_where_a_vehicle_waits_in_its_bay() {
    let chart = Chart::new(&shown(), &plan(), By::Bay, &Hours::default()).text(51, &TimeZone::UTC);
    let wanted = "
         |Mon 4
 floor-1 |                    BBBBBBBBBB
 lift-1  |AAAAAAAAAAAAAAAAAAAA..........AAAAAAAAAA
 no bay  |                    AAAAAAAAAA
 A job 1, B job 2; . stands in its bay; a column is 6 min
";
    assert_eq!(chart, wanted);
    let people = Chart::new(&shown(), &plan(), By::Person, &Hours::default()).text(51, &TimeZone::UTC);
    assert!(people.contains("\n Flint |AAAAAAAAAAAAAAAAAAAA"), "{people}");
}

#[test]
fn the_tables_fit_eighty_columns_and_say_who_where_and_when() {
    for by in [By::Bay, By::Person, By::Job] {
        let text = table(&shown(), &plan(), by, &TimeZone::UTC).render(Some(80), false);
        assert!(text.lines().all(|line| width_of(line) <= 80), "{text}");
    }
    let text = table(&shown(), &plan(), By::Bay, &TimeZone::UTC).render(Some(80), false);
    let lines: Vec<String> = text.lines().map(|line| line.split_whitespace().collect::<Vec<_>>().join(" ")).collect();
    assert_eq!(
        lines,
        [
            "BAY FROM UNTIL JOB STAGE WHO",
            "floor-1 Mon 4 10:00 Mon 4 11:00 2 Pads & discs Moss, Flint pinned",
            "lift-1 Mon 4 08:00 Mon 4 10:00 1 Strip <it> Flint under way",
            "lift-1 Mon 4 11:00 Mon 4 12:00 1 fit Flint",
            "no bay Mon 4 10:00 Mon 4 11:00 1 dry",
        ]
    );
}

#[test]
fn the_drawing_names_every_bar_in_words_and_shades_when_the_shop_is_closed() {
    let open =
        [(at(0).unwrap().seconds, at(90).unwrap().seconds), (at(210).unwrap().seconds, at(600).unwrap().seconds)];
    let svg = Chart::new(&shown(), &plan(), By::Bay, &Hours::default()).svg(&open, &TimeZone::UTC);
    assert!(svg.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\"") && svg.ends_with("</svg>\n"), "{svg}");
    // In the drawing and in the legend.
    let blocks = |class: &str| svg.matches(&format!("<rect class=\"{class}\"")).count() - 1;
    assert_eq!((blocks("work"), blocks("stands"), blocks("night")), (4, 2, 1));
    assert!(svg.contains("<title>job 1: Strip &lt;it&gt;</title>") && svg.contains("job 2: Pads &amp; discs"), "{svg}");
    assert!(svg.contains(">lift-1<title>") && svg.contains(">job 1</text>"), "names and numbers can be read in it");
    assert!(svg.contains("prefers-color-scheme:dark"), "it is read on either ground");
    let unknown = Chart::new(&shown(), &plan(), By::Bay, &Hours::default()).svg(&[], &TimeZone::UTC);
    assert_eq!(
        unknown.matches("class=\"night\"").count(),
        1,
        "nothing is shaded of a shop without hours: the legend's alone"
    );
}

/// A stage from before lunch until the next morning: its people are not at it in the break and in the night; a cure goes on.
#[test]
fn what_pauses_is_not_drawn_as_worked_and_a_break_is_shaded() {
    let seconds = |minutes| at(minutes).unwrap().seconds;
    let open: Vec<(i64, i64)> =
        [(0, 240), (270, 540), (1_440, 1_680)].map(|(from, until)| (seconds(from), seconds(until))).into();
    let stages = vec![stage(1, "strip", "lift-1", &["flint"], 180, 1_500), stage(2, "cure", "", &[], 180, 1_500)];
    let plan = Plan { stages, ..Default::default() };
    let hours = Hours { shop: open.clone(), ..Hours::default() };
    let chart = Chart::new(&shown(), &plan, By::Bay, &hours);
    let pieces: Vec<(i64, i64)> = chart.rows["lift-1"].iter().map(|bar| (bar.from, bar.until)).collect();
    assert_eq!(pieces, [(180, 240), (270, 540), (1_440, 1_500)].map(|(from, until)| (seconds(from), seconds(until))));
    assert_eq!(chart.rows["no bay"].len(), 1);
    let svg = chart.svg(&open, &TimeZone::UTC);
    assert_eq!(svg.matches("<rect class=\"night\"").count(), 3, "lunch, the night, and the legend's");
    // Overtime behind the shop's hours, in which a stage ends, is worked.
    let late = Plan { stages: vec![stage(1, "strip", "lift-1", &["flint"], 480, 600)], ..Default::default() };
    let chart = Chart::new(&shown(), &late, By::Person, &hours);
    assert_eq!(chart.rows["Flint"].len(), 1);
}

#[test]
fn the_tenth_lift_is_drawn_behind_the_second() {
    let stages = ["lift-10", "", "lift-2"].map(|bay| stage(1, "strip", bay, &["flint"], 0, 60)).into();
    let plan = Plan { stages, ..Default::default() };
    let svg = Chart::new(&shown(), &plan, By::Bay, &Hours::default()).svg(&[], &TimeZone::UTC);
    let at = |key: &str| svg.find(&format!(">{key}<title>")).unwrap();
    assert!(at("lift-2") < at("lift-10") && at("lift-10") < at("no bay"), "{svg}");
}

#[test]
fn a_late_job_is_marked_by_a_word_and_a_pattern() {
    let outlook = JobOutlook { job: 1, late_minutes: 5, ..Default::default() };
    let persons = vec![PlanPerson { person: "flint".into(), name: "Flint".into() }];
    let late = Shown::proposed(&ProposePlanResponse { outlooks: vec![outlook], persons, ..Default::default() });
    let svg = Chart::new(&late, &plan(), By::Person, &Hours::default()).svg(&[], &TimeZone::UTC);
    assert!(svg.contains(">job 1 late</text>") && svg.contains(">job 2</text>"), "{svg}");
    assert!(svg.contains("late: job 1</text>"), "the legend lists them");
    // Two bars of Flint and the legend's, striped above and below.
    assert_eq!(svg.matches("url(#stripes)").count(), 6);
}

/// WCAG 2.2, 1.4.3 and the relative luminance that it defines: words have a contrast of at least 4.5:1 against what they stand on.
#[test]
fn words_in_bars_can_be_read_on_either_ground() {
    let svg = Chart::new(&shown(), &plan(), By::Bay, &Hours::default()).svg(&[], &TimeZone::UTC);
    let style = &svg[svg.find("<style>").unwrap()..svg.find("</style>").unwrap()];
    let (light, dark) = style.split_once("@media").unwrap();
    for ground in [light, dark] {
        let fill = |class: &str| {
            let rule = &ground[ground.find(&format!("{class}{{")).unwrap()..];
            let rule = &rule[..rule.find('}').unwrap()];
            luminance(rule.split("fill:#").nth(1).unwrap().split([';', '}']).next().unwrap())
        };
        for (words, on) in [(".in", ".work"), (".in", ".late"), ("text", ".ground"), ("text", ".night")] {
            let (one, other) = (fill(words), fill(on));
            let ratio = (one.max(other) + 0.05) / (one.min(other) + 0.05);
            assert!(ratio >= 4.5, "{words} on {on}: {ratio}");
        }
    }
}

fn luminance(hex: &str) -> f64 {
    let wide: String = if hex.len() == 3 { hex.chars().flat_map(|c| [c, c]).collect() } else { hex.to_owned() };
    let part = |at: usize| {
        let value = f64::from(u8::from_str_radix(&wide[at..at + 2], 16).unwrap()) / 255.0;
        if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * part(0) + 0.7152 * part(2) + 0.0722 * part(4)
}

#[test]
fn a_plan_says_whether_it_still_stands() {
    let mut answer =
        GetPlanResponse { plan: Some(plan()), accepted_at: at(5), accepted_number: 42, ..Default::default() };
    assert_eq!(
        standing(&answer, &TimeZone::UTC),
        "accepted 2026-05-04 08:05 (fact 42); nothing has moved since it was made"
    );
    answer.moved = vec!["strip of job 1 was finished".into()];
    assert_eq!(
        standing(&answer, &TimeZone::UTC),
        "accepted 2026-05-04 08:05 (fact 42); STALE: 1 thing moved since (strip of job 1 was finished); 'leadhand plan \
         propose' makes another"
    );
    answer.moved = ["a", "b", "c", "d"].map(str::to_owned).into();
    assert!(standing(&answer, &TimeZone::UTC).contains("STALE: 4 things moved since (a, b, c, and more)"));
}

/// Moss has a break of an hour of their own, and an hour of overtime behind the shop's hours.
#[test]
fn own_pauses_and_overtime_are_drawn() {
    let seconds = |minutes| at(minutes).unwrap().seconds;
    let span = |from, until| (seconds(from), seconds(until));
    let mut hours = Hours { shop: vec![span(0, 480)], ..Hours::default() };
    hours.own.insert("moss".into(), vec![span(0, 240), span(300, 480)]);
    hours.overtime.insert("moss".into(), vec![span(480, 540)]);
    let plan = Plan { stages: vec![stage(1, "strip", "", &["moss"], 180, 520)], ..Default::default() };
    let chart = Chart::new(&shown(), &plan, By::Person, &hours);
    let pieces: Vec<(i64, i64, bool)> = chart.rows["Moss"].iter().map(|bar| (bar.from, bar.until, bar.over)).collect();
    let wanted = [(180, 240, false), (300, 480, false), (480, 520, true)];
    assert_eq!(pieces, wanted.map(|(from, until, over)| (seconds(from), seconds(until), over)));
    let svg = chart.svg(&hours.shop, &TimeZone::UTC);
    assert_eq!(svg.matches("<path class=\"over\"").count(), 2, "the hour of overtime, and the legend's: {svg}");
    assert!(
        svg.contains("<title>job 1, overtime: Strip &lt;it&gt;</title>") && svg.contains(">overtime</text>"),
        "{svg}"
    );
}

/// The first vehicle is rolled out of the lift and brought in again, and then goes on to the floor at once.
#[test]
fn moves_have_rows_of_their_own() {
    let stay =
        |job, bay: &str, from, until| PlannedStay { job, bay: bay.into(), from_at: at(from), until_at: at(until) };
    let stays = vec![
        stay(1, "lift-1", 0, 130),
        stay(1, "lift-1", 170, 240),
        stay(1, "floor-1", 240, 300),
        stay(2, "lift-1", 130, 170),
    ];
    let mut plan = plan();
    plan.stays = stays;
    let rows = |by| -> Vec<String> {
        let text = table(&shown(), &plan, by, &TimeZone::UTC).render(Some(80), false);
        let line = |line: &str| line.split_whitespace().collect::<Vec<_>>().join(" ");
        text.lines().map(line).filter(|line| line.contains('(')).collect()
    };
    assert_eq!(
        rows(By::Bay),
        [
            "floor-1 Mon 4 12:00 1 (from lift-1)",
            "lift-1 Mon 4 10:10 1 (rolled out)",
            "lift-1 Mon 4 10:50 1 (brought in)",
        ]
    );
    assert_eq!(rows(By::Job).len(), 3);
    assert_eq!(rows(By::Person), Vec::<String>::new());
    let text = table(&shown(), &plan, By::Bay, &TimeZone::UTC).render(Some(80), false);
    let from = text.find("FROM").unwrap();
    for line in text.lines().filter(|line| line.contains('(')) {
        assert!(line[from..].starts_with("Mon 4 "), "every move says when it begins: {line}");
    }
    // At 10:10 the one leaves, and then the other is worked on; the tenth lift stands behind the second.
    plan.stages.push(stage(2, "pads", "lift-1", &["moss"], 130, 170));
    plan.stages.push(stage(3, "pads", "lift-10", &["moss"], 0, 10));
    plan.stages.push(stage(3, "pads", "lift-2", &["moss"], 20, 30));
    let text = table(&shown(), &plan, By::Bay, &TimeZone::UTC).render(Some(80), false);
    let at = |part: &str| text.find(part).unwrap_or_else(|| panic!("{part}: {text}"));
    let worked = text.lines().position(|line| line.contains("lift-1") && line.contains("10:10  Mon 4 10:50"));
    let left = text.lines().position(|line| line.contains("(rolled out)"));
    assert!(left < worked && left.is_some(), "{text}");
    assert!(at("lift-2") < at("lift-10"), "{text}");
}

/// What is so now and what the accepted plan said are told as two things, and only where they differ.
#[test]
fn a_promise_names_the_accepted_plan_where_that_said_otherwise() {
    let job = JobOutlook { job: 2, safe_at: at(90), likely_at: at(60), ..Default::default() };
    let mut planned = leadhand_sdk::v1::PlannedJob { job: 2, safe_at: at(90), likely_at: at(60), ..Default::default() };
    assert_eq!(planned_otherwise(&job, &planned, &TimeZone::UTC), None);
    planned.safe_at = at(80);
    let told = planned_otherwise(&job, &planned, &TimeZone::UTC).unwrap();
    assert!(told.starts_with("the accepted plan said likely ") && told.contains("plan propose"), "{told}");
    assert_eq!(
        planned_otherwise(&JobOutlook::default(), &planned, &TimeZone::UTC),
        None,
        "no time, nothing to compare"
    );
}

/// In time by the plan itself, and half of all cases end after the promise: the table and the promise say so.
#[test]
fn a_job_that_is_likely_late_says_so() {
    let job = |job, ready| leadhand_sdk::v1::PlannedJob { job, ready_at: at(ready), ..Default::default() };
    let plan = Plan { jobs: vec![job(1, 60), job(2, 60), job(3, 60)], ..Default::default() };
    let answer = GetPlanResponse { late: vec![1], likely_late: vec![1, 2], ..Default::default() };
    let text = jobs_table(&plan, &answer, &TimeZone::UTC).render(Some(80), false);
    let ends: Vec<bool> = text.lines().skip(1).map(|line| line.trim_end().ends_with("likely late")).collect();
    assert_eq!(ends, [false, true, false], "{text}");
    let mut outlook = JobOutlook { job: 2, promised_at: at(60), likely_late: true, ..Default::default() };
    let sentence = "likely late: half of the runs end after the promise";
    assert_eq!(promise_lines(&outlook, &TimeZone::UTC).last().unwrap(), sentence);
    outlook.likely_late = false;
    assert!(promise_lines(&outlook, &TimeZone::UTC).last().unwrap().ends_with("in time by the plan"));
    outlook.hangs_on = vec!["fit: missing 'gasket'".into()];
    assert_eq!(
        promise_lines(&outlook, &TimeZone::UTC)[0],
        "job 2 hangs on fit: missing 'gasket': nobody said until when"
    );
}

/// The accepted plan's times hold only if something ends of which nobody said when: its table says of which jobs.
#[test]
fn what_a_job_of_the_accepted_plan_hangs_on_stands_beside_it() {
    let job = |job| leadhand_sdk::v1::PlannedJob { job, ready_at: at(60), ..Default::default() };
    let plan = Plan { jobs: vec![job(1), job(2)], ..Default::default() };
    let hang = |job, words: &str| leadhand_sdk::v1::PlanHang { job, words: words.into() };
    let hangs_on = vec![hang(2, "Refit: missing 'gasket'"), hang(2, "Strip of job 1: the customer")];
    let text =
        jobs_table(&plan, &GetPlanResponse { hangs_on, ..Default::default() }, &TimeZone::UTC).render(None, false);
    let lines: Vec<&str> = text.lines().collect();
    assert!(lines[0].contains("HANGS ON") || lines[0].contains("hangs on"), "{text}");
    assert!(!lines[1].contains("missing"), "{text}");
    assert!(lines[2].contains("Refit: missing 'gasket', Strip of job 1: the customer"), "{text}");
}

/// Ready in time, likely so, and later than promised in more than one of five cases: it says so, and only of that job.
#[test]
fn a_promise_at_risk_says_so() {
    let job = |job, ready| leadhand_sdk::v1::PlannedJob { job, ready_at: at(ready), ..Default::default() };
    let plan = Plan { jobs: vec![job(1, 60), job(2, 60), job(3, 60)], ..Default::default() };
    let answer = GetPlanResponse { likely_late: vec![1], at_risk: vec![1, 2], ..Default::default() };
    let text = jobs_table(&plan, &answer, &TimeZone::UTC).render(Some(80), false);
    let marks: Vec<&str> = text.lines().skip(1).map(|line| line.trim_end().rsplit("  ").next().unwrap()).collect();
    assert_eq!((marks[0].trim(), marks[1].trim()), ("likely late", "at risk"), "{text}");
    assert!(!marks[2].contains("late") && !marks[2].contains("risk"), "{text}");
    let outlook = JobOutlook { job: 2, promised_at: at(210), safe_at: at(222), at_risk: true, ..Default::default() };
    assert_eq!(
        promise_lines(&outlook, &TimeZone::UTC).last().unwrap(),
        "promised 2026-05-04 11:30, and in time by the plan, but at risk: it holds four times out of five only from \
         2026-05-04 11:42 on"
    );
}

/// From late on Monday to Thursday: the names of the whole days stand, and what is left of Monday goes without.
#[test]
fn a_day_that_is_nearly_over_goes_without_its_name() {
    let stages = vec![stage(1, "strip", "lift-1", &["flint"], 900, 3 * 1_440)];
    let plan = Plan { stages, ..Default::default() };
    let chart = Chart::new(&shown(), &plan, By::Bay, &Hours::default());
    let text = chart.text(70, &TimeZone::UTC);
    let days = text.lines().nth(1).unwrap().split('|').nth(1).unwrap();
    assert_eq!(days.split_whitespace().collect::<Vec<_>>().join(" "), "Tue 5 Wed 6 Thu 7");
    let svg = chart.svg(&[], &TimeZone::UTC);
    assert!(svg.contains(">Tue 5</text>") && svg.contains(">Wed 6</text>"), "{svg}");
    // Long enough, the first day has its name.
    let early = Plan { stages: vec![stage(1, "strip", "lift-1", &["flint"], 0, 3 * 1_440)], ..Default::default() };
    let text = Chart::new(&shown(), &early, By::Bay, &Hours::default()).text(70, &TimeZone::UTC);
    assert!(text.contains("|Mon 4  "), "{text}");
}
