//! A stage on the page of a bay: its cautions, its steps with what they take off and measure, and what a hand does next.

use crate::late::{self, Moment};
use crate::measure::{self, Tile as ReadingTile};
use crate::strip::{self, Back, Line, Unfinished};
use crate::texts::Texts;
use crate::view::Look;
use leadhand_sdk::quantity;
use leadhand_sdk::v1::{
    Caution, FluidLine, GetStripResponse, Reading, SignalWord, Stage, StageKind, Step, StepState, VehicleState,
};

/// A stage under way.
pub struct StageNow {
    pub stage: String,
    pub title: String,
    pub place: String,
    pub who: String,
    /// Who is clocked on to it.
    pub clock: Clock,
    /// Whether it is a wait, on which nobody works.
    pub is_wait: bool,
    pub cautions: Vec<Warning>,
    /// States that the next step needs and that the vehicle is not in.
    pub wanted: Vec<Wanted>,
    /// Steps that were added as the work went and are left: what the shift before left half done is among them.
    pub left_over: Vec<String>,
    pub steps: Vec<StepLine>,
    /// The steps that are next and can be done as listed in one touch.
    pub run: Option<Run>,
    /// Whether no step is left.
    pub done: bool,
    /// What else came off here, belonging to no step.
    pub others: Vec<Line>,
    /// What goes back here.
    pub back: Vec<Back>,
    /// What is back and not tight yet.
    pub loose: Vec<Unfinished>,
    /// What of each fluid that goes in here came out, and what is still in.
    pub fills: Vec<FillTold>,
    /// Fluids that come out or go in here and of which something is unsaid.
    pub fluids: Vec<Fluid>,
    /// Times of the last hours, for what is said late.
    pub earlier: Vec<Moment>,
}

/// Who is clocked on to a stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clock {
    /// Whoever is signed in, with others or alone.
    Own,
    /// Others.
    Others,
    /// Nobody, so that what is done here is in nobody's time.
    Nobody,
}

impl StageNow {
    /// Whether whoever is signed in is on it.
    pub fn on_it(&self) -> bool {
        self.clock == Clock::Own
    }

    /// Whether nobody is.
    pub fn idle(&self) -> bool {
        self.clock == Clock::Nobody
    }
}

/// What of a fluid came out and is still in.
pub struct FillTold {
    /// Its key.
    pub key: String,
    /// In words.
    pub told: String,
}

/// A fluid that comes out, or goes in.
pub struct Fluid {
    pub key: String,
    /// `drained` or `filled`.
    pub way: &'static str,
    /// How many millilitres are left of what is expected.
    pub left: i64,
    /// What one touch says.
    pub words: String,
    /// What the field for another amount is called.
    pub other: String,
}

/// Steps that are done as listed in one touch.
pub struct Run {
    pub steps: String,
    /// Those of them of which something comes off.
    pub with: String,
    pub words: String,
    /// Whether nothing is left behind them, so that the stage may be finished with the same touch.
    pub whole: bool,
}

/// A state that a step needs.
pub struct Wanted {
    /// Its number in the contract.
    pub state: i32,
    pub words: String,
}

pub struct Warning {
    pub class: String,
    pub word: String,
    pub text: String,
}

pub struct StepLine {
    pub step: i32,
    pub class: &'static str,
    pub text: String,
    pub hold: String,
    /// Whether somebody else than who did the work passes it.
    pub second: bool,
    pub details: Vec<String>,
    pub done: String,
    pub lines: Vec<Line>,
    /// What one touch says of them; empty when nothing is unsaid.
    pub listed: String,
    /// Of which nothing was said, by their keys.
    pub unsaid: String,
    pub readings: Vec<ReadingTile>,
    /// Whether something has to be measured before it is ticked.
    pub measures: bool,
}

/// What a stage is shown with.
#[derive(Clone, Copy)]
pub struct Books<'a> {
    /// The strip book.
    pub strip: &'a GetStripResponse,
    /// The readings.
    pub readings: &'a [Reading],
    /// The fluids.
    pub fluids: &'a [FluidLine],
}

