//! In which order the bolts of a cover or head are tightened and undone, from where they are.

use crate::answer::{Answer, Source, SourceKind, Sureness};
use crate::check::{self, plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::words::SignalWord;

/// A bolt of a layout.
#[derive(Debug, Clone, PartialEq)]
pub struct Bolt {
    /// What it is called.
    pub name: String,
    /// Along the part's length.
    pub x: Amount,
    /// Across it.
    pub y: Amount,
}

/// An order for a layout of bolts.
#[derive(Debug, Clone, PartialEq)]
pub struct Sequence {
    /// The bolts.
    pub bolts: Vec<Bolt>,
}

const CENTRE_OUT: Source =
    Source { name: "from the middle outwards, opposite bolts in turn", kind: SourceKind::CommonPractice };
const MOST_BOLTS: usize = 100;
/// Two places are the same when they are nearer than this share of the nearest two bolts.
const SLACK: f64 = 0.02;

#[derive(Debug, Clone, Copy)]
struct Spot {
    index: usize,
    x: f64,
    y: f64,
}

impl Sequence {
    /// The order of tightening and the order of undoing.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "centre the layout; pair each bolt with the one opposite; take pairs by their distance from the \
                       middle along the part, then across it; undo in the reverse order";
        let mut answer = Answer::new("Order of tightening", formula, &[CENTRE_OUT]);
        let spots = self.centred(&mut answer)?;
        let slack = slack(&spots, &self.bolts)?;
        let groups = in_order(pairs(&spots, slack), slack);
        let single = groups.iter().filter(|group| group.len() == 1 && !is_middle(group[0], slack)).count();
        let tighten: Vec<String> = groups.iter().flatten().map(|spot| self.bolts[spot.index].name.clone()).collect();
        answer.list_of("undo", tighten.iter().rev().cloned().collect());
        answer.list_of("tighten", tighten);
        answer.lists.reverse();
        if single > 0 {
            answer.conclude_and_ask(
                Sureness::Possible,
                format!("{single} of the bolts have none opposite, so this order is a proposal."),
                "The manufacturer's order, which is often cast or printed beside the bolts.",
            );
        }
        answer.caution(
            SignalWord::Caution,
            "In stages, each stage through the whole order; undo in stages as well, or the part warps.",
        );
        Ok(answer)
    }

    fn centred(&self, answer: &mut Answer) -> Result<Vec<Spot>, Refusal> {
        if self.bolts.is_empty() || self.bolts.len() > MOST_BOLTS {
            let todo = format!("give 1 to {MOST_BOLTS}");
            return Err(Refusal::contradiction("bolts", format!("there are {} bolts", self.bolts.len()), todo));
        }
        let mut spots: Vec<Spot> = Vec::new();
        let mut count = 0.0;
        let (mut sum_x, mut sum_y) = (0.0, 0.0);
        for (index, bolt) in self.bolts.iter().enumerate() {
            self.named_once(index)?;
            let x = within(&format!("bolts[{index}].x"), &bolt.x, Kind::Length, plausible(-5000.0, 5000.0))?;
            let y = within(&format!("bolts[{index}].y"), &bolt.y, Kind::Length, plausible(-5000.0, 5000.0))?;
            answer.word(&format!("bolts[{index}]"), format!("{} at {}, {}", bolt.name.trim(), bolt.x, bolt.y));
            (sum_x, sum_y, count) = (sum_x + x, sum_y + y, count + 1.0);
            spots.push(Spot { index, x, y });
        }
        for spot in &mut spots {
            spot.x -= sum_x / count;
            spot.y -= sum_y / count;
        }
        // The part's length is where it is longer, however it lies on the paper.
        let extent = |of: &dyn Fn(&Spot) -> f64| {
            let (low, high) =
                spots.iter().map(of).fold((0.0_f64, 0.0_f64), |(low, high), at| (low.min(at), high.max(at)));
            high - low
        };
        if extent(&|spot| spot.y) > extent(&|spot| spot.x) + 1e-6 {
            for spot in &mut spots {
                (spot.x, spot.y) = (spot.y, spot.x);
            }
        }
        Ok(spots)
    }

    fn named_once(&self, index: usize) -> Result<(), Refusal> {
        let field = format!("bolts[{index}].name");
        let name = check::name(&field, "a bolt", &self.bolts[index].name)?;
        if self.bolts[..index].iter().any(|bolt| bolt.name.trim() == name) {
            let todo = "give each bolt a name of its own";
            return Err(Refusal::contradiction(&field, format!("two bolts are called {name}"), todo));
        }
        Ok(())
    }
}

fn slack(spots: &[Spot], bolts: &[Bolt]) -> Result<f64, Refusal> {
    let mut nearest = f64::INFINITY;
    for (at, one) in spots.iter().enumerate() {
        for other in &spots[..at] {
            let apart = libm::hypot(one.x - other.x, one.y - other.y);
            if apart < 1e-6 {
                return Err(Refusal::contradiction(
                    &format!("bolts[{}]", one.index),
                    format!("{} is where {} is", bolts[one.index].name, bolts[other.index].name),
                    "measure both again",
                ));
            }
            nearest = nearest.min(apart);
        }
    }
    Ok(if nearest.is_finite() { nearest * SLACK } else { 1.0 })
}

fn is_middle(spot: Spot, slack: f64) -> bool {
    libm::hypot(spot.x, spot.y) <= slack
}

/// Each bolt with the one opposite, the one to begin with first; alone where there is none.
fn pairs(spots: &[Spot], slack: f64) -> Vec<Vec<Spot>> {
    let mut left = spots.to_vec();
    let mut groups = Vec::new();
    while let Some(one) = left.pop() {
        let opposite = left.iter().position(|other| libm::hypot(one.x + other.x, one.y + other.y) <= slack);
        let Some(at) = opposite else {
            groups.push(vec![one]);
            continue;
        };
        let other = left.remove(at);
        let begins = one.x > slack || (one.x >= -slack && one.y > 0.0);
        groups.push(if begins { vec![one, other] } else { vec![other, one] });
    }
    groups
}

/// By distance from the middle along the part; those equally far by how far across their first one lies.
fn in_order(mut groups: Vec<Vec<Spot>>, slack: f64) -> Vec<Vec<Spot>> {
    groups.sort_by(|a, b| a[0].x.abs().total_cmp(&b[0].x.abs()));
    let mut start = 0;
    while start < groups.len() {
        let first = groups[start][0].x.abs();
        let end = start + groups[start..].iter().take_while(|group| group[0].x.abs() - first <= slack).count();
        groups[start..end].sort_by(|a, b| across(a[0], b[0], slack));
        start = end;
    }
    groups
}

/// In whole steps, so that it is an order.
fn across(a: Spot, b: Spot, slack: f64) -> std::cmp::Ordering {
    let step = |spot: Spot| libm::round(spot.y / slack);
    step(a).total_cmp(&step(b)).then(b.x.total_cmp(&a.x))
}
