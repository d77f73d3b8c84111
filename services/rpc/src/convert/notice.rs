//! Receipts, and what a person should know, as sentences with stable codes.

use super::time::stamp;
use leadhand_app::Outcome;
use leadhand_domain::answer::Notice;
use leadhand_domain::hazard::caution;
use leadhand_domain::telling::amount;
use leadhand_domain::toolbox;
use leadhand_facts::words::Verdict;
use leadhand_facts::{PositionKey, ReadingKey, StageKey};
use leadhand_facts::{Quantity, Unit};
use leadhand_proto::v1;

/// `a`, `a and b`, `a, b and c`.
fn listed(all: &[String]) -> String {
    toolbox::listed(&all.iter().map(String::as_str).collect::<Vec<_>>())
}

/// The receipt of an accepted write.
#[expect(clippy::unnecessary_wraps, reason = "a message inside of another is optional on the wire")]
pub fn receipt(outcome: &Outcome) -> Option<v1::Receipt> {
    Some(v1::Receipt {
        number: outcome.answer.number,
        recorded_at: stamp(outcome.answer.recorded_at),
        repeated: outcome.repeated,
        notices: outcome.answer.notices.iter().map(notice).collect(),
        dry_run: outcome.dry_run,
    })
}

fn notice(notice: &Notice) -> v1::Notice {
    let (code, text) = said(notice);
    v1::Notice { code: code.to_owned(), text }
}

fn said(notice: &Notice) -> (&'static str, String) {
    match notice {
        Notice::MovedOver { .. }
        | Notice::NobodyClockedOn
        | Notice::ElsewhereLater { .. }
        | Notice::StartedWithWork { .. } => of_time(notice).unwrap_or_default(),
        Notice::OtherBayLater { stage } => {
            ("OTHER_BAY_LATER", format!("stage '{stage}' can't be done in this bay; the vehicle has to move before it"))
        }
        Notice::ClockOnAgain { stage } => {
            ("CLOCK_ON_AGAIN", format!("stage '{stage}' goes on; whoever works on it has to clock on again"))
        }
        Notice::MoreHands { stage, hands, on } => {
            ("MORE_HANDS", format!("stage '{stage}' asks for {hands} persons at a time and {on} are on it"))
        }
        Notice::CalledElsewhere { .. } | Notice::CameApart { .. } | Notice::LetGo { .. } => of_danger(notice),
        Notice::Measured { reading, verdict, said } => measured(reading, *verdict, said),
        Notice::GoesAsItIs { .. }
        | Notice::EndedWithHandOver { .. }
        | Notice::LeftOpen { .. }
        | Notice::PlanLeftOut { .. } => of_going(notice),
        Notice::OutOfCalibration { .. }
        | Notice::ToolElsewhere { .. }
        | Notice::ToolGone { .. }
        | Notice::ToolWaitedFor { .. }
        | Notice::ToolStillOut { .. } => of_tools(notice).unwrap_or_default(),
        Notice::StateWanted { .. }
        | Notice::FluidLeft { .. }
        | Notice::FluidUnsaid { .. }
        | Notice::NotWhole { .. }
        | Notice::LiveNow { .. }
        | Notice::FluidOver { .. }
        | Notice::LookAgain { .. }
        | Notice::OtherWay { .. } => of_condition(notice),
        Notice::Mind { word, step, text } => ("CAUTION", format!("{word} (step {step}): {text}")),
        Notice::LeftOutOpen { .. }
        | Notice::FitNewStays { .. }
        | Notice::FitNewAgain { .. }
        | Notice::NewPieces { .. }
        | Notice::Counted { .. }
        | Notice::SoaksEarly { .. }
        | Notice::NeverThere { .. }
        | Notice::LoosenedAgain { .. } => of_strip(notice),
        Notice::StillSoaks { .. }
        | Notice::StillCures { .. }
        | Notice::NotSoaked { .. }
        | Notice::SplitWhole { .. } => of_waiting(notice),
        Notice::MissingLater { .. }
        | Notice::MissingNow { .. }
        | Notice::NotReserved { .. }
        | Notice::TickedWithout { .. }
        | Notice::Displaced { .. }
        | Notice::Covered { .. } => of_goods(notice).unwrap_or_default(),
        Notice::FillGoesBy { .. } | Notice::WholeLitres { .. } | Notice::FluidInAll { .. } => {
            of_fills(notice).unwrap_or_default()
        }
        Notice::WrittenToUsed { .. }
        | Notice::NotTaken { .. }
        | Notice::StaysIssued { .. }
        | Notice::ReserveAgain { .. } => of_given(notice).unwrap_or_default(),
    }
}

