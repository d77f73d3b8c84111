use super::*;
use crate::tests::boxes;

fn bar(title: &str, seconds: [i64; 5]) -> Bar {
    Bar { title: title.into(), beside: String::new(), seconds }
}

fn words() -> HoursWords {
    HoursWords { title: "job 4".into(), labels: LABELS.map(str::to_owned) }
}

#[test]
fn the_parts_of_a_bar_lie_beside_each_other_and_fill_it() {
    let picture = hours(&[bar("strip", [1000, 333, 333, 333, 1]), bar("clean", [1000, 0, 0, 0, 0])], &words());
    let svg = picture.inline();
    let of = |fill: &str| {
        let head = boxes_filled(svg, fill);
        head.into_iter().filter(|one| one[3] == TALL).collect::<Vec<_>>()
    };
    let mut parts: Vec<[i32; 4]> = of("#14171A");
    let clean = parts.pop().unwrap();
    parts.extend(of("url(#p-blocked)"));
    parts.extend(of("url(#p-wait)"));
    parts.extend(of("#FBFAF7"));
    parts.extend(of("url(#p-outside)"));
    let mut end = 2;
    for [x, _, wide, _] in &parts {
        assert_eq!(*x, end, "{parts:?} leave a gap");
        end = x + wide;
    }
    assert_eq!((parts.len(), end), (5, WIDTH - 2));
    assert_eq!((parts[0][2], clean[2]), (278, 278), "half of the longest is half of the width");
}

fn boxes_filled(svg: &str, fill: &str) -> Vec<[i32; 4]> {
    crate::tests::boxes_of(svg, fill)
}

#[test]
fn what_lasted_nothing_is_left_out_and_all_is_said_in_words() {
    let picture = hours(&[bar("strip & lift", [600, 0, 0, 600, 0]), bar("never", [0; 5])], &words());
    assert!(!picture.inline().contains("never"));
    let told = r#"aria-label="job 4. strip &amp; lift: worked 10 min, idle 10 min""#;
    assert!(picture.inline().contains(told), "{}", picture.inline());
    let none = hours(&[], &words());
    assert!(boxes(none.inline(), INK).iter().all(|one| one[3] != TALL), "{}", none.inline());
}

#[test]
fn a_file_has_its_own_colours_and_patterns() {
    let file = hours(&[bar("strip", [1, 2, 3, 4, 5])], &words()).file();
    assert!(file.starts_with("<svg role=\"img\""), "{file}");
    for part in ["<style>", "prefers-color-scheme: dark", "<pattern id=\"p-wait\"", "url(#p-outside)", "</svg>"] {
        assert!(file.contains(part), "{part} is missing");
    }
    assert_eq!(file.matches("<svg").count(), 1);
}
