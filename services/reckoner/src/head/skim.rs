//! How much may be skimmed off, and what that and the gasket do to the compression ratio.

use super::flatness::FLATNESSES;
use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::check::{Range, plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::words::SignalWord;

const GEOMETRY: Source = Source { name: "volumes of cylinders", kind: SourceKind::Definition };
const HEIGHTS: Source = Source { name: "the maker's least height of the head", kind: SourceKind::CommonPractice };

/// Whether a head may be skimmed.
#[derive(Debug, Clone, PartialEq)]
pub struct Skim {
    /// The head's height now.
    pub height: Amount,
    /// The least that the maker allows.
    pub least_height: Amount,
    /// How much is to come off: at the least its flatness by minimum zone.
    pub cut: Amount,
}

fn consequences(answer: &mut Answer) {
    answer.caution(
        SignalWord::Notice,
        "Less height brings valves nearer to the pistons and shifts the cam timing: ask the maker for clearance, a thicker \
         gasket and how timing is put right.",
    );
}

impl Skim {
    /// The allowance, and what is left.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let mut answer = Answer::new("Skim", "allowed when height − cut ≥ least height", &[HEIGHTS]);
        answer.given("height", &self.height);
        answer.given("least_height", &self.least_height);
        answer.given("cut", &self.cut);
        let height = within("height", &self.height, Kind::Length, plausible(20.0, 500.0))?;
        let least = within("least_height", &self.least_height, Kind::Length, plausible(20.0, 500.0))?;
        let cut = within("cut", &self.cut, Kind::Length, FLATNESSES)?;
        let allowance = height - least;
        answer.add("allowance", "May come off in all", allowance, "mm", Rounding::Down(2));
        answer.add("height_after", "Height after the cut", height - cut, "mm", Rounding::Places(2));
        // A millionth of a millimetre is what doubles lose, and no gauge reads.
        let text = if allowance < 0.0 {
            "The head is already below its least height: it is not used again.".to_owned()
        } else if cut <= allowance + 1e-6 {
            format!("The cut of {cut} mm leaves enough height.")
        } else {
            format!("The cut of {cut} mm takes it below the least height: another head, or less cut.")
        };
        answer.conclude_and_ask(Sureness::Certain, text, "How much was skimmed before, often stamped into the head.");
        consequences(&mut answer);
        Ok(answer)
    }
}

/// What a skim and another gasket do to the compression ratio.
#[derive(Debug, Clone, PartialEq)]
pub struct CompressionChange {
    /// Bore.
    pub bore: Amount,
    /// Stroke.
    pub stroke: Amount,
    /// Compression ratio before, as a number to one.
    pub ratio: Amount,
    /// What is skimmed off.
    pub cut: Amount,
    /// The chamber's opening as a share of the bore's area; 100 % when it is not said.
    pub chamber: Option<Amount>,
    /// How much thicker the new gasket is, negative when thinner; as thick when it is not said.
    pub gasket: Option<Amount>,
}

impl CompressionChange {
    /// The ratio after.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "ε = (Vs + Vc)/Vc; Vs = π/4·bore²·stroke; Vc after = Vc − k·A·cut + A·gasket";
        let mut answer = Answer::new("Compression ratio", formula, &[GEOMETRY]);
        let before = self.before(&mut answer)?;
        answer.given("cut", &self.cut);
        let cut = within("cut", &self.cut, Kind::Length, FLATNESSES)?;
        let why = "a chamber as wide as the bore";
        let chamber = answer.or_usual("chamber", self.chamber.as_ref(), (Kind::Share, 100.0), why);
        let chamber = within("chamber", &chamber, Kind::Share, plausible(20.0, 150.0))? / 100.0;
        let why = "a gasket as thick as before";
        let gasket = answer.or_usual("gasket", self.gasket.as_ref(), (Kind::Length, 0.0), why);
        let gasket = within("gasket", &gasket, Kind::Length, plausible(-3.0, 3.0))?;
        let clearance = before.clearance - before.area * (chamber * cut - gasket) / MM3_PER_CC;
        let ratios = RATIOS.least..=RATIOS.most;
        let after = (before.swept + clearance) / clearance;
        if clearance <= 0.0 || !ratios.contains(&after) {
            let problem = format!("{cut} mm off leaves {clearance:.1} cc above the piston");
            return Err(Refusal::contradiction("cut", problem, "check bore, ratio and cut"));
        }
        answer.add("ratio", "Compression ratio after", after, "1", Rounding::Places(2));
        answer.add("ratio_change", "Change", after - before.ratio, "1", Rounding::Places(2));
        answer.add("swept", "Swept volume a cylinder", before.swept, "mL", Rounding::Places(1));
        answer.add("clearance_before", "Clearance volume before", before.clearance, "mL", Rounding::Places(1));
        answer.add("clearance", "Clearance volume after", clearance, "mL", Rounding::Places(1));
        if after > before.ratio {
            let text = "More compression can knock on fuel that was good enough before.";
            answer.conclude_and_ask(Sureness::Possible, text, "The maker's word on fuel and on a thicker gasket.");
        }
        consequences(&mut answer);
        Ok(answer)
    }

    fn before(&self, answer: &mut Answer) -> Result<Before, Refusal> {
        answer.given("bore", &self.bore);
        answer.given("stroke", &self.stroke);
        answer.given("ratio", &self.ratio);
        let bore = within("bore", &self.bore, Kind::Length, plausible(20.0, 300.0))?;
        let stroke = within("stroke", &self.stroke, Kind::Length, plausible(20.0, 400.0))?;
        let ratio = within("ratio", &self.ratio, Kind::Number, RATIOS)?;
        let area = std::f64::consts::FRAC_PI_4 * bore * bore;
        let swept = area * stroke / MM3_PER_CC;
        Ok(Before { area, swept, clearance: swept / (ratio - 1.0), ratio })
    }
}

/// In square millimetres and cubic centimetres.
struct Before {
    area: f64,
    swept: f64,
    clearance: f64,
    ratio: f64,
}

const MM3_PER_CC: f64 = 1e3;
const RATIOS: Range = Range {
    least: 4.0,
    most: 30.0,
    covered: "compression ratios of engines",
    todo: "give the ratio as so many to one, such as 10:1",
};