/// What whoever acts has to hear before going on.
fn of_danger(notice: &Notice) -> (&'static str, String) {
    match notice {
        Notice::CalledElsewhere { job, stage } => (
            "CALLED_ELSEWHERE",
            format!(
                "DANGER at this vehicle: somebody called the lead to stage '{stage}' of job {job}; find out what it is before you go on"
            ),
        ),
        Notice::CameApart { job } => (
            "CAME_APART",
            format!(
                "job {job} of this vehicle was called off with it apart: take that up again if it is to be finished (`leadhand job reopen {job}`), else it stands against the hand-over of this one"
            ),
        ),
        Notice::LetGo { what } => ("LET_GO", format!("let go with the same reason: {what}")),
        _ => ("", String::new()),
    }
}

/// Time of persons.
fn of_time(notice: &Notice) -> Option<(&'static str, String)> {
    Some(match notice {
        Notice::MovedOver { from_job, from_stage, .. } => (
            "MOVED_OVER",
            format!("the person was clocked on to stage '{from_stage}' of job {from_job} and was moved over"),
        ),
        Notice::NobodyClockedOn => {
            ("NOBODY_CLOCKED_ON", "nobody was clocked on, because this token stands for no person".to_owned())
        }
        Notice::ElsewhereLater { job, stage, on_job, on_stage } => (
            "ELSEWHERE_LATER",
            format!(
                "the person was on stage '{on_stage}' of job {on_job} after this start, and so was not clocked on to this one; enter the work on it with `leadhand clock work {job} {stage} FROM UNTIL`"
            ),
        ),
        Notice::StartedWithWork { stage } => (
            "STARTED_WITH_WORK",
            format!("nobody had started stage '{stage}', so it was started where this work begins"),
        ),
        _ => return None,
    })
}

fn measured(reading: &ReadingKey, verdict: Verdict, said: &str) -> (&'static str, String) {
    match verdict {
        Verdict::In => ("IN_LIMITS", format!("reading '{reading}' is within its limits")),
        Verdict::Free => ("NO_LIMITS", format!("reading '{reading}' has no limits and is kept as it is")),
        Verdict::Out => (
            "OUT_OF_LIMITS",
            format!(
                "reading '{reading}' is out of its limits: {said}; what depends on it waits until it is measured anew or the lead decides"
            ),
        ),
    }
}

/// How a vehicle goes.
fn of_going(notice: &Notice) -> (&'static str, String) {
    match notice {
        Notice::GoesAsItIs { what } => ("GOES_AS_IT_IS", format!("the vehicle goes as it is: {what}")),
        Notice::EndedWithHandOver { stage } => {
            ("ENDED_WITH_HAND_OVER", format!("stage '{stage}' waited for nothing else and ended with the hand-over"))
        }
        Notice::LeftOpen { position } => {
            ("LEFT_OPEN", format!("the vehicle goes while '{position}' is open in its strip book"))
        }
        Notice::PlanLeftOut { job, stage } => {
            ("PLAN_LEFT_OUT", format!("stage '{stage}' of job {job} is over already and was left out of the plan"))
        }
        _ => ("", String::new()),
    }
}