impl StageNow {
    /// A stage as it is.
    pub fn of(stage: &Stage, total: usize, who: Option<&str>, books: Books<'_>, look: Look<'_>) -> Self {
        let t = look.texts;
        let names: Vec<&str> = stage.persons.iter().map(|person| person.name.as_str()).collect();
        let steps: Vec<StepLine> = stage.steps.iter().map(|step| step_line(stage, step, books, look)).collect();
        let clock = match who {
            Some(who) if names.contains(&who) => Clock::Own,
            _ if names.is_empty() => Clock::Nobody,
            _ => Clock::Others,
        };
        let unplanned = stage.steps.iter().filter(|step| step.unplanned && is_left(step));
        Self {
            stage: stage.stage.clone(),
            title: stage.title.clone(),
            place: t.with("stage-of", &[("stage", stage.ordinal.into()), ("total", total.into())]),
            who: if names.is_empty() { t.say("nobody-on-it") } else { names.join(", ") },
            clock,
            is_wait: stage.kind() == StageKind::Wait,
            cautions: cautions(stage, t),
            wanted: wanted(stage, t),
            left_over: unplanned.map(|step| step.instruction.clone()).collect(),
            run: run(&steps, t),
            done: steps.iter().all(|step| step.class != "left"),
            steps,
            others: strip::of_step(books.strip, &stage.stage, 0, look),
            back: strip::going_back(books.strip, &stage.stage, look),
            loose: strip::to_tighten(books.strip, &stage.stage),
            fills: fills(stage, books.fluids, t),
            fluids: fluids(stage, books.fluids, t),
            earlier: late::back_to(stage.started_at.as_ref(), look),
        }
    }
}

fn is_left(step: &Step) -> bool {
    step.state == i32::from(StepState::Pending)
}

/// What comes out as soon as its step is next, since the step asks for the amount, and what goes in.
fn fluids(stage: &Stage, all: &[FluidLine], t: &Texts) -> Vec<Fluid> {
    let next = stage.steps.iter().find(|step| is_left(step)).map(|step| step.step);
    let done = |number| stage.steps.iter().any(|step| step.step == number && step.state == i32::from(StepState::Done));
    let unsaid = all.iter().filter_map(|line| {
        let out = line.stage == stage.stage
            && (done(line.step) || next == Some(line.step))
            && line.drained_ml < line.expected_ml;
        let back = line.back == stage.stage && line.filled_ml < line.drained_ml;
        let (way, left) = match (out, back) {
            (true, _) => ("drained", line.expected_ml - line.drained_ml),
            (_, true) => ("filled", line.drained_ml - line.filled_ml),
            _ => return None,
        };
        let what = if line.what.is_empty() { &line.fluid } else { &line.what };
        let said = [("what", what.as_str().into()), ("amount", quantity::show(left, "mL").into())];
        Some(Fluid {
            key: line.fluid.clone(),
            way,
            left,
            words: if out { t.with("came-out-as-listed", &said) } else { t.with("went-in-as-came-out", &said) },
            other: t.fill(if out { "came-out-other" } else { "went-in-other" }, "what", what),
        })
    });
    unsaid.collect()
}

/// Of each fluid that goes in at a stage what came out of how much, and what is still in: what is poured in follows from it.
pub fn fills(stage: &Stage, all: &[FluidLine], t: &Texts) -> Vec<FillTold> {
    let back = all.iter().filter(|line| line.back == stage.stage);
    back.filter_map(|line| Some(FillTold { key: line.fluid.clone(), told: fill_told(line, t)? })).collect()
}

/// The same of one fluid; nothing when nothing came out yet.
pub fn fill_told(line: &FluidLine, t: &Texts) -> Option<String> {
    let what = if line.what.is_empty() { &line.fluid } else { &line.what };
    let shown = |millilitres: i64| quantity::show(millilitres, "mL");
    let left = line.expected_ml - line.drained_ml;
    let said = [
        ("what", what.as_str().into()),
        ("out", shown(line.drained_ml).into()),
        ("holds", shown(line.expected_ml).into()),
        ("left", shown(left).into()),
    ];
    let key = match (line.expected_ml, left) {
        (0, _) => "fill-out",
        (_, ..=0) => "fill-all",
        _ => "fill-left",
    };
    let again = if line.filled_ml > 0 { t.fill("fill-some", "in", &shown(line.filled_ml)) } else { String::new() };
    (line.drained_ml > 0).then(|| format!("{}{again}", t.with(key, &said)))
}

