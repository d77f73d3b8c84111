use super::*;
use leadhand_sdk::v1::{AttemptOutcome, Cause, Keep, PositionKind, Reach, ReadingKind, SignalWord, VehicleState};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

fn keys(file: &str) -> BTreeSet<&str> {
    let named = file.lines().filter(|line| line.starts_with(|c: char| c.is_ascii_lowercase()));
    named.filter_map(|line| Some(line.split_once(" =")?.0)).collect()
}

#[test]
fn both_languages_have_the_same_keys_and_can_be_read_whole() {
    assert_eq!(keys(FILES[0]), keys(FILES[1]));
    for (file, locale) in FILES.iter().zip(LOCALES) {
        let texts = Texts::of(locale);
        assert_eq!(texts.lang(), locale);
        assert!(FluentResource::try_new((*file).to_owned()).is_ok(), "{locale} can't be read whole");
        assert!(keys(file).iter().all(|key| texts.bundle.has_message(key)), "{locale}");
    }
}

fn sources(dir: &str) -> Vec<(String, String)> {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join(dir);
    let files = fs::read_dir(dir).unwrap().map(|entry| entry.unwrap().path());
    let named = files.filter(|path| !path.to_string_lossy().ends_with("_tests.rs"));
    named.map(|path| (path.display().to_string(), fs::read_to_string(&path).unwrap())).collect()
}

/// Every key in quotes behind one of the calls that say something, and the vocabularies of the contract.
#[test]
fn every_key_that_is_asked_for_has_words() {
    let known = keys(FILES[0]);
    let mut asked = 0;
    for (name, text) in sources("src").into_iter().chain(sources("templates")) {
        for call in ["say(\"", "count(\"", "fill(\"", ".with(\"", "with(\n        \""] {
            for found in text.split(call).skip(1) {
                let key = found.split('"').next().unwrap();
                asked += 1;
                assert!(known.contains(key), "{name} asks for '{key}'");
            }
        }
    }
    assert!(asked > 40, "only {asked} were found");
    let causes = (0..).map_while(|n| Cause::try_from(n).ok()).map(|cause| cause.as_str_name());
    let words = (0..).map_while(|n| SignalWord::try_from(n).ok()).map(|word| word.as_str_name());
    let more = (0..).map_while(|n| Keep::try_from(n).ok()).map(|one| one.as_str_name());
    let more = more.chain((0..).map_while(|n| PositionKind::try_from(n).ok()).map(|one| one.as_str_name()));
    let more = more.chain((0..).map_while(|n| AttemptOutcome::try_from(n).ok()).map(|one| one.as_str_name()));
    let more = more.chain((0..).map_while(|n| ReadingKind::try_from(n).ok()).map(|one| one.as_str_name()));
    let more = more.chain((0..).map_while(|n| VehicleState::try_from(n).ok()).map(|one| one.as_str_name()));
    let more = more.chain((0..).map_while(|n| Reach::try_from(n).ok()).map(|one| one.as_str_name()));
    for word in causes.chain(words).chain(more) {
        assert!(known.contains(word.to_lowercase().replace('_', "-").as_str()), "{word}");
    }
    let made = [
        ("standing", ["left", "off", "own-hole", "aside", "in", "partly", "settled"].as_slice()),
        ("ask", &["missing", "damaged", "studs", "refitted", "renewed", "left-out", "scrapped", "came-out"]),
        ("verdict", &["within", "out", "accepted", "free"]),
        ("urgency", &["1", "2", "3", "4", "5"]),
        ("label", &["worked", "blocked", "wait", "idle", "outside"]),
    ];
    for (kind, names) in made {
        for name in names {
            assert!(known.contains(format!("{kind}-{name}").as_str()), "{kind}-{name}");
        }
    }
    for standing in ["held-up", "late", "at-risk", "under-way", "unattended"] {
        assert!(known.contains(standing) && known.contains(format!("count-{standing}").as_str()), "{standing}");
    }
}

/// What stands between tags, expressions and the lines of a template must hold no words: they belong to the files.
#[test]
fn no_template_has_words_of_its_own() {
    for (name, text) in sources("templates") {
        let mut bare = text.clone();
        for (open, close) in [("{{", "}}"), ("{%", "%}"), ("<", ">"), ("&", ";")] {
            while let Some(at) = bare.find(open) {
                let end = bare[at..].find(close).map_or(bare.len(), |end| at + end + close.len());
                bare.replace_range(at..end, " ");
            }
        }
        assert!(!bare.contains(char::is_alphanumeric), "{name}: {:?}", bare.split_whitespace().collect::<Vec<_>>());
        for attribute in ["title=\"", "alt=\"", "aria-label=\"", "placeholder=\"", "content=\""] {
            for found in text.split(attribute).skip(1) {
                let value = found.split('"').next().unwrap();
                let known = ["width=device-width, initial-scale=1", "light dark", "20", "60"];
                assert!(value.starts_with("{{") || known.contains(&value), "{name}: {value}");
            }
        }
    }
}

#[test]
fn numbers_and_names_are_put_in_without_marks_around_them() {
    let texts = Texts::of("en-GB");
    assert_eq!(texts.count("count-held-up", 2), "2 held up");
    assert_eq!(texts.count("all-as-listed", 1), "The step that is left: done as listed");
    assert_eq!(texts.count("all-as-listed", 12), "All 12 steps that are left: done as listed");
    assert_eq!(texts.fill("sees-to-it", "who", "Wren"), "Wren sees to it");
    assert_eq!(Texts::of("en-US").fill("sees-to-it", "who", "Wren"), "Wren is on it");
    assert_eq!(texts.say("no-such-key"), "no-such-key");
}

/// As in the CLDR's patterns for en-GB and en-US: the day before the month, or after it.
#[test]
fn dates_stand_in_the_order_of_the_language() {
    let day = jiff::civil::date(2031, 6, 12);
    let (british, american) = (Texts::of("en-GB"), Texts::of("en-US"));
    assert_eq!((british.day(day, true), british.day(day, false)), ("Thu 12 Jun".to_owned(), "12 Jun".to_owned()));
    assert_eq!((american.day(day, true), american.day(day, false)), ("Thu, Jun 12".to_owned(), "Jun 12".to_owned()));
    let at = moment::to_wire("2031-06-12T09:40:00Z".parse().unwrap());
    let near = |texts: &Texts| texts.near(Some(&at), &TimeZone::UTC, "2031-06-10T12:00:00Z".parse().unwrap());
    assert_eq!((near(&british), near(&american)), ("Thu 12 Jun 09:40".to_owned(), "Thu, Jun 12, 09:40".to_owned()));
}