/// Shared tools.
fn of_tools(notice: &Notice) -> Option<(&'static str, String)> {
    Some(match notice {
        Notice::OutOfCalibration { tool, due } => (
            "OUT_OF_CALIBRATION",
            format!(
                "the calibration of shared tool '{tool}' counted until {due}; have it calibrated before it measures"
            ),
        ),
        Notice::ToolElsewhere { stage, step, tool, job, next } => {
            let holder = match job {
                Some(job) => format!("job {job} has"),
                None => "a person has; `leadhand tool list` says who".to_owned(),
            };
            let when = if *next { "is next and needs" } else { "will need" };
            ("TOOL_ELSEWHERE", format!("step {step} of stage '{stage}' {when} shared tool '{tool}', which {holder}"))
        }
        Notice::ToolGone { stage, step, tool } => (
            "TOOL_GONE",
            format!("step {step} of stage '{stage}' needs shared tool '{tool}', which the shop does not use any more"),
        ),
        Notice::ToolWaitedFor { tool, job, stage, step } => (
            "TOOL_WAITED_FOR",
            format!("shared tool '{tool}' is free, and step {step} of stage '{stage}' of job {job} was waiting for it"),
        ),
        Notice::ToolStillOut { tool } => {
            ("TOOL_STILL_OUT", format!("the job still has shared tool '{tool}'; have it brought back or handed on"))
        }
        _ => return None,
    })
}

/// The condition of the vehicle.
fn of_condition(notice: &Notice) -> (&'static str, String) {
    match notice {
        Notice::StateWanted { stage, step, state, is } => {
            ("STATE_WANTED", format!("step {step} of stage '{stage}' will need '{state}', and the vehicle is '{is}'"))
        }
        Notice::FluidLeft { fluid, millilitres } => (
            "FLUID_LEFT",
            format!(
                "{} of '{fluid}' did not come out and are still in; they run out of whatever is opened, so catch them",
                amount(Quantity(*millilitres), Some(Unit::Millilitre))
            ),
        ),
        Notice::FluidUnsaid { fluid, millilitres } => (
            "FLUID_UNSAID",
            format!(
                "nobody said how much of '{fluid}' came out: up to {} may still be in and run out of whatever is opened; say it with `leadhand fluid out`",
                amount(Quantity(*millilitres), Some(Unit::Millilitre))
            ),
        ),
        Notice::NotWhole { state, positions } => {
            let keys: Vec<String> = positions.iter().map(|position| format!("'{position}'")).collect();
            let are = if keys.len() == 1 { "is" } else { "are" };
            (
                "NOT_WHOLE",
                format!(
                    "the vehicle is '{state}' while {} {are} off, still in, not tight or curing; make it safe before anything is opened, started or moved",
                    listed(&keys)
                ),
            )
        }
        Notice::LiveNow { state, hazard } => {
            let caution = caution(*hazard);
            ("LIVE_NOW", format!("the vehicle is '{state}'; {}: {}", caution.word, caution.text))
        }
        Notice::FluidOver { fluid, filled_ml, most_ml, out } => {
            let told = |millilitres: i64| amount(Quantity(millilitres), Some(Unit::Millilitre));
            let than = if *out { "came out" } else { "should be in" };
            let (filled, most) = (told(*filled_ml), told(*most_ml));
            (
                "FLUID_OVER",
                format!("{filled} of '{fluid}' went in and {most} {than}; look at the level, and take back a slip"),
            )
        }
        Notice::LookAgain { stage, step, position, ended } => {
            let todo = if *ended {
                "so it is open again, though its stage has ended; have it looked at anew and ticked by its number"
            } else {
                "so it is open again; have it looked at anew"
            };
            (
                "LOOK_AGAIN",
                format!("hold point {step} of stage '{stage}' was passed before '{position}' was worked on, {todo}"),
            )
        }
        Notice::OtherWay { stage, step } => (
            "OTHER_WAY",
            format!("step {step} of stage '{stage}' was done in a way that is not the book's, on a lead's word"),
        ),
        _ => ("", String::new()),
    }
}

/// What soaks, cures or was ruined.
fn of_waiting(notice: &Notice) -> (&'static str, String) {
    match notice {
        Notice::StillCures { position, minutes } => (
            "STILL_CURES",
            format!("'{position}' still cures, for another {minutes} min; the sealant maker's time comes first"),
        ),
        Notice::StillSoaks { position, minutes } => (
            "STILL_SOAKS",
            format!(
                "'{position}' was to soak for {minutes} min more; give it that time before the next rung, or say that it soaks no longer (`leadhand strip soak JOB {position} 0`)"
            ),
        ),
        Notice::NotSoaked { position, minutes } => (
            "NOT_SOAKED",
            format!(
                "the try is kept; this rung lets '{position}' soak for {minutes} min first, and nobody said that it soaks: let it soak (`leadhand strip soak JOB {position} {minutes}`) before the next try"
            ),
        ),
        Notice::SplitWhole { position, part } => (
            "SPLIT_WHOLE",
            format!(
                "what broke or was ruined stays with '{position}': '{part}' counts as whole, so say which is longer or different, and not which is broken"
            ),
        ),
        _ => ("", String::new()),
    }
}

