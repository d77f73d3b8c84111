//! A tightening as a position of the strip book has it: what to set on the wrench, and what would be reckoned.

use crate::answer::{Answer, Beside, Figure, Rounding, Source, SourceKind, Standing};
use crate::fasteners::{Adapter, BY_ANGLE, Friction, Preload, PropertyClass, Thread, TorqueFromPreload};
use crate::quantity::{Amount, DEFINITIONS, Kind};
use crate::refusal::Refusal;
use leadhand_facts::strip::{PositionDetail, Tighten};
use leadhand_facts::words::SignalWord;

/// The other unit in which every torque is told.
const POUND_FEET: &str = "[lbf_av].[ft_i]";
/// Who types a length in these has a wrench that shows the other unit.
const IMPERIAL: [&str; 2] = ["[in_i]", "[ft_i]"];
const MILLI: f64 = 1e3;
const TEMPLATE: Source =
    Source { name: "the job's template, in the place of the manufacturer's data", kind: SourceKind::DataSet };
const IN_LINE: &str = "in line with the wrench";

/// An adapter between wrench and fastener.
#[derive(Debug, Clone, PartialEq)]
pub struct TightenBy {
    /// From the wrench's square drive to the middle of the grip.
    pub wrench: Amount,
    /// From the square drive to the middle of the fastener.
    pub adapter: Amount,
    /// Between the adapter and the line that goes on from the wrench; in line when it is not said.
    pub angle: Option<Amount>,
}

/// What the torque is to be reckoned from.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// The bolt's class.
    pub class: PropertyClass,
    /// How tight; what is usual when it is not said.
    pub preload: Option<Preload>,
    /// Thread and head friction; what is usual when it is not said.
    pub friction: Option<Friction>,
}

/// A stage of a tightening.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// A torque in pounds-force feet; none for an angle.
    pub beside: Option<Beside>,
    /// What to set, through an adapter; none without one, and none for an angle.
    pub setting: Option<Answer>,
}

/// A tightening by stages.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tightening<'a> {
    /// What is known of the position.
    pub detail: &'a PositionDetail,
}

impl Tightening<'_> {
    /// The tightening as the job has it: whose it is, and what to mind.
    pub fn told(self) -> Answer {
        let mut answer =
            Answer::new("Tightening of the job", "as the job has it; lbf.ft = N.m ÷ 1.355818", &[TEMPLATE]);
        answer.sources.push(DEFINITIONS);
        let stages: Vec<String> = self.detail.tighten.iter().map(|stage| stage_text(*stage)).collect();
        answer.word("tighten", stages.join(", then "));
        answer.said_by(&["tighten"], Standing::Manufacturer);
        answer.list_of("stages", stages);
        if self.detail.tighten.iter().any(|stage| matches!(stage, Tighten::AngleDegrees(_))) {
            answer.caution(SignalWord::Warning, BY_ANGLE);
        }
        answer.caution(
            SignalWord::Caution,
            "A torque counts for threads as the manufacturer wants them, clean and dry or oiled: otherwise it is another \
             preload.",
        );
        answer
    }

    /// Each stage, in order.
    pub fn settings(self, by: Option<&TightenBy>) -> Result<Vec<Setting>, Refusal> {
        self.detail.tighten.iter().map(|stage| setting(*stage, by)).collect()
    }

    /// The torque as it is reckoned, with the manufacturer's in its place where the tightening is a torque to its end:
    /// what angles add to a torque can't be compared with one.
    pub fn reckoned(self, wanted: &Wanted) -> Result<Answer, Refusal> {
        let maker = match self.detail.tighten.last() {
            Some(Tighten::TorqueMilli(milli)) => Some(torque(*milli)),
            _ => None,
        };
        let asked = TorqueFromPreload {
            thread: self.thread()?,
            class: wanted.class,
            preload: wanted.preload.clone(),
            friction: wanted.friction.clone(),
            bearing: None,
            maker,
        };
        let mut answer = asked.reckon()?;
        answer.said_by(&["thread"], Standing::Job);
        Ok(answer)
    }

    /// The thread at the beginning of a size: `M8 x 1.25 x 35` and `M10 x 90` say it, and a second number that is no pitch
    /// of the thread is a length.
    fn thread(self) -> Result<Thread, Refusal> {
        let Some(size) = self.detail.size.as_deref().filter(|size| !size.trim().is_empty()) else {
            let todo = "say it in the template (`size`), or reckon with the thread itself by `leadhand reckon torque`";
            let problem = "the job does not say which thread it is, so no torque is reckoned";
            return Err(Refusal::contradiction("size", problem, todo));
        };
        let parts: Vec<&str> = size.split(['x', 'X', '×']).map(str::trim).collect();
        let plain = |part: &str| part.split_whitespace().next().unwrap_or_default().to_owned();
        if let [diameter, pitch, ..] = parts.as_slice() {
            let fine = Thread::read("size", &format!("{}x{}", plain(diameter), plain(pitch)));
            // So little is no length: it is a pitch that no such thread has.
            if fine.is_ok() || plain(pitch).parse::<f64>().is_ok_and(|number| number < 5.0) {
                return fine;
            }
        }
        Thread::read("size", parts.first().copied().unwrap_or_default())
    }
}

#[allow(clippy::cast_precision_loss, reason = "at most two million")]
fn torque(milli: i64) -> Amount {
    Amount::of(Kind::Torque, milli as f64 / MILLI)
}

/// A torque in both units, and an angle as it is.
fn stage_text(stage: Tighten) -> String {
    match stage {
        Tighten::AngleDegrees(degrees) => format!("{degrees}°"),
        Tighten::TorqueMilli(milli) => {
            let own = torque(milli);
            beside(&own).map_or_else(|| own.to_string(), |other| format!("{own} ({})", other.text()))
        }
    }
}

fn beside(torque: &Amount) -> Option<Beside> {
    let figure = Figure {
        name: "torque",
        label: "Torque".to_owned(),
        value: torque.value(),
        unit: torque.kind().unit(),
        rounding: Rounding::Digits(3),
        standing: Standing::Manufacturer,
        reckoned: None,
    };
    figure.in_unit(POUND_FEET)
}

fn setting(stage: Tighten, by: Option<&TightenBy>) -> Result<Setting, Refusal> {
    let Tighten::TorqueMilli(milli) = stage else { return Ok(Setting { beside: None, setting: None }) };
    let torque = torque(milli);
    let beside = beside(&torque);
    let Some(by) = by else { return Ok(Setting { beside, setting: None }) };
    let angle = by.angle.clone().unwrap_or_else(|| Amount::of(Kind::Angle, 0.0));
    let asked = Adapter { torque, wrench: by.wrench.clone(), adapter: by.adapter.clone(), angle };
    let mut answer = asked.reckon()?;
    if by.angle.is_none() {
        answer.said_by(&["angle"], Standing::Usual(IN_LINE));
    }
    answer.said_by(&["torque"], Standing::Manufacturer);
    if [&by.wrench, &by.adapter].iter().any(|length| IMPERIAL.contains(&length.typed_unit())) {
        // The job's torque has no unit of whoever asks, so what is set goes by that of the lengths.
        answer.inputs.iter_mut().filter(|input| input.name == "torque").for_each(|input| input.unit = Some(POUND_FEET));
    }
    Ok(Setting { beside, setting: Some(answer) })
}
