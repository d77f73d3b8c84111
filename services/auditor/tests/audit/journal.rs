//! The journal's own order.

use crate::kit::{Journal, PERSON, id, minute, text};
use leadhand_auditor::{Books, check_journal};
use leadhand_facts::{Entry, Fact, PersonId};

/// Sentences of the faults after one entry was changed; the books stop at the first.
fn faults(change: impl Fn(&mut Vec<Entry>)) -> Vec<(i64, String)> {
    let mut entries = Journal::working().entries;
    change(&mut entries);
    let faults = check_journal(&entries);
    if let Some(first) = faults.first() {
        assert_eq!(Books::of(&entries).unwrap_err(), *first);
    }
    faults.into_iter().map(|fault| (fault.number, fault.sentence)).collect()
}

fn only(change: impl Fn(&mut Vec<Entry>), number: i64, says: &str) {
    let found = faults(change);
    assert!(matches!(&found[..], [(n, sentence)] if *n == number && sentence.contains(says)), "{found:?}");
}

#[test]
fn a_sound_journal_has_no_fault() {
    assert_eq!(faults(|_| ()), []);
    assert_eq!(check_journal(&[]), []);
}

#[test]
fn numbers_ids_and_times_are_checked() {
    only(|entries| drop(entries.remove(3)), 5, "should be 4");
    only(|entries| entries[7].number = 7, 7, "should be 8");
    only(|entries| entries[3].fact_id = entries[1].fact_id, 4, "was there before");
    only(|entries| entries[3].happened_at = minute(1), 4, "after it was recorded");
    only(
        |entries| {
            entries[2].recorded_at = minute(5);
            entries[3].recorded_at = minute(4);
            entries.truncate(4);
        },
        4,
        "before the fact before it",
    );
}

#[test]
fn on_whose_word_is_another_person_who_is_known() {
    only(|entries| entries[3].proved = entries[3].person, 4, "stands beside the same person");
    let mut entries = Journal::working().entries;
    let last = entries.last_mut().unwrap();
    (last.person, last.proved) = (None, Some(PERSON));
    let number = last.number;
    assert!(Books::of(&entries).is_ok());
    entries.last_mut().unwrap().proved = Some(PersonId(id(0xBAD)));
    assert_eq!(Books::of(&entries).unwrap_err().number, number);
}

#[test]
fn only_the_first_fact_opens_the_shop() {
    let opens = "the first fact opens the shop, and no other does";
    only(|entries| entries[3].fact = Fact::ShopOpened { name: text(1), zone: String::new() }, 4, opens);
    only(|entries| entries[0].fact = Fact::SkillsSet { person: PERSON, skills: Vec::new() }, 1, opens);
}

#[test]
fn a_request_takes_effect_once_and_at_one_time() {
    assert_eq!(faults(|entries| entries[3].request = entries[2].request), []);
    only(|entries| entries[4].request = entries[2].request, 5, "took effect before");
    only(
        |entries| {
            entries[3].request = entries[2].request;
            entries[3].happened_at = minute(-1);
        },
        4,
        "did not happen when the rest",
    );
    let days = 24 * 60;
    let much_later = |late: i64| {
        move |entries: &mut Vec<Entry>| {
            entries[7].request = entries[2].request;
            entries[7].recorded_at = minute(late);
        }
    };
    only(much_later(90 * days), 8, "took effect before");
    assert_eq!(faults(much_later(90 * days + 1)), []);
}