/// The strip book.
fn of_strip(notice: &Notice) -> (&'static str, String) {
    match notice {
        Notice::NeverThere { position } => (
            "NEVER_THERE",
            format!(
                "'{position}' was listed by nobody, so 0 of it count as found and nothing waits for it; if some came off, count them (`leadhand strip off`, with a note)"
            ),
        ),
        Notice::NewPieces { position, pieces } => (
            "NEW_PIECES",
            format!(
                "{pieces} of '{position}' will have to be new; where its item is known, the part is on the list of the stage in which it goes back"
            ),
        ),
        Notice::Counted { position, refitted, renewed, scrapped } => {
            let counts = [(refitted, "refitted"), (renewed, "new"), (scrapped, "thrown away")];
            let counts = counts.into_iter().filter(|(count, _)| **count > 0);
            let counts: Vec<String> = counts.map(|(count, what)| format!("{count} {what}")).collect();
            (
                "COUNTED",
                format!(
                    "of '{position}' nobody counted these, and they follow from the rest: {}; if that is not so, take it back (`leadhand strip reopen`) and say each count",
                    counts.join(", ")
                ),
            )
        }
        Notice::SoaksEarly { position, stage } => (
            "SOAKS_EARLY",
            format!("stage '{stage}' has not begun; '{position}' soaks from now on, before its turn, as is meant"),
        ),
        Notice::LeftOutOpen { stage, back, positions } => left_out(stage, *back, positions),
        Notice::FitNewStays { stage, step, position } => (
            "FIT_NEW_STAYS",
            format!(
                "step {step} of stage '{stage}' still fits new pieces of '{position}' and keeps what is set aside for it; leave it out with `leadhand step skip` if nothing new is needed"
            ),
        ),
        Notice::FitNewAgain { stage, step, position } => (
            "FIT_NEW_AGAIN",
            format!(
                "the new pieces of '{position}' are no longer in, so step {step} of stage '{stage}' that fits them is to be done again"
            ),
        ),
        Notice::LoosenedAgain { position, checked } => {
            let then = if *checked {
                ", so the second check of it counts no longer"
            } else {
                "; tighten it before the vehicle goes"
            };
            ("LOOSENED_AGAIN", format!("'{position}' is not as tight as it was{then}"))
        }
        _ => ("", String::new()),
    }
}

fn left_out(stage: &StageKey, back: bool, positions: &[PositionKey]) -> (&'static str, String) {
    let keys: Vec<String> = positions.iter().map(|position| format!("'{position}'")).collect();
    let (keys, are) = (listed(&keys), if positions.len() == 1 { "is" } else { "are" });
    let what = if back { "was to go back or come out in it" } else { "came off in it" };
    (
        "LEFT_OUT_OPEN",
        format!(
            "stage '{stage}' is left out, and {keys}, which {what}, {are} open: that stands against the hand-over until it is said in another stage"
        ),
    )
}

