//! Why a command is refused: one closed list. Each says what, where and what to do.
//!
//! Checks come in this order, and the first that fails answers: the request's own form, the
//! etag, what it names exists, where things stand, who may, what the books allow.

mod overruled;
mod said;

pub use overruled::Overruler;

use crate::hand_over::{Line, told, told_first};
use crate::telling::{FreeFrom, Tell, Telling};
use crate::template::Fault;
use leadhand_facts::words::{JobState, ProofKind, StageState, StepState};
use leadhand_facts::{
    BayKey, BlockerNo, FluidKey, Instant, ItemKey, JobNo, OptionKey, PlaceKey, PositionKey, Quantity, ReadingKey,
    StageKey, StepNo, TemplateKey, ToolKey,
};

/// How a refusal is to be understood by a client.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Class {
    /// The request itself is wrong; it will be refused in any state.
    Invalid,
    /// What it names isn't there.
    NotFound,
    /// What it makes is there already.
    Exists,
    /// The state does not allow it now.
    Precondition,
    /// Somebody changed what the client looked at; look again.
    Aborted,
    /// The role or person may not do this.
    Denied,
    /// A defect of ours.
    Internal,
}

/// A row of an import that can't be taken over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadRow {
    /// Line in the file, from 1.
    pub line: usize,
    /// The column's name; empty when the whole row is meant.
    pub column: String,
    /// What is wrong and what to do.
    pub message: String,
}

