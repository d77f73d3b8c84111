//! Closed vocabularies.

use super::invalid;
use leadhand_app::AppError;
use leadhand_domain::hand_over::Remedy;
use leadhand_domain::strip::Standing as PositionStanding;
use leadhand_domain::view::audit::By;
use leadhand_domain::view::board::{Promise, Standing};
use leadhand_facts::words::{
    BayKind, Cause, Decision, FluidKind, Hazard, JobState, Keep, Label, Manner, NoPlace, Outcome, PositionKind,
    ProofKind, Reach, ReadingKind, RemarkKind, Renew, Role, SignalWord, StageKind, StepState, Tightness, VehicleState,
    Verdict,
};
use leadhand_proto::v1;

macro_rules! to_wire {
    ($($to:ident: $own:ident -> $wire:ident { $($mine:ident = $theirs:ident),+ })+) => {$(
        /// For the wire.
        pub fn $to(value: $own) -> i32 {
            (match value { $($own::$mine => v1::$wire::$theirs,)+ }) as i32
        }
    )+};
}

macro_rules! from_wire {
    ($($from:ident: $wire:ident -> $own:ident { $($theirs:ident = $mine:ident),+ })+) => {$(
        /// From the wire; what is unspecified or unknown is refused.
        pub fn $from(field: &str, value: i32) -> Result<$own, AppError> {
            match v1::$wire::try_from(value) {
                $(Ok(v1::$wire::$theirs) => Ok($own::$mine),)+
                _ => Err(unchosen(field, value)),
            }
        }
    )+};
}

fn unchosen(field: &str, value: i32) -> AppError {
    if value == 0 {
        return invalid(field, "it is not specified; choose one");
    }
    invalid(field, format!("{value} is unknown here; choose one of the contract"))
}

to_wire! {
    bay_kind: BayKind -> BayKind {
        TwoPostLift = TwoPostLift, FourPostLift = FourPostLift, Floor = Floor, Pit = Pit
    }
    role: Role -> Role { Lead = Lead, Technician = Technician, Parts = Parts, Viewer = Viewer }
    fluid_kind: FluidKind -> FluidKind {
        Coolant = Coolant, Water = Water, Oil = Oil, BrakeFluid = BrakeFluid, Fuel = Fuel, ScreenWash = ScreenWash,
        Refrigerant = Refrigerant, Additive = Additive
    }
    job_state: JobState -> JobState { Open = Open, Completed = Completed, Cancelled = Cancelled }
    stage_kind: StageKind -> StageKind { Work = Work, Wait = Wait }
    step_state: StepState -> StepState { Pending = Pending, Done = Done, Skipped = Skipped }
    cause: Cause -> Cause {
        Part = Part, Tool = Tool, Person = Person, Customer = Customer, SentOut = SentOut,
        Seized = SeizedOrDamaged, Safety = Safety, Bay = Bay, Information = Information
    }
    signal_word: SignalWord -> SignalWord {
        Danger = Danger, Warning = Warning, Caution = Caution, Notice = Notice
    }
    label: Label -> Label {
        Worked = Worked, Outside = Outside, Blocked = Blocked, Wait = Wait, Idle = Idle
    }
    position_kind: PositionKind -> PositionKind {
        Fastener = Fastener, Connector = Connector, Hose = Hose, Clip = Clip, Cable = Cable, Earth = Earth,
        Bracket = Bracket, Part = Part, Aid = Aid, Unknown = Unknown
    }
    manner: Manner -> Manner { Off = Off, Aside = Aside, Access = Access, In = In }
    reach: Reach -> Reach { Top = Top, Under = Under, WheelArch = WheelArch, Inside = Inside }
    keep: Keep -> Keep {
        OwnHole = OwnHole, Tray = Tray, Bag = Bag, Bench = Bench, Outside = Outside, MachineShop = MachineShop
    }
    renew: Renew -> Renew { Always = Always, Check = Check, Reuse = Reuse }
    tightness: Tightness -> Tightness { Loose = Loose, Finger = Finger, Final = Final }
    reading_kind: ReadingKind -> ReadingKind {
        Compression = Compression, LeakDown = LeakDown, Flatness = Flatness, Torque = Torque, Angle = Angle,
        RunOut = RunOut, PressureHeld = PressureHeld, Level = Level, Other = Other
    }
    verdict: Verdict -> Verdict { In = In, Out = Out, Free = Free }
    decision: Decision -> Decision { Accept = Accept, Again = Again, Repair = Repair }
    remedy: Remedy -> Remedy { Nobody = Nobody, End = End, Lead = Lead }
    remark_kind: RemarkKind -> RemarkKind { FollowUp = FollowUp, AdviceDeclined = AdviceDeclined }
    outcome: Outcome -> AttemptOutcome {
        Moved = Moved, NotMoved = NotMoved, Rounded = Rounded, Broken = Broken, ThreadGone = ThreadGone
    }
    position_standing: PositionStanding -> PositionStanding {
        NotYet = NotYet, Off = Off, OwnHole = OffInOwnHole, Aside = Aside, In = StillIn, PartlyBack = PartlyBack,
        Settled = Settled
    }
    vehicle_state: VehicleState -> VehicleState {
        BatteryConnected = BatteryConnected, BatteryIsolated = BatteryIsolated, FuelPressureLive = FuelPressureLive,
        FuelPressureRelieved = FuelPressureRelieved, CoolantFull = CoolantFull, CoolantDrained = CoolantDrained,
        OilFull = OilFull, OilDrained = OilDrained, SupportWheels = SupportWheels, SupportStands = SupportStands,
        SupportLift = SupportLift, EngineMounted = EngineMounted, EngineAbove = EngineHeldAbove,
        EngineBelow = EngineHeldBelow, RollingFree = RollingFree, RollingBlocked = RollingBlocked,
        BonnetLatched = BonnetLatched, BonnetOpen = BonnetOpen, PortsClosed = PortsClosed, PortsOpen = PortsOpen,
        PortsCovered = PortsCovered, CrankFree = CrankFree, CrankHeld = CrankHeld, BrakesReady = BrakesReady,
        BrakesOpen = BrakesOpen, TemperatureHot = TemperatureHot, TemperatureCold = TemperatureCold,
        AirbagsLive = AirbagsLive, AirbagsSafe = AirbagsSafe, HighVoltageUnchecked = HighVoltageUnchecked,
        HighVoltageNone = HighVoltageNone, HighVoltageIsolated = HighVoltageIsolated,
        HighVoltageLive = HighVoltageLive
    }
    hazard: Hazard -> Hazard {
        HighVoltage = HighVoltage, Fuel = Fuel, RaisedVehicle = RaisedVehicle, EngineHeldBelow = EngineHeldBelow,
        Battery = Battery, Airbag = Airbag, Spring = Spring, SprungLever = SprungLever, HotCoolant = HotCoolant,
        Seized = Seized, Lifting = Lifting, Glycol = Glycol, UsedFluid = UsedFluid
    }
    promise: Promise -> PromiseState {
        None = None, Holds = Holds, AtRisk = AtRisk, Late = Late, Unknown = Unspecified, NoPlace = NoPlace,
        NoStages = NoStages
    }
    no_place: NoPlace -> NoPlace {
        NoTime = NoTime, Behind = Behind, CannotMove = CannotMove, BaysWait = BaysWait, Ring = Ring, TooFew = TooFew,
        NoBay = NoBay, NoTool = NoTool, Gone = Gone
    }
}

