//! Coolant of ethylene glycol and water: strength and freezing point, what to fill, what a drain leaves behind.

mod data;
mod expansion;
mod fill;
mod freezing;
mod packs;
mod series;

pub use data::{freezes_by_mass, freezes_by_volume, volume_strength_for};
pub use expansion::Expansion;
pub use fill::{Fill, Target};
pub use freezing::{Basis, FreezingPoint};
pub use packs::{Draw, Pack};
pub use series::{DrainAndRefill, Swap};

use crate::answer::{Answer, Source, SourceKind};
use crate::check::Range;
use leadhand_facts::words::SignalWord;

pub(crate) const BY_VOLUME: Source = Source {
    name: "ethylene glycol by volume: ASHRAE Handbook data as fitted in CoolProp 8.0 (AEG), 10 to 60 %",
    kind: SourceKind::DataSet,
};
pub(crate) const BY_MASS: Source = Source {
    name: "ethylene glycol by mass: Melinder's data as fitted in CoolProp 8.0 (MEG), 0 to 60 %",
    kind: SourceKind::DataSet,
};
pub(crate) const MIXING: Source = Source { name: "balance of glycol over ideal volumes", kind: SourceKind::Definition };
pub(crate) const STRENGTHS: Source = Source {
    name: "ASTM D3306: concentrate is for 40 to 60 % by volume, prediluted at least 50 %",
    kind: SourceKind::StandardFromCopies,
};

/// What systems hold.
pub(crate) const CAPACITIES: Range =
    Range { least: 0.2, most: 500.0, covered: "cooling systems", todo: "check the capacity and its unit" };
pub(crate) const SHARES: Range =
    Range { least: 0.0, most: 100.0, covered: "a strength by volume", todo: "check the number" };

/// The strengths for which a concentrate is made, in per cent by volume.
const MADE_FOR: std::ops::RangeInclusive<f64> = 40.0..=60.0;

/// What everybody has to be told who handles it; and of a strength that no concentrate is made for.
pub(crate) fn cautions(answer: &mut Answer, strength: Option<f64>) {
    answer.caution(
        SignalWord::Warning,
        "Never open a hot system: let it cool for 30 to 60 minutes at the least, and then still check.",
    );
    answer.caution(
        SignalWord::Warning,
        "Ethylene glycol poisons whoever swallows it and tastes sweet: closed, labelled, out of reach of children and \
         animals.",
    );
    answer.caution(
        SignalWord::Notice,
        "Used coolant goes into its own labelled container, unmixed, and to a licensed carrier. Fill what the \
         manufacturer names: kinds of coolant do not mix.",
    );
    if strength.is_some_and(|strength| !MADE_FOR.contains(&strength)) {
        answer.caution(
            SignalWord::Notice,
            "Concentrates are made for 40 to 60 % by volume; below that they may not protect against rust, and above it \
             they cool worse and freeze sooner.",
        );
    }
}

/// What the data sets leave open.
pub(crate) const SPREAD: &str = "Data sets for the same mixture differ by up to 2.7 °C; leave a margin, and measure with a \
                                 refractometer that has the scale for this glycol.";