macro_rules! refusals {
    ($($(#[$doc:meta])* $name:ident { $($field:ident: $ty:ty),* } $class:ident $reason:literal $message:literal $(, [$($arg:tt)+])*;)+) => {
        /// Why a command is refused.
        #[derive(Debug, Clone, PartialEq, Eq)]
        #[allow(missing_docs, reason = "fields are named by their types")]
        pub enum Refusal { $($(#[$doc])* $name { $($field: $ty),* },)+ }

        impl Refusal {
            /// The sentence, with times on the shop's clock and quantities in their unit.
            #[allow(unused_variables, reason = "some refusals have no field")]
            pub fn told(&self, telling: &Telling) -> String {
                match self {
                    $(Self::$name { $($field),* } => {
                        let telling = telling.fine_enough(&[$($field.instant()),*]);
                        $(let $field = $field.tell(&telling);)*
                        format!($message $(, $($arg)+)*)
                    })+
                }
            }

            /// How a client is to understand it.
            pub fn class(&self) -> Class {
                match self { $(Self::$name { .. } => Class::$class,)+ }
            }

            /// A stable code in UPPER_SNAKE_CASE.
            pub fn reason(&self) -> &'static str {
                match self { $(Self::$name { .. } => $reason,)+ }
            }

            /// Every code with its class, for the documentation and its test.
            pub const CODES: &'static [(&'static str, Class)] = &[$(($reason, Class::$class),)+];
        }
    };
}

refusals! {
    /// A field has a wrong value.
    Invalid { field: String, why: String } Invalid "INVALID_FIELD" "{field}: {why}";
    /// A template has faults.
    TemplateFaults { faults: Vec<Fault> } Invalid "TEMPLATE_FAULTS"
        "the template has {} fault(s); the first is in line {}: {}; mend them and send it again",
        [faults.len()], [faults.first().map_or(0, |f| f.line)], [faults.first().map_or("", |f| f.message.as_str())];
    /// An import has bad rows.
    BadRows { rows: Vec<BadRow> } Invalid "BAD_ROWS"
        "{} row(s) can't be taken over, so none was; the first is line {}: {}; mend them and send the whole file again",
        [rows.len()], [rows.first().map_or(0, |r| r.line)], [rows.first().map_or("", |r| r.message.as_str())];

    /// The job changed since the client looked.
    Changed { job: JobNo, version: i64 } Aborted "JOB_CHANGED"
        "job {job} has changed since you looked at it (it is at version {version} now); look at it again and repeat";
    /// Happened-at lies in the future.
    InTheFuture { happened_at: Instant, now: Instant } Invalid "IN_THE_FUTURE"
        "happened_at: {happened_at} has not come yet (it is {now}); give a time that has passed";

    /// Nothing by that name.
    Unknown { what: &'static str, which: String, todo: &'static str } NotFound "NOT_FOUND" "there is no {what} '{which}'; {todo}";
    /// That name is taken.
    Taken { what: &'static str, which: String } Exists "ALREADY_EXISTS" "the {what} '{which}' is there already; choose another name";
    /// A person of the shop has that name.
    NameTaken { name: String } Exists "NAME_TAKEN" "there is already a '{name}'; give a name that tells them apart";

    /// The job is closed.
    JobClosed { job: JobNo, state: JobState } Precondition "JOB_CLOSED" "job {job} is {state} and takes no more entries";
    /// The vehicle has another open job.
    VehicleBusy { job: JobNo } Precondition "VEHICLE_HAS_OPEN_JOB"
        "this vehicle has job {job} open already; finish or cancel that one, or add a stage to it";
    /// The vehicle has come again since the job was closed.
    CameAgain { job: JobNo, later: JobNo } Precondition "CAME_AGAIN"
        "job {job} can't be taken up again: its vehicle has come again with job {later}; open another job for what is left";
    /// The bay holds another vehicle.
    BayTaken { bay: BayKey, job: JobNo } Precondition "BAY_TAKEN"
        "bay {bay} holds the vehicle of job {job}; roll that one out or choose another bay";
    /// The bay held another vehicle at that time or later.
    BayTakenThen { bay: BayKey, job: JobNo, from_at: Instant, until_at: FreeFrom } Precondition "BAY_TAKEN_THEN"
        "bay {bay} held the vehicle of job {job} from {from_at} to {until_at}; give a time from then on, or another bay";
    /// The vehicle is in that bay already.
    AlreadyThere { job: JobNo, bay: BayKey } Precondition "ALREADY_THERE" "the vehicle of job {job} is in bay {bay} already";
    /// The vehicle was somewhere at that time or later.
    VehicleElsewhereThen { job: JobNo, bay: BayKey, from_at: Instant, until_at: FreeFrom } Precondition "VEHICLE_ELSEWHERE_THEN"
        "the vehicle of job {job} was in bay {bay} from {from_at} to {until_at}; give a time from then on";
    /// The bay does not bear the vehicle.
    TooHeavy { bay: BayKey, rated_kg: i32, weight_kg: i32 } Precondition "TOO_HEAVY"
        "bay {bay} is rated for {rated_kg} kg and the vehicle weighs {weight_kg} kg; choose another bay";
    /// The bay is of a kind that no stage left asks for.
    UnfitBay { bay: BayKey, kind: String, asked: String } Precondition "UNFIT_BAY"
        "bay {bay} is a {kind} and the stages left ask for {asked}; choose a bay that fits";
    /// The vehicle is not in a bay.
    NotInBay { job: JobNo } Precondition "NOT_IN_BAY" "the vehicle of job {job} is outside; bring it into a bay first";
    /// The vehicle can't leave now.
    CannotLeave { job: JobNo, stage: StageKey } Precondition "CANNOT_LEAVE"
        "the vehicle of job {job} can't leave its bay at stage '{stage}'; go on to a stage after which it may, or let the lead override with a reason";
    /// Somebody works on the vehicle. `who` holds ids, in the place of which the application puts
    /// names.
    AtWork { job: JobNo, stage: StageKey, who: String } Precondition "AT_WORK"
        "stage '{stage}' of job {job} can't be done where the vehicle would stand, and somebody is clocked on to it ({who}); clock them off first";
    /// The vehicle was in no fitting bay for some of that time.
    NotInBayThen { job: JobNo, stage: StageKey, asked: String, from_at: Instant, until_at: Instant } Precondition "NOT_IN_BAY_THEN"
        "stage '{stage}' of job {job} asks for {asked}, and the vehicle was not in such a bay all the time from {from_at} to {until_at}; give times while it was";
    /// The vehicle's bay is of the wrong kind for the stage.
    WrongBay { job: JobNo, stage: StageKey, bay: BayKey, asked: String } Precondition "WRONG_BAY"
        "stage '{stage}' of job {job} asks for {asked} and the vehicle is in bay {bay}; move it first";

    /// A predecessor isn't finished.
    NotReady { job: JobNo, stage: StageKey, waiting_for: String } Precondition "NOT_READY"
        "stage '{stage}' of job {job} comes after {waiting_for}, not finished yet; finish that first, or let the lead override with a reason";
    /// A predecessor isn't finished, and the person has not the skill either.
    NotReadyNorSkilled { unready: String, unskilled: String } Precondition "NOT_READY_NOR_SKILLED" "{unready}; and {unskilled}";
    /// A planned wait has not passed.
    WaitNotOver { job: JobNo, stage: StageKey, ready_at: FreeFrom } Precondition "WAIT_NOT_OVER"
        "stage '{stage}' of job {job} has to wait until {ready_at}; wait, or let the lead override with a reason";
    /// The stage is in another state than the command asks for.
    StageIs { job: JobNo, stage: StageKey, state: StageState, attempted: &'static str, todo: &'static str } Precondition "STAGE_STATE"
        "stage '{stage}' of job {job} is {state} and can't be {attempted}; {todo}";
    /// Something behind the stage has begun or ended.
    BegunBehind { job: JobNo, stage: StageKey, behind: StageKey, state: StageState } Precondition "BEGUN_BEHIND"
        "stage '{stage}' of job {job} can't be taken up again: '{behind}' comes after it and is {state} already; take that one up again first if it has ended, or add a stage for what is left";
    /// The position was said already.
    PositionSaid { position: PositionKey } Precondition "POSITION_SAID"
        "it was said already what became of '{position}'; `leadhand strip reopen` takes it back";
    /// The position is of another stage.
    PositionOfStage { position: PositionKey, stage: StageKey } Precondition "POSITION_OF_STAGE"
        "'{position}' comes off in stage '{stage}'; say it there, or add what you met here as a position of its own";
    /// Something has to come off before.
    BehindOthers { position: PositionKey, others: String } Precondition "BEHIND_OTHERS"
        "'{position}' is behind {others}, which must come off first; say that they are off, or let the lead override with a reason";
    /// Something has to be in before.
    NotInYet { position: PositionKey, others: String } Precondition "NOT_IN_YET"
        "'{position}' comes off only while {others} is in; put that in first and say so, or let the lead override with a reason";
    /// Something that holds it is out.
    LetGo { position: PositionKey, others: String } Precondition "LET_GO"
        "'{position}' is loosened only while {others} is in; put that in, take back that it is out (`leadhand strip reopen`), then loosen";
    /// Something that is put in holds what is not back yet.
    StaysIn { position: PositionKey, first: String } Precondition "STAYS_IN"
        "'{position}' stays in: {first} before it comes out; see to that first, or let the lead override with a reason";
    /// Pieces were tried and have not moved.
    StillStuck { position: PositionKey, pieces: i32 } Precondition "STILL_STUCK"
        "{pieces} piece(s) of '{position}' were tried and are still in, so they stay on; say that they moved (`leadhand strip try`), or how many came off (`leadhand strip off --found`)";
    /// Something still hangs on it.
    StillAttached { position: PositionKey, others: String } Precondition "STILL_ATTACHED"
        "'{position}' can't be lifted away with {others} still attached; say that it is off or was missing, or let the lead override with a reason";
    /// Another count than the one listed, without a word why.
    OtherCount { position: PositionKey, listed: i32, found: i32, missing: i32 } Precondition "OTHER_COUNT"
        "'{position}' is listed with {listed} and {found} found and {missing} missing make another number; say why in a note";
    /// Each would come off before the other.
    PositionRing { positions: String } Precondition "POSITION_RING" "{positions} would have to come off in a ring, the last before the first again; say behind fewer of them, or that it hangs on none of them";
    /// It is not off.
    NotOff { position: PositionKey } Precondition "NOT_OFF" "'{position}' is not off, so nothing of it can go back; say first what came off";
    /// Something has to be back before.
    OthersFirst { position: PositionKey, first: String } Precondition "OTHERS_FIRST"
        "'{position}' can't go back yet: {first} before it; see to that first, or let the lead override with a reason";
    /// What was put in would be closed in.
    StillInside { position: PositionKey, others: String } Precondition "STILL_INSIDE"
        "'{position}' can't go back over {others}, put in for the work and not out yet; take that out and say so (`leadhand strip back`); nobody overrules this";
    /// More goes back than is off.
    TooManyBack { position: PositionKey, what: &'static str, left: i32 } Precondition "TOO_MANY_BACK"
        "'{position}' has {left} {what} left; give at most that, or take back what was said before";
    /// A place of a fastener that stays empty is a lead's word.
    LeftOut { position: PositionKey } Precondition "LEFT_OUT"
        "places of '{position}' would stay empty, and it holds something; fit new ones, or let the lead override with a reason";
    /// It is renewed each time.
    RenewAlways { position: PositionKey } Precondition "RENEW_ALWAYS"
        "'{position}' is always renewed; fit a new one, or let the lead override with a reason";
    /// More goes back than came off whole.
    SpoiltBack { position: PositionKey, spoilt: i32 } Precondition "SPOILT_BACK" "{spoilt} of '{position}' came off damaged or broken and goes back only as a new one; say how many are renewed, or let the lead override with a reason";
    /// What lies before it is back on.
    BackOn { position: PositionKey, others: String } Precondition "BACK_ON" "'{position}' lies behind {others}, back on by now; take that off again and say so (`leadhand strip reopen`), or let the lead override with a reason";
    /// Something went back after it, and was not taken back.
    OnTop { position: PositionKey, others: String } Precondition "ON_TOP"
        "'{position}' can't be taken back: {others} went back after it; take that back first, the last first (`leadhand strip reopen`)";
    /// Something came off, or went in, after it, and was not taken back.
    CameAfter { position: PositionKey, others: String } Precondition "CAME_AFTER"
        "'{position}' can't be taken back: {others} came off or went in after it; take that back first, the last first (`leadhand strip reopen`)";
    /// It is as tight as that, or not back.
    AsTight { position: PositionKey } Precondition "AS_TIGHT" "'{position}' is not back, or is as tight as that already";
    /// It is not all back and tight.
    NotWholeYet { position: PositionKey } Precondition "NOT_WHOLE_YET"
        "'{position}' is not all back and as tight as it has to be; finish it first, then have it looked at";
    /// Nobody looks at their own work.
    OwnWork { position: PositionKey } Precondition "OWN_WORK" "you put '{position}' back or tightened it yourself, and a second check needs somebody else; nobody can override this";
    /// A rung of a ladder asks for something else first.
    RungStopped { position: PositionKey, rung: i32, why: String } Precondition "RUNG_STOPPED"
        "rung {rung} at '{position}' is not to be done yet: {why}; see to that first, or let the lead override with a reason";
    /// A step takes off or puts in what nobody said.
    StepUnsaid { job: JobNo, stage: StageKey, step: StepNo, positions: String } Precondition "STEP_UNSAID"
        "step {step} of stage '{stage}' takes off or puts in {positions}, of which nothing was said; say it first (`leadhand strip off {job} {stage} --as-listed --step {step}`, or each with its counts), or finish the stage as listed";
    /// A step brings the vehicle to life while something is open.
    WakesOpen { stage: StageKey, step: StepNo, states: String, open: String } Precondition "WAKES_OPEN"
        "step {step} of stage '{stage}' leaves the vehicle {states}, and it is not whole: {open}; settle that first, or let the lead override with a reason";
    /// Something that is listed for the stage was not said.
    PositionsUnsaid { stage: StageKey, positions: String } Precondition "POSITIONS_UNSAID"
        "stage '{stage}' lists {positions}, of which nothing was said; say what came off or went back, take back the step that was ticked, or finish the stage as listed";
    /// Something stands against handing over that nobody overrules.
    HandOverForGood { job: JobNo, lines: Vec<Line>, named: String } Precondition
        "HAND_OVER_FOR_GOOD" "job {job} can't be handed over: {}{named}; settle first what nobody overrules", [told(lines)];
    /// Something stands against handing over that has to be ended.
    HandOverUnfinished { job: JobNo, lines: Vec<Line>, named: String } Precondition
        "HAND_OVER_UNFINISHED" "job {job} can't be handed over yet: {}{named}; end what is unfinished first", [told(lines)];
    /// Something stands against handing over that a lead may overrule.
    HandOverOpen { job: JobNo, lines: Vec<Line>, named: String } Precondition
        "HAND_OVER_OPEN" "job {job} can't be handed over, something is open: {}{named}; settle it, or let the lead name each line that is overruled, with a reason", [told(lines)];
    /// The job is called off while its vehicle is not whole.
    GoesApart { job: JobNo, lines: Vec<Line> } Precondition
        "GOES_APART" "the vehicle of job {job} is not whole: {}; put it right and hand it over, or say that it goes as it is and may not be driven (`leadhand job cancel --as-it-is`)", [told_first(lines)];
    /// A figure lies so far from its limits that it is asked about.
    FigureFarOff { reading: ReadingKey, place: usize, figure: String, expected: String } Precondition "FIGURE_FAR_OFF" "figures[{place}]: {figure} is far off the limits of reading '{reading}' ({expected}); look at the unit and at the point, and give it again, or say that you are sure (`leadhand reading record --sure`) if that is what the gauge shows";
    /// A pressure that is held does not rise.
    PressureRose { reading: ReadingKey, begin: String, end: String } Precondition "PRESSURE_ROSE"
        "reading '{reading}' begins at {begin} and ends at {end}, and what is held does not rise; change the two over if they were given the wrong way round, or let it come to one temperature and hold it again, or say that you are sure (`leadhand reading record --sure`)";
    /// A step measures something that was not measured.
    ReadingsMissing { stage: StageKey, step: StepNo, readings: String } Precondition "READINGS_MISSING" "step {step} of stage '{stage}' measures {readings}, and that was not recorded; record it with `leadhand reading record`, or skip the step with a reason";
    /// What was measured before is out of its limits.
    ReadingOut { stage: StageKey, step: StepNo, readings: String } Precondition "READING_OUT" "step {step} of stage '{stage}' waits: {readings} is out of its limits; measure again, or let the lead decide (`leadhand reading decide`)";
    /// The blocker stands for a reading and ends by itself.
    BlockerOfReading { job: JobNo, blocker: BlockerNo, reading: ReadingKey } Precondition "BLOCKER_OF_READING" "blocker {blocker} of job {job} stands for reading '{reading}', which is out of its limits, and ends by itself; measure again, or let the lead decide (`leadhand reading decide`)";
    /// The vehicle is not in a state that a step needs.
    StateWanted { stage: StageKey, step: StepNo, wants: String } Precondition
        "STATE_WANTED" "step {step} of stage '{stage}' needs {wants}; bring the vehicle there and say so with `leadhand vehicle state`, or let the lead override with a reason";
    /// High voltage while the vehicle is open, which nobody overrides.
    VoltageOpen { stage: StageKey, step: StepNo, open: String } Precondition
        "VOLTAGE_OPEN" "step {step} of stage '{stage}' makes high voltage live, and the vehicle is not whole: {open}; settle that first; nobody overrides that";
    /// A second look recorded for another person.
    OwnEyes { what: &'static str } Precondition
        "OWN_EYES" "{what} is one's own and can't be recorded for another; leave the other name out, or have that person sign in";
    /// Work of which nobody knows whose it is can't be looked at by a second person.
    NobodysWork { position: PositionKey } Precondition
        "NOBODYS_WORK" "nobody knows who put '{position}' back, since it was recorded without a name; take it back with `leadhand strip reopen` and record it in the name of who did it";
    /// Nobody would ask for it again, were it taken back that it was put in, or came off.
    NobodyAsks { position: PositionKey } Precondition
        "NOBODY_ASKS" "no step asks for '{position}' again, so it is not taken back that it was said; say with `leadhand strip back` that it went back or came out";
    /// Several things stand against it, each of which a lead overrides.
    Objections { all: String } Precondition "OBJECTIONS" "{all}";
    /// High voltage, and nobody who is qualified.
    HighVoltage { what: String } Precondition
        "HIGH_VOLTAGE" "{what} is about high voltage: whoever does it has the skill 'high-voltage' and signs in by name, and finds the vehicle as the work asks (`leadhand job show`); stop, cordon the vehicle off and call qualified staff: nobody can override this";
    /// Somebody said that high voltage is live.
    VoltageFound { job: JobNo, what: String } Precondition
        "VOLTAGE_FOUND" "{what} waits: somebody said that high voltage is live at the vehicle of job {job}; keep away and call qualified staff, who make it safe and say so (`leadhand vehicle state`), or go on under their own name; nobody overrides that";
    /// A hold point before a step was not passed.
    HoldNotPassed { stage: StageKey, step: StepNo, hold: StepNo, what: String } Precondition
        "HOLD_NOT_PASSED" "step {step} of stage '{stage}' comes after hold point {hold} ({what}), which nobody passed; look at it and tick it, or let the lead override with a reason";
    /// A hold point is passed by looking at it, not as listed.
    HoldByName { stage: StageKey, step: StepNo, what: String } Precondition
        "HOLD_BY_NAME" "step {step} of stage '{stage}' is a hold point ({what}) and is not passed as listed; look at it and tick step {step} by itself, in your own name";
    /// What a hold point looks at is not done yet.
    HoldTooEarly { stage: StageKey, step: StepNo, left: String } Precondition
        "HOLD_TOO_EARLY" "hold point {step} of stage '{stage}' looks at what comes before it, and step(s) {left} are left; do them first";
    /// The last look of a stage comes when what goes back there is back and tight.
    HoldNotWhole { stage: StageKey, step: StepNo, what: String, open: String } Precondition "HOLD_NOT_WHOLE"
        "hold point {step} of stage '{stage}' ({what}) looks at what goes back there, and that is not whole: {open}; finish it and say so (`leadhand strip back` or `strip tighten`), or let the lead override with a reason";
    /// A second pair of eyes is asked for.
    HoldOwnWork { stage: StageKey, step: StepNo, what: String } Precondition
        "HOLD_OWN_WORK" "hold point {step} of stage '{stage}' ({what}) asks for a second pair of eyes, and you worked on it; let somebody else look";
    /// Nobody knows whose work a second pair of eyes would look at.
    HoldNobodysWork { stage: StageKey, step: StepNo, what: String, work: String } Precondition "HOLD_NOBODYS_WORK"
        "hold point {step} of stage '{stage}' ({what}) asks for a second pair of eyes, and nobody is named for {work}: that could be your own work; let whoever did it enter the time (`leadhand clock work`), or take it back and record it by name";
    /// The person looked at this stage as a second pair of eyes, and would have worked on it before.
    LookedAtOwnWork { stage: StageKey, step: StepNo, passed_at: Instant } Precondition "LOOKED_AT_OWN_WORK"
        "this person passed hold point {step} of stage '{stage}' at {passed_at} as a second pair of eyes, and time on the stage before that would make it a look at the own work; give times after that, or take the hold point back first (`leadhand step reopen`) and let somebody else look";
    /// A lead has to decide on another way first.
    WayUndecided { stage: StageKey, step: StepNo } Precondition
        "WAY_UNDECIDED" "step {step} of stage '{stage}' waits for a lead to decide on a way that is not the book's; `leadhand step decide` does that";
    /// Somebody called the lead.
    LeadCalled { job: JobNo, stage: StageKey, blocker: BlockerNo } Precondition
        "LEAD_CALLED" "stage '{stage}' of job {job} waits for the lead: somebody saw a danger (blocker {blocker}; `leadhand job show {job}` has the words); a lead looks at it and clears the blocker with a reason";
    /// More came out than should be in it.
    FluidMore { fluid: FluidKey, expected: String, drained: String } Precondition "FLUID_MORE" "{drained} of '{fluid}' are more than the {expected} that should be in it; check the figure, or say why in a note";
    /// A fluid that the job does not list.
    FluidUnlisted { job: JobNo, fluid: FluidKey, known: String } Precondition "FLUID_UNLISTED"
        "job {job} has {known}, and no '{fluid}'; name one of these, or say that it is another fluid (`leadhand fluid out --unlisted`)";
    /// A step drains, and nothing is said to be out.
    FluidNotOut { stage: StageKey, step: StepNo, fluid: FluidKey, expected: String } Precondition "FLUID_NOT_OUT"
        "step {step} of stage '{stage}' drains '{fluid}', {expected} of it should come out, and nobody said that any did; say how much (`leadhand fluid out`; 0 with a note where nothing was in it any more), or let the lead override with a reason";
    /// A step fills, and nothing is said to be in.
    FluidNotIn { stage: StageKey, step: StepNo, fluid: FluidKey, filled: String } Precondition "FLUID_NOT_IN"
        "step {step} of stage '{stage}' leaves it full, and of '{fluid}' {filled} are said to be in; say what went in (`leadhand fluid in`), or let the lead override with a reason";
    /// Goods were drawn for it.
    FillDrawn { stage: StageKey, step: StepNo, item: ItemKey } Precondition "FILL_DRAWN" "some of '{item}' was drawn from stock already for step {step} of stage '{stage}', so what it says goes in is not changed; bring it back with `leadhand stock return`, and ask again";
    /// The step that fills it is done.
    FillDone { stage: StageKey, step: StepNo, fluid: FluidKey } Precondition "FILL_DONE" "step {step} of stage '{stage}' fills '{fluid}' and is done already, so nothing more is set aside for it; where it goes in anew take that step back (`leadhand step reopen`), and a rest by a step of its own (`leadhand step add`)";
    /// Another strength is set aside for it.
    FillStrength { kept: String, before: String, item: ItemKey, now: String } Precondition "FILL_STRENGTH" "{kept} is set aside or drawn for it {before}, and '{item}' is reckoned {now}, so the two can't be one fill; name an item of the same strength, or give up the first (`leadhand stock release`, or `leadhand stock return` of what is drawn) and ask again";
    /// Which fluid one of two items is nobody says.
    FillUnsaid { kept: String, item: ItemKey, unsaid: ItemKey } Precondition "FILL_UNSAID" "{kept} is set aside or drawn for it already, and '{unsaid}' does not say which fluid it is, so '{item}' does not join it; say what it is (`leadhand item fluid {unsaid}`), or give up the first (`leadhand stock release`, or `leadhand stock return` of what is drawn) and ask again";
    /// What is answered for by name, asked by a device at which nobody is signed in.
    NameNeeded { what: &'static str } Precondition "NAME_NEEDED"
        "whoever wants to {what} does it by name: sign in at this device with a badge code or PIN (`leadhand sign-in`), or use a token of your own";
    /// The step is in another state than the command asks for.
    StepIs { stage: StageKey, step: StepNo, state: StepState } Precondition "STEP_STATE"
        "step {step} of stage '{stage}' is {state} already";
    /// Steps are left.
    StepsLeft { stage: StageKey, steps: String } Precondition "STEPS_LEFT"
        "stage '{stage}' still has step(s) {steps} to do; tick or skip them, or finish the stage as listed";
    /// Blockers are open.
    BlockersOpen { job: JobNo, blockers: String } Precondition "BLOCKERS_OPEN"
        "job {job} is held up by blocker(s) {blockers}; clear them first";
    /// The blocker is cleared already.
    BlockerCleared { job: JobNo, blocker: BlockerNo } Precondition "BLOCKER_CLEARED" "blocker {blocker} of job {job} is cleared already";
    /// The blocker stands for a shortage and ends by itself.
    BlockerOfShortage { job: JobNo, blocker: BlockerNo, item: ItemKey } Precondition "BLOCKER_OF_SHORTAGE"
        "blocker {blocker} of job {job} stands for missing '{item}' and ends by itself when it is there; receive the item, release the need, or skip the step";
    /// The blocker stands for a shared tool that another job has, and ends by itself.
    BlockerOfTool { job: JobNo, blocker: BlockerNo, tool: ToolKey } Precondition "BLOCKER_OF_TOOL"
        "blocker {blocker} of job {job} stands for shared tool '{tool}' that another job has, and ends by itself when the tool is free; have it brought back or handed on, or skip the step";
    /// The shared tool is used no longer.
    ToolRetired { tool: ToolKey } Precondition "TOOL_RETIRED"
        "shared tool '{tool}' is retired; take another one, or describe it anew with `leadhand tool set` to use it again";
    /// Somebody has the shared tool. A `holder` who is a person is an id, in the place of which the application puts
    /// the name, here and in the two below.
    ToolOut { tool: ToolKey, holder: String, since: Instant } Precondition "TOOL_OUT"
        "shared tool '{tool}' has been with {holder} since {since}; say that it is handed on (`leadhand tool hand`) or that it came back";
    /// Somebody had the shared tool at that time.
    ToolOutThen { tool: ToolKey, holder: String, from_at: Instant, until_at: FreeFrom } Precondition "TOOL_OUT_THEN"
        "shared tool '{tool}' was with {holder} from {from_at} to {until_at}, and is never in two places; give a time after that";
    /// Nobody has the shared tool.
    ToolNotOut { tool: ToolKey } Precondition "TOOL_NOT_OUT" "shared tool '{tool}' is with nobody; lend it instead (`leadhand tool lend`)";
    /// It is there already.
    ToolThere { tool: ToolKey, holder: String } Precondition "TOOL_THERE" "shared tool '{tool}' is with {holder} already";
    /// No vehicle stands in the bay.
    BayEmpty { bay: BayKey } Precondition "BAY_EMPTY" "no vehicle is in bay {bay}; name the job or the person instead";
    /// No vehicle stood in the bay then.
    BayEmptyThen { bay: BayKey, at: Instant } Precondition "BAY_EMPTY_THEN" "no vehicle was in bay {bay} at {at}; name the job or the person instead";
    /// The stage would come before itself.
    Ring { job: JobNo, stages: String } Precondition "RING" "stages {stages} of job {job} would each come before the other; leave one of them out";
    /// A time lies before something that it must come after.
    TooEarly { what: String, at: Instant, earliest: Instant } Precondition "TOO_EARLY"
        "{what} can't be at {at}: it comes after {earliest}";
    /// A time lies after something that it must not be later than.
    TooLate { what: String, at: Instant, latest: Instant } Precondition "TOO_LATE"
        "{what} can't be at {at}: it must not be later than {latest}";

    /// The shop would have no lead any more.
    LastLead { } Precondition "LAST_LEAD"
        "this is the last valid token of a lead, and without one nobody could run this shop; issue another lead's token first";
    /// An operator gives back what a person had, and makes nobody a lead.
    NeverALead { } Precondition "NEVER_A_LEAD"
        "this person never had a lead's token, and an operator only replaces one; name somebody who had one, or let a lead issue it (`leadhand token issue --role lead`)";
    /// What a lead answers for by name, asked by a device at which nobody is signed in.
    SignInFirst { what: &'static str } Precondition "SIGN_IN_FIRST"
        "only a lead may {what}, and by name: sign in at this device with a badge code or PIN (`leadhand sign-in`), or use the lead's own token";
    /// Nobody can sign in with this token.
    NotADevice { } Precondition "NOT_A_DEVICE"
        "this token is a person's or looks only, and persons sign in at a device; use the token of a device whose role may write";
    /// There is no open session.
    NotSignedIn { } Precondition "NOT_SIGNED_IN"
        "nobody is signed in with this token; sign out with the session that signing in gave";
    /// What the person showed was replaced or withdrawn meanwhile.
    ProofChanged { } Aborted "PROOF_CHANGED" "the badge code or PIN was changed just now; sign in again with the new one";
    /// The person has no such proof.
    NoProof { proof: ProofKind } Precondition "NO_PROOF" "this person has no {proof} that counts; there is nothing to withdraw";
    /// The token is no longer valid, so it can't be replaced.
    TokenOver { } Precondition "TOKEN_OVER" "this token is revoked or has expired; have a new one issued instead";
    /// Only a lead may override.
    LeadOnly { what: &'static str } Denied "LEAD_ONLY" "only a lead may {what}; ask your lead";
    /// The person has not the skill.
    SkillMissing { stage: StageKey, skills: String } Precondition "SKILL_MISSING"
        "stage '{stage}' asks for {skills}, which this person does not have; let somebody else do it, or let the lead override with a reason";
    /// Nobody is named on a stage that asks for skills.
    SkillNobody { stage: StageKey, skills: String } Precondition "SKILL_NOBODY"
        "stage '{stage}' asks for {skills} and nobody is named; use a person's token or say for whom, or let the lead override with a reason";
    /// Nobody there has the skill.
    SkillNotOnStage { stage: StageKey, skills: String } Precondition "SKILL_NOT_ON_STAGE"
        "stage '{stage}' asks for {skills}, which neither this person has nor anybody clocked on to it; let somebody who has it do and record it, or a lead tick it with a reason";
    /// Whoever does this very step has to have a skill.
    SkillForStep { stage: StageKey, step: StepNo, skills: String } Precondition "SKILL_FOR_STEP"
        "step {step} of stage '{stage}' asks for {skills} of whoever does it, and this person does not have that; let somebody do it who has, in their own name, or let the lead override with a reason";
    /// Whoever looks at something as a second person has the skills of the stage in which it went back.
    SkillForLook { position: PositionKey, skills: String } Precondition "SKILL_FOR_LOOK" "a second look at '{position}' asks for {skills}, which this person does not have; let somebody else look who has, in their own name, since nobody overrules that";
    /// The token stands for nobody.
    NoPerson { what: &'static str } Precondition "NO_PERSON"
        "this token stands for no person, so it can't {what}; use a person's token, or say for whom";
    /// The person is not clocked on.
    NotClockedOn { } Precondition "NOT_CLOCKED_ON" "this person is not clocked on to anything";
    /// The person is on that stage already.
    OnAlready { job: JobNo, stage: StageKey } Precondition "ON_ALREADY" "this person is clocked on to stage '{stage}' of job {job} already";
    /// The person was on something else at that time.
    PersonElsewhere { job: JobNo, stage: StageKey, from_at: Instant } Precondition "PERSON_ELSEWHERE"
        "this person was clocked on to stage '{stage}' of job {job} from {from_at}; nobody is in two places: give times that do not overlap";
    /// The person is at work and can't be forgotten now.
    StillAtWork { job: JobNo, stage: StageKey } Precondition "STILL_AT_WORK"
        "this person is clocked on to stage '{stage}' of job {job}; clock them off first";
    /// The person is forgotten.
    Forgotten { } Precondition "FORGOTTEN" "this person was forgotten and takes no more entries";
    /// The customer is forgotten.
    CustomerForgotten { } Precondition "CUSTOMER_FORGOTTEN" "this customer was forgotten; add the customer anew";
    /// The customer has an open job and can't be forgotten now.
    CustomerHasOpenJob { jobs: String } Precondition "CUSTOMER_HAS_OPEN_JOB"
        "this customer has job(s) {jobs} open; finish or cancel them first";

    /// The job is nobody's, so there is no customer to tell.
    NobodyToTell { job: JobNo } Precondition "NOBODY_TO_TELL"
        "nobody is named as the customer of job {job}; say whom you told (`--whom`), or name the customer of its vehicle first";

    /// The plan was made of a shop that has moved since.
    PlanOutdated { made_n: i64, count: String, moved: String } Aborted "PLAN_OUTDATED"
        "the plan was made at fact {made_n}, and {count} moved since: {moved}; propose another, or accept this one even if outdated (`leadhand plan accept --even-if-outdated`)";
    /// A plan breaks what binds the shop; the auditor says so. Ids of persons may stand in it.
    PlanUnlawful { what: String } Precondition "PLAN_UNLAWFUL"
        "the plan can't be done: {what}; propose another and accept that one";
    /// A planned stage is over.
    PlanStageOver { job: JobNo, stage: StageKey } Precondition "PLAN_STAGE_OVER"
        "stage '{stage}' of job {job} is over and is not to be planned; propose another plan, or accept this one even if outdated";
    /// A planned stage needs a bay and has none.
    WrongPlace { job: JobNo, stage: StageKey, asked: String } Precondition "PLAN_WITHOUT_BAY"
        "stage '{stage}' of job {job} asks for {asked} and is planned in no bay; propose another plan";
    /// A stage needs no bay.
    PlanNoBay { job: JobNo, stage: StageKey } Precondition "PLAN_NO_BAY_NEEDED" "stage '{stage}' of job {job} is done without a bay; leave the bay out";
    /// The bay of a planned stage is not held for its vehicle.
    PlanNotHeld { job: JobNo, stage: StageKey, bay: BayKey } Precondition "PLAN_NOT_HELD"
        "stage '{stage}' of job {job} is planned in bay {bay}, which is not held for its vehicle all the time; propose another plan";
    /// A stage that was started stays as it is.
    PlanStarted { job: JobNo, stage: StageKey, what: String } Precondition "PLAN_STARTED"
        "stage '{stage}' of job {job} was started and stays with its people, in its bay: {what}; propose another plan";
    /// A stage is planned with another number of people than it takes.
    PlanHands { job: JobNo, stage: StageKey, hands: i32, people: i32 } Precondition "PLAN_HANDS" "stage '{stage}' of job {job} takes {hands} at a time and is planned with {people}; propose another plan";
    /// Somebody has not the skills of a stage. `who` is an id, in the place of which the application puts the name.
    PlanSkill { who: String, job: JobNo, stage: StageKey, skills: String } Precondition "PLAN_SKILL_MISSING" "stage '{stage}' of job {job} asks for {skills}, which {who} does not have; choose somebody who has, or add it to the skills (`leadhand person skills`)";
    /// The lead decided otherwise.
    PlanPinned { job: JobNo, stage: StageKey, what: &'static str } Precondition "PLAN_PINNED"
        "stage '{stage}' of job {job} is pinned, and the plan has {what}; propose another plan, or unpin it (`leadhand plan unpin`)";
    /// Somebody would be in two places. `who` is an id, in the place of which the application puts the name.
    PlanPersonTwice { who: String, job: JobNo, stage: StageKey, other_job: JobNo, other_stage: StageKey } Precondition "PLAN_PERSON_TWICE"
        "{who} would be at stage '{stage}' of job {job} and at '{other_stage}' of job {other_job} at once; propose another plan";
    /// A bay would hold two vehicles.
    PlanBayTaken { bay: BayKey, job: JobNo, other: JobNo } Precondition "PLAN_BAY_TAKEN" "bay {bay} would hold the vehicles of jobs {job} and {other} at once; propose another plan";
    /// A vehicle would be in two bays.
    PlanTwoPlaces { job: JobNo, bay: BayKey, other: BayKey } Precondition "PLAN_TWO_PLACES" "the vehicle of job {job} would be in bays {bay} and {other} at once; propose another plan";
    /// Overtime of the person is open at that time.
    OvertimeOpen { from_at: Instant, until_at: Instant } Precondition "OVERTIME_OPEN" "this person has overtime open from {from_at} to {until_at}; give times that do not overlap, or close that one first";

    /// The template has no such option.
    UnknownOption { option: OptionKey, template: TemplateKey } NotFound "UNKNOWN_OPTION"
        "template '{template}' has no option '{option}'; `leadhand template show {template}` lists them";
    /// The past calendar stays.
    CalendarPast { day: String, today: String } Precondition "CALENDAR_PAST" "the calendar of {day} is history; give {today} or a later day";

    /// Not enough free stock.
    NotEnough { item: ItemKey, wanted: Quantity, free: Quantity, held_by: String } Precondition "NOT_ENOUGH" "{wanted} of '{item}' are asked for and {free} are free{held_by}; receive more, or release what is reserved";
    /// The job has not that much of it.
    NotAtJob { job: JobNo, item: ItemKey, there: Quantity } Precondition "NOT_AT_JOB" "job {job} has {there} of '{item}'; give a quantity up to that";
    /// Nothing to do.
    NothingToDo { what: String } Precondition "NOTHING_TO_DO" "there is nothing to {what}";
    /// The place is not a bin.
    NotABin { place: PlaceKey } Precondition "NOT_A_BIN" "place '{place}' is not a bin of the parts room; choose a bin";
    /// A sum leaves the range of numbers.
    TooMuch { item: ItemKey } Invalid "TOO_MUCH" "quantity: the sum for '{item}' leaves the range that can be kept; check the figure";

    /// A defect of ours: a fact did not fit the rows.
    Defect { why: String } Internal "DEFECT" "this should not happen and nothing was changed: {why}; please report it";
}
