//! Closed vocabularies that facts, rows and rules share.

use serde::{Deserialize, Serialize};

macro_rules! vocabulary {
    ($($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $text:literal),+ $(,)? })+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum $name {
            $($(#[$vdoc])* #[serde(rename = $text)] $variant,)+
        }

        impl $name {
            /// Every word, in its documented order.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)+];

            /// The word as stored and as typed.
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $text,)+ }
            }

            /// The meaning of a typed word.
            pub fn from_word(word: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|known| known.word() == word)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.word())
            }
        }
    )+};
}

mod condition;

pub use condition::{Feature, Hazard, VehicleState};

vocabulary! {
    /// What a bay is.
    BayKind {
        /// Lift with two posts; the wheels hang free.
        TwoPostLift = "two-post-lift",
        /// Lift with four posts; the vehicle stands on its wheels.
        FourPostLift = "four-post-lift",
        /// Flat floor with stands.
        Floor = "floor",
        /// Inspection pit.
        Pit = "pit",
    }
    /// What a token's holder may do.
    Role {
        /// Runs the shop.
        Lead = "lead",
        /// Works on vehicles.
        Technician = "technician",
        /// Runs the parts room.
        Parts = "parts",
        /// Looks only.
        Viewer = "viewer",
    }
    /// What shows who a person is at a device.
    ProofKind {
        /// A code on a badge, scanned or typed.
        Badge = "badge",
        /// A number that the person knows.
        Pin = "pin",
    }
    /// Where a job stands.
    JobState {
        /// Under way.
        Open = "open",
        /// Handed over.
        Completed = "completed",
        /// Called off.
        Cancelled = "cancelled",
    }
    /// What a stage asks for.
    StageKind {
        /// Hands on the vehicle.
        Work = "work",
        /// Time only: cooling, curing, an answer, work done elsewhere.
        Wait = "wait",
    }
    /// Where a stage stands.
    StageState {
        /// Not started.
        Pending = "pending",
        /// Started.
        Active = "active",
        /// Done.
        Finished = "finished",
        /// Left out with a reason.
        Skipped = "skipped",
    }
    /// Where a step stands.
    StepState {
        /// Not done.
        Pending = "pending",
        /// Done.
        Done = "done",
        /// Left out with a reason.
        Skipped = "skipped",
    }
    /// What holds a stage up.
    Cause {
        /// Something from the parts room is missing.
        Part = "part",
        /// A tool is missing.
        Tool = "tool",
        /// Somebody is needed.
        Person = "person",
        /// The customer has to answer.
        Customer = "customer",
        /// Work done outside the shop.
        SentOut = "sent-out",
        /// A fastener will not move, or something broke.
        Seized = "seized-or-damaged",
        /// It is not safe to go on.
        Safety = "safety",
        /// The right bay is taken.
        Bay = "bay",
        /// A figure or an instruction is missing.
        Information = "information",
    }
    /// What kind of place holds stock. Contra places stand for the world outside.
    PlaceKind {
        /// A shelf or bin of the parts room. Held.
        Bin = "bin",
        /// What was issued to a job. Held.
        Job = "job",
        /// Where deliveries come from. Contra.
        Supplier = "supplier",
        /// Built into vehicles. Contra.
        Used = "used",
        /// Thrown away. Contra.
        Scrap = "scrap",
        /// Drained or spent fluids. Contra.
        Waste = "waste",
        /// What counting found or missed. Contra.
        Count = "count",
    }
    /// Why stock moved.
    MoveReason {
        /// First count when the shop starts with Leadhand.
        Opening = "opening",
        /// A delivery.
        Receipt = "receipt",
        /// From the bin to a job.
        Issue = "issue",
        /// From a job back to a bin.
        Return = "return",
        /// Built in, at the job's end.
        Used = "used",
        /// A count differed.
        Count = "count",
        /// Thrown away.
        Scrap = "scrap",
    }
    /// Why a reservation became smaller.
    ReservationChange {
        /// The goods went to the job.
        Issued = "issued",
        /// No longer wanted.
        Released = "released",
        /// The stock was not there after all.
        Displaced = "displaced",
    }
    /// Why a vehicle left a bay.
    LeaveReason {
        /// Straight into another bay.
        Moved = "moved",
        /// Outside, to wait.
        RolledOut = "rolled-out",
        /// The job ended.
        JobEnded = "job-ended",
    }
    /// Signal words as in ISO 3864-2 and ANSI Z535.4, gravest first.
    SignalWord {
        /// Will kill or seriously injure.
        Danger = "DANGER",
        /// Could kill or seriously injure.
        Warning = "WARNING",
        /// Could injure.
        Caution = "CAUTION",
        /// Property only.
        Notice = "NOTICE",
    }
    /// What a position is.
    PositionKind {
        /// Bolt, nut, screw, stud.
        Fastener = "fastener",
        /// Plug of a cable.
        Connector = "connector",
        /// Hose or pipe.
        Hose = "hose",
        /// Clip or clamp.
        Clip = "clip",
        /// Cable or part of a loom.
        Cable = "cable",
        /// Earth lead or its point.
        Earth = "earth",
        /// Bracket.
        Bracket = "bracket",
        /// Any other part.
        Part = "part",
        /// Cover, rag, pin, clamp, support: what only the work needs.
        Aid = "aid",
        /// Nobody knows yet.
        Unknown = "unknown",
    }
    /// What is done with a position.
    Manner {
        /// It comes off.
        Off = "off",
        /// It is moved aside and stays on.
        Aside = "aside",
        /// It comes off only to get at something else.
        Access = "access",
        /// It is put in for the time of the work, and has to come out.
        In = "in",
    }
    /// Where to reach a position from.
    Reach {
        /// From above.
        Top = "top",
        /// From below.
        Under = "under",
        /// Through a wheel arch.
        WheelArch = "wheel-arch",
        /// From inside the vehicle.
        Inside = "inside",
    }
    /// Where something that came off is kept.
    Keep {
        /// Put back in its own hole, loose.
        OwnHole = "own-hole",
        /// In a tray.
        Tray = "tray",
        /// In a bag with a tag.
        Bag = "bag",
        /// On the bench.
        Bench = "bench",
        /// Outside the bay.
        Outside = "outside",
        /// At the machine shop.
        MachineShop = "machine-shop",
    }
    /// Whether a position may go back.
    Renew {
        /// Never: it is renewed each time.
        Always = "always",
        /// A check decides.
        Check = "check",
        /// As it is.
        Reuse = "reuse",
    }
    /// How tight something is that went back.
    Tightness {
        /// In its place, held by nothing.
        Loose = "loose",
        /// By hand.
        Finger = "finger-tight",
        /// As it has to be.
        Final = "final",
    }
    /// What a reading is a measure of.
    ReadingKind {
        /// Pressure that a cylinder builds up.
        Compression = "compression",
        /// What a cylinder lets go: a share, or the pressure before and behind the orifice.
        LeakDown = "leak-down",
        /// How far a surface is from flat: one figure with its method, or the heights of its points.
        Flatness = "flatness",
        /// Torque.
        Torque = "torque",
        /// Angle that was reached.
        Angle = "angle",
        /// Run-out of something that turns.
        RunOut = "run-out",
        /// Pressure at the beginning and the end, and for how many minutes it was held.
        PressureHeld = "pressure-held",
        /// Level of a fluid.
        Level = "level",
        /// Anything else.
        Other = "other",
    }
    /// The unit of a reading, by its UCUM code.
    ReadingUnit {
        /// A plain number.
        One = "1",
        /// Per cent.
        Percent = "%",
        /// Kilopascal.
        Kilopascal = "kPa",
        /// Bar.
        Bar = "bar",
        /// Pound-force per square inch.
        Psi = "[psi]",
        /// Millimetre.
        Millimetre = "mm",
        /// Micrometre.
        Micrometre = "um",
        /// Newton metre.
        NewtonMetre = "N.m",
        /// Degree of plane angle.
        Degree = "deg",
        /// Degree Celsius.
        Celsius = "Cel",
        /// Millilitre.
        Millilitre = "mL",
        /// Litre.
        Litre = "L",
        /// Gram.
        Gram = "g",
        /// Volt.
        Volt = "V",
        /// Ampere.
        Ampere = "A",
        /// Ohm.
        Ohm = "Ohm",
        /// Minute.
        Minute = "min",
        /// Second.
        Second = "s",
        /// Turns a minute.
        PerMinute = "/min",
    }
    /// Which fluid an item of the stock is.
    FluidKind {
        /// Coolant, as pure concentrate or mixed.
        Coolant = "coolant",
        /// Water that coolant is mixed with.
        Water = "water",
        /// Oil of an engine, a gearbox or an axle.
        Oil = "oil",
        /// Fluid of brakes or a clutch.
        BrakeFluid = "brake-fluid",
        /// Fuel.
        Fuel = "fuel",
        /// What washes the screens.
        ScreenWash = "screen-wash",
        /// What an air conditioning is filled with.
        Refrigerant = "refrigerant",
        /// What is poured into a system for a while or to mend it, and is none of its fluids: flush, cleaner, sealer, dye.
        Additive = "additive",
    }
    /// Why a stage has no place in a plan.
    NoPlace {
        /// Nobody who can do it has so much time at a stretch before the calendars end.
        NoTime = "no-time",
        /// It comes after a stage that has no place.
        Behind = "behind",
        /// It needs another bay, and the vehicle may not leave the one that it is in.
        CannotMove = "cannot-move",
        /// Vehicles in bays wait for each other's.
        BaysWait = "bays-wait",
        /// It comes after itself.
        Ring = "ring",
        /// Too few can do it.
        TooFew = "too-few",
        /// No bay fits it, or bears the vehicle.
        NoBay = "no-bay",
        /// A shared tool of it is not the shop's.
        NoTool = "no-tool",
        /// It is given to somebody who is no technician of the shop.
        Gone = "gone",
    }
    /// How a reading came out.
    Verdict {
        /// Within its limits.
        In = "in-limits",
        /// Outside of one at least.
        Out = "out-of-limits",
        /// It has no limits.
        Free = "no-limits",
    }
    /// What a lead decides about a reading out of its limits.
    Decision {
        /// It stays as it is, and the work goes on.
        Accept = "accept",
        /// It is measured again before anything else.
        Again = "measure-again",
        /// What it is of is repaired, and measured after that.
        Repair = "repair",
    }
    /// What a remark on a job is.
    RemarkKind {
        /// Something that is still to be watched.
        FollowUp = "follow-up",
        /// Advice on safety that was given, and that the customer did not take.
        AdviceDeclined = "advice-declined",
    }
    /// What came of an attempt at something that will not move.
    Outcome {
        /// It moved, and comes out.
        Moved = "moved",
        /// It did not move.
        NotMoved = "not-moved",
        /// Its head is rounded.
        Rounded = "rounded",
        /// It broke.
        Broken = "broken",
        /// The thread gave way.
        ThreadGone = "thread-gone",
    }
    /// The one label that an instant of a stage's life has, in order of precedence.
    Label {
        /// At least one person was clocked on.
        Worked = "worked",
        /// Outside the shop's hours.
        Outside = "outside",
        /// Held up; the cause of the earliest open blocker.
        Blocked = "blocked",
        /// A wait that the template planned.
        Wait = "wait",
        /// None of these.
        Idle = "idle",
    }
}

impl FluidKind {
    /// As it is said in a sentence.
    pub fn told(self) -> &'static str {
        match self {
            Self::BrakeFluid => "brake fluid",
            Self::ScreenWash => "screen wash",
            Self::Additive => "an additive",
            _ => self.word(),
        }
    }
}

impl Outcome {
    /// Whether what was worked on can't go back: a new one will be needed.
    pub fn is_ruin(self) -> bool {
        matches!(self, Self::Rounded | Self::Broken | Self::ThreadGone)
    }
}

impl PlaceKind {
    /// Whether the shop holds what is here; contra places may go below zero.
    pub fn is_held(self) -> bool {
        matches!(self, Self::Bin | Self::Job)
    }
}
