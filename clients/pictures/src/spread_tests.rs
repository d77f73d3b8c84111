use super::*;
use crate::tests::boxes;

fn line(stage: &str, seconds: i64, finished: i32, high: i32) -> AuditLine {
    let mut line = AuditLine { about: stage.into(), title: format!("The {stage}"), finished, ..AuditLine::default() };
    line.worked.get_or_insert_default().seconds = seconds;
    line.minutes = Some(Minutes { low: high / 4, likely: high / 2, high });
    line
}

#[test]
fn stages_are_gathered_over_jobs_and_what_is_not_finished_says_nothing() {
    let lines = [
        line("strip", 5400, 1, 60),
        line("clean", 600, 1, 0),
        line("strip", 3600, 1, 60),
        line("strip", 60, 0, 60),
        line("strip", 3601, 1, 60),
        line("strip", 4000, 1, 80),
    ];
    let all = Took::of(&lines);
    assert_eq!(all.iter().map(|took| took.stage.as_str()).collect::<Vec<_>>(), ["strip", "clean"]);
    assert_eq!(all[0].worked, [3600, 3601, 4000, 5400]);
    // The second of four; the latest job's longest are 80 minutes, and one took longer.
    assert_eq!((all[0].middle(), all[0].beyond()), (3601, 1));
    assert_eq!(
        (all[1].minutes, all[1].beyond(), all[1].middle()),
        (None, 0, 600),
        "no minutes, nothing is beyond them"
    );
}

#[test]
fn a_wait_took_what_it_waited_and_nobody_on_the_clock_says_nothing() {
    let mut cure = line("cure", 0, 1, 60);
    cure.wait.get_or_insert_default().seconds = 3000;
    let all = Took::of(&[line("strip", 0, 1, 60), cure]);
    assert_eq!(all.iter().map(|took| (took.stage.as_str(), took.middle())).collect::<Vec<_>>(), [("cure", 3000)]);
}

#[test]
fn rings_and_the_band_stand_on_one_axis() {
    let all = Took::of(&[line("strip", 3600, 1, 120), line("strip", 14_400, 1, 120)]);
    let [title, band, likely, ring, middle] = ["t", "b", "l", "r", "m"].map(String::from);
    let words = SpreadWords { title, band, likely, ring, middle };
    let picture = spread(&all, &words, |took| format!("{} jobs", took.worked.len()));
    let rings: Vec<i32> = crate::tests::centres(picture.inline());
    // The axis is four hours long, 512 pixels from 24 on; a ring is drawn as its ground and its line.
    assert_eq!(rings, [17, 17, 24 + 128, 24 + 128, 24 + 512, 24 + 512]);
    let band = boxes(picture.inline(), BAND).into_iter().find(|one| one[3] == TALL).unwrap();
    assert_eq!((band[0], band[2]), (24 + 64, 192), "from half an hour to two");
    assert!(picture.inline().contains("t. The strip: 2 jobs"), "{}", picture.inline());
    for mark in ["0", "30 min", "1 h", "1:30 h", "4 h"] {
        assert!(picture.inline().contains(&format!(">\n{mark}\n<")), "{mark} is not at the axis");
    }
}

#[test]
fn nothing_finished_draws_an_empty_picture_and_no_panic() {
    let [title, band, likely, ring, middle] = [const { String::new() }; 5];
    let picture = spread(&[], &SpreadWords { title, band, likely, ring, middle }, |_| String::new());
    assert!(picture.inline().contains("</svg>"));
}
