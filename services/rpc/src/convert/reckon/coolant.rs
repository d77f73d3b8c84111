//! Questions about coolant.

use super::fasteners::is_of;
use super::{Question, chosen, overridden, said};
use crate::convert::{fields, invalid};
use leadhand_app::AppError;
use leadhand_facts::JobNo;
use leadhand_facts::rows::FluidRow;
use leadhand_proto::v1;
use leadhand_reckoner::coolant::{Basis, DrainAndRefill, Draw, Expansion, Fill, FreezingPoint, Pack, Swap, Target};
use leadhand_reckoner::job::{Remaining, held, remaining};
use leadhand_reckoner::{Amount, Answer, Kind, Refusal};

/// The job from whose books a fill is to be reckoned, when one is named.
pub fn fill_from(asked: &v1::ReckonFillRequest) -> Result<Option<JobNo>, AppError> {
    let job = fields::job_some(asked.job)?;
    let named = fields::key_some::<leadhand_facts::FluidKey>("fluid", &asked.fluid)?;
    if job.is_none() && named.is_some() {
        return Err(invalid("job", "a fluid is named and no job; say of which job"));
    }
    Ok(job)
}

/// Puts in what the job knows of its fluid and the request left out.
pub fn fill_of_job(asked: &mut v1::ReckonFillRequest, fluids: &[FluidRow]) -> Result<Option<Remaining>, Refusal> {
    if !asked.left.is_empty() && !asked.capacity.is_empty() {
        return Ok(None);
    }
    let named = Some(asked.fluid.as_str()).filter(|fluid| !fluid.is_empty());
    let capacity = said(Kind::Volume, "capacity", &asked.capacity)?;
    let known = match said(Kind::Volume, "left", &asked.left)? {
        Some(left) => held(fluids, named, left)?,
        None => remaining(fluids, named, capacity.as_ref())?,
    };
    if asked.left.is_empty() && asked.left_strength.is_empty() {
        known.refuse_unknown_strength()?;
    }
    for (field, amount) in [(&mut asked.capacity, &known.capacity), (&mut asked.left, &known.left)] {
        if field.is_empty() {
            amount.to_string().clone_into(field);
        }
    }
    Ok(Some(known))
}

/// A strength or a temperature: the unit says which.
fn target(text: &str, margin: &str) -> Result<Target, Refusal> {
    let margin = Some(margin).filter(|margin| !margin.is_empty());
    let margin_c = margin.map(|margin| Amount::read_degrees("margin", margin)).transpose()?;
    if is_of(Kind::Temperature, text) {
        let celsius = Amount::read(Kind::Temperature, "target", text)?;
        return Ok(Target::FreezingPoint { celsius, margin_c });
    }
    let strength = Amount::read(Kind::Share, "target", text)?;
    if margin_c.is_some() {
        return Err(Refusal::Contradiction {
            field: "margin".to_owned(),
            problem: "it belongs to a freezing point, and the target is a strength".to_owned(),
            todo: "leave it out, or give the temperature to be safe to".to_owned(),
        });
    }
    Ok(Target::Strength(strength))
}

impl Question for v1::ReckonFreezingPointRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let basis = match chosen("basis", self.basis)? {
            Some(v1::StrengthBasis::Mass) => Basis::Mass,
            _ => Basis::Volume,
        };
        let asked = FreezingPoint { strength: Amount::read(Kind::Share, "strength", &self.strength)?, basis };
        overridden(asked.reckon()?, &self.manufacturer)
    }
}

impl Question for v1::ReckonFillRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = Fill {
            capacity: Amount::read(Kind::Volume, "capacity", &self.capacity)?,
            left: Amount::read(Kind::Volume, "left", &self.left)?,
            left_strength: said(Kind::Share, "left_strength", &self.left_strength)?,
            target: target(&self.target, &self.margin)?,
            poured_strength: said(Kind::Share, "poured_strength", &self.poured_strength)?,
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonDrainAndRefillRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = DrainAndRefill {
            capacity: Amount::read(Kind::Volume, "capacity", &self.capacity)?,
            drained: Amount::read(Kind::Volume, "drained", &self.drained)?,
            now: Amount::read(Kind::Share, "now", &self.now)?,
            filled: Amount::read(Kind::Share, "filled", &self.filled)?,
            target: Amount::read(Kind::Share, "target", &self.target)?,
            tolerance: said(Kind::Share, "tolerance", &self.tolerance)?,
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonSwapRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = Swap {
            capacity: Amount::read(Kind::Volume, "capacity", &self.capacity)?,
            now: Amount::read(Kind::Share, "now", &self.now)?,
            target: Amount::read(Kind::Share, "target", &self.target)?,
            filled: said(Kind::Share, "filled", &self.filled)?,
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonExpansionRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = Expansion {
            volume: Amount::read(Kind::Volume, "volume", &self.volume)?,
            strength: Amount::read(Kind::Share, "strength", &self.strength)?,
            cold: Amount::read(Kind::Temperature, "cold", &self.cold)?,
            hot: Amount::read(Kind::Temperature, "hot", &self.hot)?,
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonPacksRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let pack = |(at, pack): (usize, &v1::PackSize)| {
            let negative = |_| Refusal::Contradiction {
                field: format!("packs[{at}].on_hand"),
                problem: "fewer than none are there".to_owned(),
                todo: "count them, or leave it out".to_owned(),
            };
            Ok(Pack {
                size: Amount::read(Kind::Volume, &format!("packs[{at}].size"), &pack.size)?,
                on_hand: pack.on_hand.map(u32::try_from).transpose().map_err(negative)?,
            })
        };
        let asked = Draw {
            needed: Amount::read(Kind::Volume, "needed", &self.needed)?,
            packs: self.packs.iter().enumerate().map(pack).collect::<Result<_, Refusal>>()?,
        };
        asked.reckon()
    }
}