from_wire! {
    read_proof: ProofKind -> ProofKind { Badge = Badge, Pin = Pin }
    read_no_place: NoPlace -> NoPlace {
        NoTime = NoTime, Behind = Behind, CannotMove = CannotMove, BaysWait = BaysWait, Ring = Ring, TooFew = TooFew,
        NoBay = NoBay, NoTool = NoTool, Gone = Gone
    }
    read_bay_kind: BayKind -> BayKind {
        TwoPostLift = TwoPostLift, FourPostLift = FourPostLift, Floor = Floor, Pit = Pit
    }
    read_role: Role -> Role { Lead = Lead, Technician = Technician, Parts = Parts, Viewer = Viewer }
    read_job_state: JobState -> JobState { Open = Open, Completed = Completed, Cancelled = Cancelled }
    read_stage_kind: StageKind -> StageKind { Work = Work, Wait = Wait, Unspecified = Work }
    read_cause: Cause -> Cause {
        Part = Part, Tool = Tool, Person = Person, Customer = Customer, SentOut = SentOut,
        SeizedOrDamaged = Seized, Safety = Safety, Bay = Bay, Information = Information
    }
    read_signal_word: SignalWord -> SignalWord {
        Danger = Danger, Warning = Warning, Caution = Caution, Notice = Notice
    }
    read_position_kind: PositionKind -> PositionKind {
        Fastener = Fastener, Connector = Connector, Hose = Hose, Clip = Clip, Cable = Cable, Earth = Earth,
        Bracket = Bracket, Part = Part, Aid = Aid, Unknown = Unknown
    }
    read_manner: Manner -> Manner { Off = Off, Aside = Aside, Access = Access, In = In }
    read_keep: Keep -> Keep {
        OwnHole = OwnHole, Tray = Tray, Bag = Bag, Bench = Bench, Outside = Outside, MachineShop = MachineShop
    }
    read_reach: Reach -> Reach { Top = Top, Under = Under, WheelArch = WheelArch, Inside = Inside }
    read_hazard: Hazard -> Hazard {
        HighVoltage = HighVoltage, Fuel = Fuel, RaisedVehicle = RaisedVehicle, EngineHeldBelow = EngineHeldBelow,
        Battery = Battery, Airbag = Airbag, Spring = Spring, SprungLever = SprungLever, HotCoolant = HotCoolant,
        Seized = Seized, Lifting = Lifting, Glycol = Glycol, UsedFluid = UsedFluid
    }
    read_renew: Renew -> Renew { Always = Always, Check = Check, Reuse = Reuse }
    read_tightness: Tightness -> Tightness { Loose = Loose, Finger = Finger, Final = Final }
    read_reading_kind: ReadingKind -> ReadingKind {
        Compression = Compression, LeakDown = LeakDown, Flatness = Flatness, Torque = Torque, Angle = Angle,
        RunOut = RunOut, PressureHeld = PressureHeld, Level = Level, Other = Other
    }
    read_fluid_kind: FluidKind -> FluidKind {
        Coolant = Coolant, Water = Water, Oil = Oil, BrakeFluid = BrakeFluid, Fuel = Fuel, ScreenWash = ScreenWash,
        Refrigerant = Refrigerant, Additive = Additive
    }
    read_decision: Decision -> Decision { Accept = Accept, Again = Again, Repair = Repair }
    read_remark_kind: RemarkKind -> RemarkKind { FollowUp = FollowUp, AdviceDeclined = AdviceDeclined }
    read_outcome: AttemptOutcome -> Outcome {
        Moved = Moved, NotMoved = NotMoved, Rounded = Rounded, Broken = Broken, ThreadGone = ThreadGone
    }
    read_vehicle_state: VehicleState -> VehicleState {
        BatteryConnected = BatteryConnected, BatteryIsolated = BatteryIsolated, FuelPressureLive = FuelPressureLive,
        FuelPressureRelieved = FuelPressureRelieved, CoolantFull = CoolantFull, CoolantDrained = CoolantDrained,
        OilFull = OilFull, OilDrained = OilDrained, SupportWheels = SupportWheels, SupportStands = SupportStands,
        SupportLift = SupportLift, EngineMounted = EngineMounted, EngineHeldAbove = EngineAbove,
        EngineHeldBelow = EngineBelow, RollingFree = RollingFree, RollingBlocked = RollingBlocked,
        BonnetLatched = BonnetLatched, BonnetOpen = BonnetOpen, PortsClosed = PortsClosed, PortsOpen = PortsOpen,
        PortsCovered = PortsCovered, CrankFree = CrankFree, CrankHeld = CrankHeld, BrakesReady = BrakesReady,
        BrakesOpen = BrakesOpen, TemperatureHot = TemperatureHot, TemperatureCold = TemperatureCold,
        AirbagsLive = AirbagsLive, AirbagsSafe = AirbagsSafe, HighVoltageUnchecked = HighVoltageUnchecked,
        HighVoltageNone = HighVoltageNone, HighVoltageIsolated = HighVoltageIsolated,
        HighVoltageLive = HighVoltageLive
    }
    read_audit_by: AuditBy -> By {
        Job = Job, Stage = Stage, Template = Template, Cause = Cause, TemplateStage = TemplateStage,
        Unspecified = Stage
    }
}