/// What the next step needs and is not so. What a later one needs may still be brought about on the way.
fn wanted(stage: &Stage, t: &Texts) -> Vec<Wanted> {
    let next = stage.steps.iter().find(|step| is_left(step)).map(|step| step.step);
    let own = stage.wanted.iter().filter(|wanted| Some(wanted.step) == next);
    let shown = own.map(|wanted| Wanted {
        state: wanted.state,
        words: t.word(VehicleState::try_from(wanted.state).unwrap_or_default().as_str_name()),
    });
    shown.collect()
}

/// The next steps up to one that somebody has to look at or to measure. One alone has a button already.
fn run(steps: &[StepLine], t: &Texts) -> Option<Run> {
    let left = steps.iter().filter(|step| step.class == "left");
    let run: Vec<&StepLine> = left.take_while(|step| step.hold.is_empty() && !step.measures).collect();
    let (first, last) = (run.first()?, run.last()?);
    if run.len() < 2 {
        return None;
    }
    let list = |steps: &mut dyn Iterator<Item = &&StepLine>| {
        steps.map(|step| step.step.to_string()).collect::<Vec<_>>().join(",")
    };
    Some(Run {
        steps: list(&mut run.iter()),
        with: list(&mut run.iter().filter(|step| !step.listed.is_empty())),
        words: t.with("steps-as-listed", &[("from", first.step.into()), ("to", last.step.into())]),
        whole: run.len() == steps.iter().filter(|step| step.class == "left").count(),
    })
}

/// What can hurt in a stage, gravest first, each once. What was said with a step that is done holds on while the stage
/// lasts: fuel vapour does not go with the tick.
pub fn cautions(stage: &Stage, t: &Texts) -> Vec<Warning> {
    let lasts = stage.steps.iter().filter(|step| step.state != i32::from(StepState::Skipped));
    warnings(lasts.flat_map(|step| &step.cautions), t)
}

/// Cautions, gravest first, each once.
pub fn warnings<'a>(all: impl Iterator<Item = &'a Caution>, t: &Texts) -> Vec<Warning> {
    let mut found: Vec<&Caution> = all.collect();
    found.sort_by_key(|caution| caution.word);
    let mut seen = std::collections::HashSet::new();
    found.retain(|caution| seen.insert((caution.word, caution.text.as_str())));
    let shown = found.into_iter().map(|caution| {
        let word = SignalWord::try_from(caution.word).unwrap_or_default().as_str_name();
        Warning { class: word.to_lowercase().replace('_', "-"), word: t.word(word), text: caution.text.clone() }
    });
    shown.collect()
}

fn step_line(stage: &Stage, step: &Step, books: Books<'_>, look: Look<'_>) -> StepLine {
    let t = look.texts;
    let (class, done) = match StepState::try_from(step.state) {
        Ok(StepState::Done) => {
            let when = look.near(step.done_at.as_ref());
            ("done", t.with("step-done", &[("who", step.done_by.as_str().into()), ("when", when.into())]))
        }
        Ok(StepState::Skipped) => ("skipped", t.fill("step-left-out", "reason", &step.reason)),
        _ => ("left", String::new()),
    };
    let lines = strip::of_step(books.strip, &stage.stage, step.step, look);
    let unsaid: Vec<&str> =
        lines.iter().filter(|line| line.class == "left").map(|line| line.position.as_str()).collect();
    let readings = measure::of_step(books.readings, &stage.stage, step.step, t);
    StepLine {
        step: step.step,
        class,
        text: step.instruction.clone(),
        hold: if step.hold.is_empty() { String::new() } else { t.fill("stop-and-check", "what", &step.hold) },
        second: step.hold_second,
        details: details(step, t),
        done,
        listed: if unsaid.is_empty() { String::new() } else { t.count("off-as-listed", unsaid.len()) },
        unsaid: unsaid.join(","),
        lines,
        measures: readings.iter().any(|reading| !reading.taken),
        readings,
    }
}

