//! Questions about coolant.

use super::fasteners::is_of;
use super::{Question, chosen, overridden, said};
use crate::convert::{fields, invalid};
use leadhand_app::{AppError, FillBooks};
use leadhand_facts::rows::FluidRow;
use leadhand_facts::{ItemKey, JobNo};
use leadhand_proto::v1;
use leadhand_reckoner::answer::{Input, Standing};
use leadhand_reckoner::coolant::{Basis, DrainAndRefill, Draw, Expansion, Fill, FreezingPoint, Pack, Swap, Target};
use leadhand_reckoner::job::{
    Plain, Poured, Remaining, fluid_of, held, in_words, is_coolant, refuse_unknown_strength, remaining, share,
    whole_millilitres,
};
use leadhand_reckoner::{Amount, Answer, Kind, Refusal};

/// More packs of a size are a slip of the keys.
const PACKS_MOST: u32 = 100_000;

/// The job from whose books a fill is to be reckoned, when one is named, and the item that is to be poured in.
pub fn fill_from(asked: &v1::ReckonFillRequest) -> Result<Option<(JobNo, Option<ItemKey>)>, AppError> {
    let job = fields::job_some(asked.job)?;
    let named = fields::key_some::<leadhand_facts::FluidKey>("fluid", &asked.fluid)?;
    let item = fields::key_some::<ItemKey>("item", &asked.item)?;
    match job {
        Some(job) => Ok(Some((job, item))),
        None if named.is_some() => Err(invalid("job", "a fluid is named and no job; say of which job")),
        None if item.is_some() => Err(invalid("job", "an item is named and no job; say of which job")),
        None => Ok(None),
    }
}

/// A fill by what the job knows of its fluid and the request left out; and which fluid that is.
pub fn fill_of_job(mut asked: v1::ReckonFillRequest, books: &FillBooks) -> Result<(Answer, String), Refusal> {
    readable(&asked)?;
    let named = Some(asked.fluid.as_str()).filter(|fluid| !fluid.is_empty());
    let fluid = fluid_of(&books.fluids, named)?;
    let (steps, listed, filling) = (&books.steps, &books.listed, books.filling(&fluid.fluid));
    let poured = books.item.as_ref().map(|item| Poured { fluid, item, steps, filling, listed });
    let given = said(Kind::Share, "poured_strength", &asked.poured_strength)?;
    let says = match &poured {
        Some(poured) if is_coolant(fluid) => poured.strength(given.as_ref())?,
        _ => None,
    };
    if let Some(says) = says {
        asked.poured_strength = share(says)?.to_string();
    }
    let mut answer = if is_coolant(fluid) { mixed(asked, &books.fluids)? } else { plain(&asked, fluid)? };
    if says.is_some() && given.is_none() {
        answer.said_by(&["poured_strength"], Standing::Job);
    }
    if let Some(poured) = poured {
        poured.check(&mut answer)?;
    }
    Ok((answer, fluid.fluid.to_string()))
}

/// What can't be read is told by its field, whatever the job knows.
fn readable(asked: &v1::ReckonFillRequest) -> Result<(), Refusal> {
    for (field, text) in [("capacity", &asked.capacity), ("left", &asked.left)] {
        said(Kind::Volume, field, text)?;
    }
    for (field, text) in [("left_strength", &asked.left_strength), ("poured_strength", &asked.poured_strength)] {
        said(Kind::Share, field, text)?;
    }
    if !asked.target.is_empty() {
        target(&asked.target, "")?;
    }
    if !asked.margin.is_empty() {
        Amount::read_degrees("margin", &asked.margin)?;
    }
    Ok(())
}

/// What is poured in with water.
fn mixed(mut asked: v1::ReckonFillRequest, fluids: &[FluidRow]) -> Result<Answer, Refusal> {
    let named = Some(asked.fluid.as_str()).filter(|fluid| !fluid.is_empty());
    let capacity = said(Kind::Volume, "capacity", &asked.capacity)?;
    let known: Option<Remaining> = match (said(Kind::Volume, "left", &asked.left)?, &capacity) {
        (Some(left), Some(_)) => {
            if asked.left_strength.is_empty() {
                refuse_unknown_strength(&left, &in_words(fluid_of(fluids, named)?))?;
            }
            None
        }
        (Some(left), None) => Some(held(fluids, named, left)?),
        (None, _) => Some(remaining(fluids, named, capacity.as_ref())?),
    };
    if let Some(known) = &known {
        if asked.left_strength.is_empty() {
            known.refuse_unknown_strength()?;
        }
        for (field, amount) in [(&mut asked.capacity, &known.capacity), (&mut asked.left, &known.left)] {
            if field.is_empty() {
                amount.to_string().clone_into(field);
            }
        }
    }
    let mut answer = asked.reckon()?;
    if let Some(known) = known {
        known.tell(&mut answer);
    }
    Ok(answer)
}