macro_rules! when_said {
    ($($some:ident: $read:ident -> $own:ident;)+) => {$(
        /// From the wire, when it was said.
        pub fn $some(field: &str, value: i32) -> Result<Option<$own>, AppError> {
            if value == 0 { Ok(None) } else { $read(field, value).map(Some) }
        }
    )+};
}

when_said! {
    read_position_kind_some: read_position_kind -> PositionKind;
    read_manner_some: read_manner -> Manner;
    read_keep_some: read_keep -> Keep;
    read_reach_some: read_reach -> Reach;
    read_renew_some: read_renew -> Renew;
    read_tightness_some: read_tightness -> Tightness;
    read_reading_kind_some: read_reading_kind -> ReadingKind;
}

/// Where a stage stands.
pub fn stage_state(standing: Standing) -> i32 {
    (match standing {
        Standing::Later => v1::StageState::NotYet,
        Standing::Waiting(_) => v1::StageState::Waiting,
        Standing::Ready(_) => v1::StageState::Ready,
        Standing::UnderWay(_) => v1::StageState::Active,
        Standing::Finished(_) => v1::StageState::Finished,
        Standing::Skipped(_) => v1::StageState::Skipped,
    }) as i32
}

/// Several at once.
pub fn each<T>(
    field: &str,
    values: &[i32],
    read: impl Fn(&str, i32) -> Result<T, AppError>,
) -> Result<Vec<T>, AppError> {
    super::fields::bounded(field, values)?;
    values.iter().map(|value| read(field, *value)).collect()
}