/// A step's first words, for what is left half done: the next one finds the whole where the step stands.
pub fn first_words(text: &str) -> String {
    const MOST: usize = 60;
    if text.chars().count() <= MOST {
        return text.to_owned();
    }
    let head: String = text.chars().take(MOST).collect();
    let whole = head.rsplit_once(' ').map_or(head.as_str(), |(whole, _)| whole);
    format!("{}…", whole.trim_end_matches([',', ';', ':', '.']))
}

fn details(step: &Step, t: &Texts) -> Vec<String> {
    let recipe = step.fill.iter().map(|fill| fill.recipe.as_str()).filter(|recipe| !recipe.is_empty());
    let mut details: Vec<String> = recipe.map(|recipe| t.fill("goes-in", "what", recipe)).collect();
    details.extend(step.tools.iter().cloned());
    details.extend(step.shared_tools.iter().map(|tool| t.fill("shared-tool", "tool", tool)));
    details.extend(step.needs.iter().map(|need| {
        let name = if need.name.is_empty() { &need.item } else { &need.name };
        let line = format!("{} {name}", quantity::show(need.quantity, &need.unit));
        if need.issued >= need.quantity { line } else { t.fill("not-here-yet", "what", &line) }
    }));
    details
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::moment;
    use leadhand_sdk::v1::StepFill;

    fn step(number: i32, state: StepState) -> Step {
        Step { step: number, state: state.into(), ..Step::default() }
    }

    fn shown(stage: &Stage, books: Books<'_>) -> StageNow {
        let (texts, zone) = (Texts::of("en-GB"), jiff::tz::TimeZone::UTC);
        let look = Look { texts: &texts, zone: &zone, now: jiff::Timestamp::UNIX_EPOCH };
        StageNow::of(stage, 1, Some("Flint"), books, look)
    }

    #[test]
    fn one_touch_does_the_next_steps_up_to_a_stop_and_check() {
        let strip = GetStripResponse::default();
        let books = Books { strip: &strip, readings: &[], fluids: &[] };
        let mut stage = Stage {
            steps: vec![
                step(1, StepState::Done),
                step(2, StepState::Pending),
                step(3, StepState::Pending),
                Step { hold: "cold".into(), ..step(4, StepState::Pending) },
                step(5, StepState::Pending),
            ],
            ..Stage::default()
        };
        let run = shown(&stage, books).run.unwrap();
        assert_eq!((run.steps.as_str(), run.with.as_str(), run.whole), ("2,3", "", false));
        stage.steps[1].state = StepState::Done.into();
        assert!(shown(&stage, books).run.is_none(), "one alone has its own button");
        stage.steps[2].state = StepState::Done.into();
        assert!(shown(&stage, books).run.is_none(), "somebody has to look first");
    }

    #[test]
    fn one_touch_stops_before_what_has_to_be_measured() {
        let strip = GetStripResponse::default();
        let missing = Reading { step: 2, stage: "s".into(), ..Reading::default() };
        let stage = Stage {
            stage: "s".into(),
            steps: (1..=4).map(|n| step(n, StepState::Pending)).collect(),
            ..Stage::default()
        };
        let readings = [missing];
        let now = shown(&stage, Books { strip: &strip, readings: &readings, fluids: &[] });
        assert!(now.run.is_none() && now.steps[1].measures);
        let taken = Reading { taken_at: Some(moment::to_wire(jiff::Timestamp::UNIX_EPOCH)), ..readings[0].clone() };
        let now = shown(&stage, Books { strip: &strip, readings: &[taken], fluids: &[] });
        let run = now.run.unwrap();
        assert_eq!((run.steps.as_str(), run.whole), ("1,2,3,4", true), "with it the stage may be finished");
    }

    #[test]
    fn what_is_half_done_is_named_by_its_first_words() {
        assert_eq!(first_words("Drain it."), "Drain it.");
        let long = "Take the airbox and the fuel rail off; cap the lines and the injector seats at once, then go on";
        assert_eq!(first_words(long), "Take the airbox and the fuel rail off; cap the lines and…");
        assert_eq!(first_words(&"é".repeat(80)).chars().count(), 61);
    }

    /// What was reckoned stands with the step that says it, and where nothing was, nothing is said.
    #[test]
    fn a_step_tells_what_goes_in_as_it_was_reckoned() {
        let texts = Texts::of("en-GB");
        let reckoned =
            |recipe: &str| StepFill { fluid: "coolant".into(), recipe: recipe.into(), ..StepFill::default() };
        let of = |fill| details(&Step { fill: Some(fill), ..step(1, StepState::Pending) }, &texts);
        let told = of(reckoned("2.8 L at 100 % with 2.7 L of water"));
        assert!(
            matches!(told.as_slice(), [only] if only.starts_with("GOES IN") && only.contains("2.8 L at 100 %")),
            "{told:?}"
        );
        assert!(of(reckoned("")).is_empty());
    }

    #[test]
    fn only_states_that_the_next_step_needs_are_asked_for() {
        use leadhand_sdk::v1::StateWanted;
        let strip = GetStripResponse::default();
        let wants = |step, state: VehicleState| StateWanted { step, state: state.into(), ..StateWanted::default() };
        let stage = Stage {
            steps: vec![step(1, StepState::Done), step(2, StepState::Pending), step(3, StepState::Pending)],
            wanted: vec![wants(2, VehicleState::CoolantDrained), wants(3, VehicleState::BatteryIsolated)],
            ..Stage::default()
        };
        let now = shown(&stage, Books { strip: &strip, readings: &[], fluids: &[] });
        let asked: Vec<i32> = now.wanted.iter().map(|wanted| wanted.state).collect();
        assert_eq!(asked, [i32::from(VehicleState::CoolantDrained)]);
    }

    #[test]
    fn what_was_added_on_the_way_and_is_left_is_told_first() {
        let strip = GetStripResponse::default();
        let added =
            |number, state| Step { unplanned: true, instruction: format!("half {number}"), ..step(number, state) };
        let stage = Stage {
            steps: vec![step(1, StepState::Pending), added(2, StepState::Pending), added(3, StepState::Done)],
            ..Stage::default()
        };
        assert_eq!(shown(&stage, Books { strip: &strip, readings: &[], fluids: &[] }).left_over, ["half 2"]);
    }
    #[test]
    fn a_fluid_is_asked_for_where_it_comes_out_and_where_it_goes_in() {
        let strip = GetStripResponse::default();
        let line = |drained_ml, filled_ml| FluidLine {
            fluid: "coolant".into(),
            stage: "drain".into(),
            step: 1,
            back: "fill".into(),
            expected_ml: 2000,
            drained_ml,
            filled_ml,
            ..FluidLine::default()
        };
        let asked = |stage: &str, state: StepState, line: FluidLine| {
            let stage = Stage { stage: stage.into(), steps: vec![step(1, state)], ..Stage::default() };
            let books = Books { strip: &strip, readings: &[], fluids: &[line] };
            shown(&stage, books).fluids.into_iter().map(|fluid| (fluid.way, fluid.left)).collect::<Vec<_>>()
        };
        assert_eq!(asked("drain", StepState::Pending, line(0, 0)), [("drained", 2000)], "its step asks for it");
        assert_eq!(asked("drain", StepState::Done, line(500, 0)), [("drained", 1500)]);
        assert!(asked("drain", StepState::Done, line(2000, 0)).is_empty());
        assert_eq!(asked("fill", StepState::Pending, line(1800, 0)), [("filled", 1800)], "as much as came out");
        assert!(asked("fill", StepState::Pending, line(1800, 1800)).is_empty());
        let told = |line: FluidLine| {
            let stage = Stage { stage: "fill".into(), ..Stage::default() };
            let books = Books { strip: &strip, readings: &[], fluids: &[line] };
            shown(&stage, books).fills.into_iter().map(|fill| fill.told).collect::<Vec<_>>().join("; ")
        };
        let whole = |expected_ml, drained_ml, filled_ml| FluidLine {
            what: "Coolant".into(),
            expected_ml,
            ..line(drained_ml, filled_ml)
        };
        assert_eq!(told(whole(8_200, 6_100, 0)), "Coolant: 6.1 L came out of 8.2 L, and 2.1 L is still in");
        assert!(told(whole(7_000, 7_000, 0)).ends_with("7 L goes in again; nothing is left in"));
        assert_eq!(told(whole(0, 500, 200)), "Coolant: 500 mL came out. 200 mL went in again already");
        assert_eq!(told(whole(8_200, 0, 0)), "", "nothing came out yet");
    }
}