/// What is never mixed with water: what is asked of a mixture is no question.
fn plain(asked: &v1::ReckonFillRequest, row: &FluidRow) -> Result<Answer, Refusal> {
    let of_mixtures = [
        ("target", &asked.target),
        ("margin", &asked.margin),
        ("left_strength", &asked.left_strength),
        ("poured_strength", &asked.poured_strength),
    ];
    if let Some((field, _)) = of_mixtures.into_iter().find(|(_, text)| !text.is_empty()) {
        return Err(Refusal::Contradiction {
            field: field.to_owned(),
            problem: format!("{} is no coolant and never mixed with water, so it has no strength", in_words(row)),
            todo: "leave strengths, target and margin out: how much of it is poured in is told without".to_owned(),
        });
    }
    let (capacity, left) = (said(Kind::Volume, "capacity", &asked.capacity)?, said(Kind::Volume, "left", &asked.left)?);
    Plain { row, capacity, left }.reckon()
}

/// A strength or a temperature: the unit says which.
fn target(text: &str, margin: &str) -> Result<Target, Refusal> {
    let margin = Some(margin).filter(|margin| !margin.is_empty());
    let margin_c = margin.map(|margin| Amount::read_degrees("margin", margin)).transpose()?;
    if is_of(Kind::Temperature, text) {
        let celsius = Amount::read(Kind::Temperature, "target", text)?;
        return Ok(Target::FreezingPoint { celsius, margin_c });
    }
    let strength = Amount::read(Kind::Share, "target", text).map_err(either)?;
    if margin_c.is_some() {
        return Err(Refusal::Contradiction {
            field: "margin".to_owned(),
            problem: "it belongs to a freezing point, and the target is a strength".to_owned(),
            todo: "leave it out, or give the temperature to be safe to".to_owned(),
        });
    }
    Ok(Target::Strength(strength))
}

/// What is neither a strength nor a temperature is told as both.
fn either(refusal: Refusal) -> Refusal {
    const EXAMPLE: &str = "50 % or -30 °C";
    match refusal {
        Refusal::Unit { field, typed, why, .. } => {
            Refusal::Unit { field, typed, wanted: "strength or freezing point", why, example: EXAMPLE }
        }
        Refusal::Unreadable { field, typed, why, .. } => Refusal::Unreadable { field, typed, why, example: EXAMPLE },
        other => other,
    }
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
            let plausible = |count: u32| {
                let many = || Refusal::Contradiction {
                    field: format!("packs[{at}].on_hand"),
                    problem: format!("no shelf has {count} of them"),
                    todo: "count them, or leave it out".to_owned(),
                };
                if count <= PACKS_MOST { Ok(count) } else { Err(many()) }
            };
            Ok(Pack {
                size: Amount::read(Kind::Volume, &format!("packs[{at}].size"), &pack.size)?,
                on_hand: pack.on_hand.map(u32::try_from).transpose().map_err(negative)?.map(plausible).transpose()?,
            })
        };
        let asked = Draw {
            needed: Amount::read(Kind::Volume, "needed", &self.needed)?,
            packs: self.packs.iter().enumerate().map(pack).collect::<Result<_, Refusal>>()?,
        };
        asked.reckon()
    }
}

/// What is drawn from stock in packs.
#[derive(Default)]
pub struct Drawn {
    /// How many millilitres; as many as are needed where nothing is said.
    pub millilitres: Option<i64>,
    /// In which packs.
    pub packs: Vec<String>,
    /// The packs that were named.
    pub inputs: Vec<Input>,
}

/// What is drawn for so many millilitres that are needed; as many where no packs are named.
pub fn drawn(needed_ml: i64, packs: Vec<v1::PackSize>) -> Result<Drawn, Refusal> {
    if packs.is_empty() || needed_ml == 0 {
        return Ok(Drawn::default());
    }
    let answer = v1::ReckonPacksRequest { needed: format!("{needed_ml} mL"), packs }.reckon()?;
    let millilitres = answer.figure("drawn").map(|figure| whole_millilitres(figure.value));
    let packs = answer.list("packs").map(<[String]>::to_vec).unwrap_or_default();
    Ok(Drawn { millilitres, packs, inputs: answer.inputs })
}
