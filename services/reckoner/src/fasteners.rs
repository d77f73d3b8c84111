//! Fasteners: threads and what they bear, torque and preload, wrenches and spanners, stages, orders, widths across flats.

mod across;
mod angle;
mod preload;
mod sequence;
mod strength;
mod thread;
mod torque;
mod wrench;

pub use across::{AcrossFlats, HeadKind, ThreadsOfHead};
pub(crate) use angle::BY_ANGLE;
pub use angle::{Seated, TorqueThenAngle};
pub use preload::PreloadFromTorque;
pub use sequence::{Bolt, Sequence};
pub use strength::{PropertyClass, Strength};
pub use thread::Thread;
pub use torque::{Bearing, Friction, Preload, ShortForm, TorqueFromPreload};
pub use wrench::{Adapter, Spanner};

use crate::answer::{Answer, Source, SourceKind};
use leadhand_facts::words::SignalWord;

pub(crate) const ISO_THREADS: Source =
    Source { name: "ISO 261 (sizes and pitches) and ISO 724 (diameters)", kind: SourceKind::StandardFromCopies };
pub(crate) const ISO_STRENGTH: Source =
    Source { name: "ISO 898-1 (stress area, proof stress, yield)", kind: SourceKind::StandardFromCopies };
pub(crate) const ISO_TORQUE: Source =
    Source { name: "torque equation as in ISO 16047 and VDI 2230", kind: SourceKind::StandardFromCopies };

/// What every tightening has to be told.
pub(crate) fn tightening_cautions(answer: &mut Answer) {
    answer.caution(
        SignalWord::Warning,
        "A bolt that is overtightened may break now or later. Use the manufacturer's torque where there is one; this \
         figure holds for the friction that was entered and for no other.",
    );
    answer.caution(
        SignalWord::Caution,
        "Clean threads and a dry blind hole: oil or water that is trapped under a bolt can crack the casting.",
    );
}
