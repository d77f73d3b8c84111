//! Which packs to draw from stock for a volume.

use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::check::{plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use std::collections::BTreeMap;

/// A size of pack, and how many of it are there.
#[derive(Debug, Clone, PartialEq)]
pub struct Pack {
    /// What it holds.
    pub size: Amount,
    /// How many there are; as many as it takes when it is not said.
    pub on_hand: Option<u32>,
}

/// A volume to be drawn in whole packs.
#[derive(Debug, Clone, PartialEq)]
pub struct Draw {
    /// How much is needed.
    pub needed: Amount,
    /// What there is.
    pub packs: Vec<Pack>,
}

const WHOLE_PACKS: Source =
    Source { name: "least left over, and of those the fewest packs", kind: SourceKind::Definition };
const MOST_SIZES: usize = 12;
/// How many sums of packs are looked at.
const MOST_SUMS: usize = 400_000;
/// Packs are counted in thousandths of a millilitre: a quart is no whole number of any larger measure.
const UL_PER_L: f64 = 1e6;
/// What no measuring jug shows is not lacking: four quarts are a gallon, whatever rounding makes of them.
const NOT_LACKING_UL: f64 = 100.0;

struct Size {
    microlitres: u64,
    on_hand: u64,
}

impl Draw {
    /// How many of each.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "whole packs of the least sum that is not below the need";
        let mut answer = Answer::new("Packs to draw", formula, &[WHOLE_PACKS]);
        answer.given("needed", &self.needed);
        let needed = within("needed", &self.needed, Kind::Volume, plausible(0.0, 1000.0))?;
        let sizes = self.sizes(&mut answer)?;
        let need = whole(needed * UL_PER_L - NOT_LACKING_UL);
        let chosen = choose(need, &sizes)?;
        let total: f64 = chosen.iter().zip(&sizes).map(|(count, size)| litres(count * size.microlitres)).sum();
        answer.add("drawn", "Drawn in all", total, "L", Rounding::Places(2));
        answer.add("left_over", "Left over", (total - needed).max(0.0), "L", Rounding::Places(2));
        let counts = chosen.iter().zip(&self.packs).filter(|(count, _)| **count > 0);
        answer.list_of("packs", counts.map(|(count, pack)| format!("{count} × {}", called(&pack.size))).collect());
        answer.conclude(Sureness::Certain, "What is left over goes back closed and labelled.");
        Ok(answer)
    }

    fn sizes(&self, answer: &mut Answer) -> Result<Vec<Size>, Refusal> {
        if self.packs.is_empty() || self.packs.len() > MOST_SIZES {
            let problem = format!("there are {} sizes of pack", self.packs.len());
            return Err(Refusal::contradiction("packs", problem, format!("give 1 to {MOST_SIZES}")));
        }
        let mut sizes = Vec::new();
        for (index, pack) in self.packs.iter().enumerate() {
            let field = format!("packs[{index}].size");
            answer.given(&field, &pack.size);
            let litres = within(&field, &pack.size, Kind::Volume, plausible(0.05, 1000.0))?;
            let on_hand = pack.on_hand.map_or(u64::MAX, u64::from);
            sizes.push(Size { microlitres: whole(libm::round(litres * UL_PER_L)), on_hand });
        }
        Ok(sizes)
    }
}

/// As it stands on the pack, where that is in no litres.
fn called(size: &Amount) -> String {
    if matches!(size.typed_unit(), "L" | "mL") { size.to_string() } else { size.typed().to_owned() }
}

/// A number of microlitres that was checked to be small.
fn whole(value: f64) -> u64 {
    format!("{:.0}", libm::ceil(value.max(0.0))).parse().unwrap_or(0)
}

#[allow(clippy::cast_precision_loss, reason = "far below 2^53")]
fn litres(microlitres: u64) -> f64 {
    microlitres as f64 / UL_PER_L
}

/// How many packs make a sum, and how many of them are of the size that was looked at last.
#[derive(Clone, Copy)]
struct Packs {
    all: u64,
    last: u64,
}

/// For each sum the fewest packs that make it, size after size; then the least sum that suffices. A sum that suffices takes
/// no further pack, so that there are never more sums than can be told apart below the need.
fn choose(need: u64, sizes: &[Size]) -> Result<Vec<u64>, Refusal> {
    let mut sums = BTreeMap::from([(0, Packs { all: 0, last: 0 })]);
    let mut after: Vec<BTreeMap<u64, Packs>> = Vec::new();
    let mut looked_at = 0;
    for size in sizes {
        sums = with_size(&sums, size, need, &mut looked_at)?;
        after.push(sums.clone());
    }
    let Some(mut at) = sums.range(need..).next().map(|(sum, _)| *sum) else {
        let reason = format!("all packs on hand come to less than {} L", Rounding::Places(2).of(litres(need)));
        return Err(Refusal::impossible("the volume", reason, "order more, or draw what there is"));
    };
    let mut chosen = vec![0; sizes.len()];
    for (index, size) in sizes.iter().enumerate().rev() {
        chosen[index] = after[index].get(&at).map_or(0, |packs| packs.last);
        at -= chosen[index] * size.microlitres;
    }
    Ok(chosen)
}

/// The fewest packs for each sum when one more size may be taken.
fn with_size(
    before: &BTreeMap<u64, Packs>,
    size: &Size,
    need: u64,
    looked_at: &mut usize,
) -> Result<BTreeMap<u64, Packs>, Refusal> {
    let mut sums: BTreeMap<u64, Packs> =
        before.iter().map(|(sum, packs)| (*sum, Packs { all: packs.all, last: 0 })).collect();
    for (sum, packs) in before.range(..need) {
        let room = (need - sum).div_ceil(size.microlitres);
        for last in 1..=room.min(size.on_hand) {
            *looked_at += 1;
            if *looked_at > MOST_SUMS {
                return Err(too_many());
            }
            let (sum, all) = (sum + last * size.microlitres, packs.all + last);
            let known = sums.entry(sum).or_insert(Packs { all, last });
            if known.all > all {
                *known = Packs { all, last };
            }
        }
    }
    Ok(sums)
}

fn too_many() -> Refusal {
    let problem = "there are too many sums of these sizes to look at all of them";
    Refusal::contradiction("packs", problem, "say how many packs are there, name fewer sizes, or draw less at once")
}
