//! Which packs to draw from stock for a volume.

use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::check::{plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;

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
/// How many steps of the common measure of all sizes are looked at.
const MOST_STEPS: usize = 2_500;
const ML_PER_L: f64 = 1e3;

struct Size {
    millilitres: usize,
    on_hand: usize,
}

impl Draw {
    /// How many of each.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "whole packs of the least sum that is not below the need";
        let mut answer = Answer::new("Packs to draw", formula, &[WHOLE_PACKS]);
        answer.given("needed", &self.needed);
        let needed = within("needed", &self.needed, Kind::Volume, plausible(0.0, 1000.0))?;
        let sizes = self.sizes(&mut answer)?;
        let need = whole(libm::ceil(needed * ML_PER_L - 1e-6));
        let chosen = choose(need, &sizes)?;
        let total: usize = chosen.iter().zip(&sizes).map(|(count, size)| count * size.millilitres).sum();
        let litres = |millilitres: usize| f64::from(u32::try_from(millilitres).unwrap_or(u32::MAX)) / ML_PER_L;
        answer.add("drawn", "Drawn in all", litres(total), "L", Rounding::Places(2));
        answer.add("left_over", "Left over", litres(total) - needed, "L", Rounding::Places(2));
        let counts = chosen.iter().zip(&self.packs).filter(|(count, _)| **count > 0);
        answer.list_of("packs", counts.map(|(count, pack)| format!("{count} × {}", pack.size)).collect());
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
            let on_hand = pack.on_hand.map_or(usize::MAX, |count| usize::try_from(count).unwrap_or(usize::MAX));
            sizes.push(Size { millilitres: whole(libm::round(litres * ML_PER_L)), on_hand });
        }
        Ok(sizes)
    }
}

/// A number of millilitres that was checked to be small and not negative.
fn whole(value: f64) -> usize {
    format!("{:.0}", value.max(0.0)).parse().unwrap_or(0)
}

/// For each sum the fewest packs that make it, size after size; then the least sum that suffices.
fn choose(need: usize, sizes: &[Size]) -> Result<Vec<usize>, Refusal> {
    let step = sizes.iter().map(|size| size.millilitres).fold(0, common_measure).max(1);
    let largest = sizes.iter().map(|size| size.millilitres).max().unwrap_or(0);
    let steps = (need + largest) / step + 1;
    if steps > MOST_STEPS {
        return Err(Refusal::contradiction(
            "packs",
            "the sizes have so small a measure in common that there are too many sums",
            "round the sizes to half a litre, or draw less at once",
        ));
    }
    let mut fewest: Vec<Option<usize>> = vec![None; steps];
    fewest[0] = Some(0);
    let mut taken: Vec<Vec<usize>> = Vec::new();
    for size in sizes {
        let (sums, counts) = with_size(&fewest, size.millilitres / step, size.on_hand);
        fewest = sums;
        taken.push(counts);
    }
    let Some(mut at) = (need.div_ceil(step)..steps).find(|at| fewest[*at].is_some()) else {
        let reason = format!("all packs on hand come to less than {need} mL");
        return Err(Refusal::impossible("the volume", reason, "order more, or draw what there is"));
    };
    let mut chosen = vec![0; sizes.len()];
    for (index, size) in sizes.iter().enumerate().rev() {
        chosen[index] = taken[index][at];
        at -= chosen[index] * (size.millilitres / step);
    }
    Ok(chosen)
}

/// The fewest packs for each sum when one more size may be taken, and how many of that size.
fn with_size(before: &[Option<usize>], width: usize, on_hand: usize) -> (Vec<Option<usize>>, Vec<usize>) {
    let mut sums = before.to_vec();
    let mut counts = vec![0; before.len()];
    for at in 0..before.len() {
        for count in 1..=(at / width).min(on_hand) {
            let Some(others) = before[at - count * width] else { continue };
            if sums[at].is_none_or(|known| others + count < known) {
                sums[at] = Some(others + count);
                counts[at] = count;
            }
        }
    }
    (sums, counts)
}

fn common_measure(a: usize, b: usize) -> usize {
    if b == 0 { a } else { common_measure(b, a % b) }
}
