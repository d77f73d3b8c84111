//! What a lead decided about the corrections of time that somebody asked for: told at the bay until it was seen, for a day.

use crate::form::{Done, Fault, Fields};
use crate::pages::Screen;
use crate::sessions::{Signed, Visitor};
use crate::texts::Texts;
use crate::view::Look;
use jiff::{SignedDuration, Timestamp};
use leadhand_sdk::v1::{AskedCorrection, ListAskedCorrectionsRequest};
use leadhand_sdk::{SdkError, moment};

/// For so long it is told to whoever has not seen it.
const TOLD_FOR: SignedDuration = SignedDuration::from_hours(24);

/// A decision, ready to be shown.
#[derive(Debug, PartialEq, Eq)]
pub struct Decided {
    /// The job and the number of the question, as the form names them.
    pub job: i64,
    pub ask: i32,
    pub words: String,
}

/// What was decided in the last day of what this person asked for.
pub async fn load(signed: Option<&Signed>, now: Timestamp) -> Result<Vec<AskedCorrection>, SdkError> {
    let Some(signed) = signed.filter(|signed| signed.has_hands()) else { return Ok(Vec::new()) };
    let decided_from_at = now.checked_sub(TOLD_FOR).ok().map(moment::to_wire);
    let asked = ListAskedCorrectionsRequest { decided_from_at, ..ListAskedCorrectionsRequest::default() };
    let all = signed.client.list_asked_corrections(asked).await?.corrections;
    Ok(all.into_iter().filter(|one| one.decided && one.name == signed.name).collect())
}

/// Keeps that somebody saw what a form names.
pub fn see(screen: &Screen, visitor: &Visitor, fields: &Fields) -> Result<Done, Fault> {
    let decision = (fields.number("job")?, fields.number("ask")?);
    screen.sessions.saw(visitor, decision);
    Ok(Done::default())
}

/// In words, but for what was seen.
pub fn told(all: &[AskedCorrection], seen: &[(i64, i32)], look: Look<'_>) -> Vec<Decided> {
    let left = all.iter().filter(|one| !seen.contains(&(one.job, one.ask)));
    left.map(|one| Decided { job: one.job, ask: one.ask, words: words(one, look) }).collect()
}

fn words(one: &AskedCorrection, look: Look<'_>) -> String {
    let t: &Texts = look.texts;
    let entry = one.as_entered.as_ref().or(one.wanted.as_ref());
    let when = entry.map(|entry| look.near(entry.from_at.as_ref())).unwrap_or_default();
    let what = [t.fill("job", "job", &one.job.to_string()), when].into_iter().filter(|part| !part.is_empty());
    let said = [
        ("what", what.collect::<Vec<_>>().join(", ").into()),
        ("who", one.decided_by.as_str().into()),
        ("answer", one.answer.as_str().into()),
    ];
    t.with(if one.taken { "correction-taken" } else { "correction-declined" }, &said)
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::Clocking;

    #[test]
    fn what_was_decided_is_told_until_it_was_seen() {
        let (texts, zone) = (Texts::of("en-GB"), jiff::tz::TimeZone::UTC);
        let look = Look { texts: &texts, zone: &zone, now: "2031-06-10T09:00:00Z".parse().unwrap() };
        let from_at = Some(moment::to_wire("2031-06-10T07:15:00Z".parse().unwrap()));
        let one = |ask, taken| AskedCorrection {
            job: 7,
            ask,
            decided: true,
            taken,
            decided_by: "Heron".into(),
            answer: "the sheet says so".into(),
            as_entered: Some(Clocking { from_at, ..Clocking::default() }),
            ..AskedCorrection::default()
        };
        let all = [one(1, true), one(2, false)];
        let both = told(&all, &[], look);
        assert!(both[0].words.contains("corrected") && both[1].words.contains("DECLINED"), "{both:?}");
        for part in ["job 7", "07:15", "Heron", "the sheet says so"] {
            assert!(both.iter().all(|one| one.words.contains(part)), "{part}: {both:?}");
        }
        let left = told(&all, &[(7, 1)], look);
        assert_eq!(left.iter().map(|one| one.ask).collect::<Vec<_>>(), [2]);
    }
}
