//! When the people of a plan are at work: the shop's hours, their own, and overtime that is open for them.

use std::collections::BTreeMap;

/// A stretch, in seconds.
type Stretch = (i64, i64);

/// Hours of the shop and of people, each in order.
#[derive(Debug, Default)]
pub struct Hours {
    /// When the shop is open; nothing where that is not known.
    pub shop: Vec<Stretch>,
    /// When each person works while it is open, by id; who is not in it works when the shop is open.
    pub own: BTreeMap<String, Vec<Stretch>>,
    /// Their overtime.
    pub overtime: BTreeMap<String, Vec<Stretch>>,
}

/// A piece of a stage that is worked on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Piece {
    pub from: i64,
    pub until: i64,
    /// Whether it is somebody's overtime.
    pub over: bool,
}

impl Hours {
    /// When a stage is worked on, of the time that it takes: not in the pauses of its people, who are all at it at once. What nobody
    /// is at, such as a cure, goes on by itself; and so does what lies outside of all that is known.
    pub fn worked(&self, people: &[String], (from, until): Stretch) -> Vec<Piece> {
        let whole = vec![Piece { from, until, over: false }];
        if people.is_empty() || self.shop.is_empty() {
            return whole;
        }
        let own = |person: &String| self.own.get(person).unwrap_or(&self.shop).clone();
        let extra = |person: &String| self.overtime.get(person).cloned().unwrap_or_default();
        let both = |person: &String| joined(own(person).into_iter().chain(extra(person)).collect());
        let all = |hours: &dyn Fn(&String) -> Vec<Stretch>| {
            people.iter().fold(vec![(from, until)], |left, person| common(&left, &hours(person)))
        };
        let (usual, with) = (all(&own), all(&both));
        let mut pieces: Vec<Piece> = usual.iter().map(|&(from, until)| Piece { from, until, over: false }).collect();
        pieces.extend(without(&with, &usual).into_iter().map(|(from, until)| Piece { from, until, over: true }));
        pieces.sort_by_key(|piece| piece.from);
        // Hours that were said since, or that nobody may see, explain less than the plan knew.
        let explained =
            with.first().is_some_and(|first| first.0 == from) && with.last().is_some_and(|end| end.1 == until);
        if explained { pieces } else { paused((from, until), &self.shop) }
    }
}

/// The stretch without what lies between the shop's hours and is none in which it begins or ends.
fn paused((from, until): Stretch, open: &[Stretch]) -> Vec<Piece> {
    let inside = |at: i64| from < at && at < until;
    let gaps = open.windows(2).map(|pair| (pair[0].1, pair[1].0));
    let gaps: Vec<Stretch> =
        gaps.filter(|&(closes, opens)| closes < opens && inside(closes) && inside(opens)).collect();
    without(&[(from, until)], &gaps).into_iter().map(|(from, until)| Piece { from, until, over: false }).collect()
}

/// In order, with what touches in one.
fn joined(mut all: Vec<Stretch>) -> Vec<Stretch> {
    all.sort_unstable();
    let mut found: Vec<Stretch> = Vec::new();
    for (from, until) in all {
        match found.last_mut() {
            Some(last) if from <= last.1 => last.1 = last.1.max(until),
            _ => found.push((from, until)),
        }
    }
    found
}

/// What two lists share.
fn common(one: &[Stretch], other: &[Stretch]) -> Vec<Stretch> {
    let both = |a: &Stretch, b: &Stretch| (a.0.max(b.0), a.1.min(b.1));
    let all = one.iter().flat_map(|a| other.iter().map(move |b| both(a, b)));
    all.filter(|(from, until)| from < until).collect()
}

/// What is left of a list without another's.
fn without(all: &[Stretch], gone: &[Stretch]) -> Vec<Stretch> {
    gone.iter().fold(all.to_vec(), |left, gone| {
        let parts = left.iter().flat_map(|&(from, until)| [(from, until.min(gone.0)), (from.max(gone.1), until)]);
        parts.filter(|(from, until)| from < until).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const MOSS: &str = "moss";

    fn worked(hours: &Hours, people: &[&str], span: Stretch) -> Vec<(i64, i64, bool)> {
        let people: Vec<String> = people.iter().map(|&one| one.to_owned()).collect();
        hours.worked(&people, span).into_iter().map(|piece| (piece.from, piece.until, piece.over)).collect()
    }

    #[test]
    fn pauses_of_an_own_shift_are_none_of_the_work_and_overtime_is_told_apart() {
        let mut hours = Hours { shop: vec![(0, 100), (200, 300)], ..Hours::default() };
        assert_eq!(
            worked(&hours, &[MOSS], (50, 250)),
            [(50, 100, false), (200, 250, false)],
            "the shop's hours are theirs"
        );
        hours.own.insert(MOSS.into(), vec![(0, 40), (60, 100), (220, 300)]);
        let pieces = [(20, 40, false), (60, 100, false), (220, 250, false)];
        assert_eq!(worked(&hours, &[MOSS], (20, 250)), pieces);
        assert_eq!(worked(&hours, &[MOSS, "flint"], (20, 250)), pieces, "all at once");
        hours.overtime.insert(MOSS.into(), vec![(100, 120)]);
        let pieces = [(20, 40, false), (60, 100, false), (100, 110, true)];
        assert_eq!(worked(&hours, &[MOSS], (20, 110)), pieces);
        assert_eq!(worked(&hours, &[], (20, 250)), [(20, 250, false)], "nobody is at it");
        let unexplained = [(50, 100, false), (200, 310, false)];
        assert_eq!(worked(&hours, &[MOSS], (50, 310)), unexplained, "it ends when nobody is known to be there");
        assert_eq!(worked(&Hours::default(), &[MOSS], (20, 250)), [(20, 250, false)], "nothing is known");
    }
}