/// Parts and fluids.
fn of_goods(notice: &Notice) -> Option<(&'static str, String)> {
    Some(match notice {
        Notice::MissingLater { stage, step, item, missing, unit } => (
            "MISSING_LATER",
            format!(
                "step {step} of stage '{stage}' will need {} of '{item}' that nobody has promised yet",
                amount(*missing, Some(*unit))
            ),
        ),
        Notice::MissingNow { stage, step, item, missing, unit } => (
            "MISSING_NOW",
            format!(
                "step {step} of stage '{stage}' is next and {} of '{item}' are missing for it",
                amount(*missing, Some(*unit))
            ),
        ),
        Notice::NotReserved { stage, step, item, quantity, unit } => (
            "NOT_RESERVED",
            format!(
                "{} of '{item}' for step {step} of stage '{stage}' were never reserved",
                amount(*quantity, Some(*unit))
            ),
        ),
        Notice::TickedWithout { stage, step, item, quantity, unit } => (
            "TICKED_WITHOUT",
            format!(
                "step {step} of stage '{stage}' is ticked, and {} of '{item}' for it were neither taken from stock nor set aside; have them issued with how much (`leadhand stock issue`), or take the tick back",
                amount(*quantity, Some(*unit))
            ),
        ),
        Notice::Displaced { job, stage, step, item, quantity, unit } => (
            "DISPLACED",
            format!(
                "{} of '{item}' set aside for step {step} of stage '{stage}' of job {job} are no longer there, so that job is short of them",
                amount(*quantity, Some(*unit))
            ),
        ),
        Notice::Covered { job, stage, step, item, quantity, unit } => (
            "COVERED",
            format!(
                "{} of '{item}' are set aside now for step {step} of stage '{stage}' of job {job}, which was short of them",
                amount(*quantity, Some(*unit))
            ),
        ),
        _ => return None,
    })
}

/// What was given out for a job, or was not.
fn of_given(notice: &Notice) -> Option<(&'static str, String)> {
    Some(match notice {
        Notice::WrittenToUsed { item, quantity, unit } => (
            "WRITTEN_TO_USED",
            format!("{} of '{item}' that lay at the job were written to used", amount(*quantity, Some(*unit))),
        ),
        Notice::NotTaken { item, renewed, issued } => (
            "NOT_TAKEN",
            format!(
                "{renewed} of '{item}' are fitted new now and {issued} were given out for this job; have the rest issued (`leadhand stock issue`), else it stands against the hand-over"
            ),
        ),
        Notice::StaysIssued { stage, step, item, quantity, unit } => (
            "STAYS_ISSUED",
            format!(
                "{} of '{item}' that the job got for step {step} of stage '{stage}' stay with it; bring back what is left with `leadhand stock return`",
                amount(*quantity, Some(*unit))
            ),
        ),
        Notice::ReserveAgain { stage, step, item, quantity, unit } => (
            "RESERVE_AGAIN",
            format!(
                "{} of '{item}' for step {step} of stage '{stage}' are no longer set aside; reserve them again with `leadhand stock reserve`",
                amount(*quantity, Some(*unit))
            ),
        ),
        _ => return None,
    })
}

/// What there is to know of a fill.
fn of_fills(notice: &Notice) -> Option<(&'static str, String)> {
    Some(match notice {
        Notice::FillGoesBy { job, stage, step, item, otherwise, done } => {
            let place = format!("step {step} of stage '{stage}' of job {job}");
            match (otherwise, done) {
                (true, false) => (
                    "FILL_OTHERWISE",
                    format!(
                        "{place} goes by what '{item}' said before; reckon its fill anew before it is poured in (`leadhand reckon fill --job {job} --reserve {item}`, with the target)"
                    ),
                ),
                (true, true) => (
                    "FILL_OTHERWISE",
                    format!(
                        "{place} is ticked and went by what '{item}' said before; find out what is in, by label and refractometer: it stands against the hand-over"
                    ),
                ),
                (false, _) => (
                    "FILL_GOES_BY",
                    format!(
                        "{place} is poured from '{item}', which said nothing when it was reckoned; see that it is right"
                    ),
                ),
            }
        }
        Notice::FluidInAll { fluid, millilitres, out } => (
            "FLUID_IN_ALL",
            format!(
                "with what was said before, {} of '{fluid}' {} in all; where it was said twice, take it back (`leadhand fluid reopen`) and say it once",
                amount(Quantity(*millilitres), Some(Unit::Millilitre)),
                if *out { "came out" } else { "went in" }
            ),
        ),
        Notice::WholeLitres { item, millilitres, litres } => (
            "WHOLE_LITRES",
            format!(
                "{} of '{item}' are set aside where {} go in: the item is kept in whole litres, and what is left over goes back to its bin (`leadhand stock return`)",
                amount(*litres, Some(Unit::Litre)),
                amount(Quantity(*millilitres), Some(Unit::Millilitre))
            ),
        ),
        _ => return None,
    })
}
