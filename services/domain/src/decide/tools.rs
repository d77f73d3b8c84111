//! Shared tools: each is in one place, and whoever needs one elsewhere knows who has it.

use crate::answer::{Made, Notice};
use crate::check;
use crate::command::{AddTool, Change, Command, DescribeTool, LendTool, ReopenLoan, RetireTool, ReturnTool};
use crate::context::Context;
use crate::decide::needs::since;
use crate::decide::{calendar, flow};
use crate::look;
use crate::need::Need;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::telling::FreeFrom;
use crate::view::{known_as, tools_of};
use leadhand_facts::rows::{LoanRow, StageRow, StepRow, ToolRow};
use leadhand_facts::words::{Cause, JobState, StepState};
use leadhand_facts::{BlockerNo, Fact, Instant, JobNo, LoanId, StageKey, StepNo, ToolKey};
use std::collections::{BTreeMap, BTreeSet};

/// What the commands about shared tools need to see beyond the shop.
pub(super) fn needs(state: &State, command: &Command, context: &Context) -> Vec<Need> {
    let at = since(context.happened_at);
    match command {
        Command::LendTool(c) => {
            let mut needs = of_tool(state, &c.tool, at);
            needs.extend(c.job.map(Need::Job));
            if let Some(bay) = &c.bay {
                needs.push(Need::BayStays(bay.clone(), at));
                needs.extend(look::stay_in_at(state, bay, context.happened_at).map(|stay| Need::Job(stay.job)));
            }
            needs
        }
        Command::ReturnTool(c) => of_tool(state, &c.tool, at),
        Command::ReopenLoan(c) => {
            let mut needs = of_tool(state, &c.tool, at);
            needs.push(Need::LastLoan(c.tool.clone(), None));
            // What was said last may go, and then the one before it is the last: that one has to be there already.
            needs.extend(last_loan(state, &c.tool).map(|last| Need::LastLoan(c.tool.clone(), Some(last.from_at))));
            needs
        }
        _ => Vec::new(),
    }
}

fn of_tool(state: &State, tool: &ToolKey, at: Instant) -> Vec<Need> {
    let mut needs = vec![Need::ToolLoans(tool.clone(), at), Need::ToolWanted(tool.clone())];
    needs.extend(wanting(state, tool).into_iter().map(Need::Job));
    needs
}

/// Jobs with a step to be done that asks for a tool; those that are closed and loaded are left out.
fn wanting(state: &State, tool: &ToolKey) -> BTreeSet<JobNo> {
    let wants = |row: &&StepRow| row.state == StepState::Pending && row.shared_tools.contains(tool);
    let jobs: BTreeSet<JobNo> = state.steps.iter().filter(wants).map(|row| row.job).collect();
    let open = |job: &JobNo| state.jobs.get(&(*job,)).is_none_or(|row| row.state == JobState::Open);
    jobs.into_iter().filter(open).collect()
}

/// Decides what is about shared tools; nothing else.
pub(super) fn decide(session: &mut Session, command: &Command) -> Option<Result<Made, Refusal>> {
    Some(match command {
        Command::AddTool(c) => add(session, c),
        Command::DescribeTool(c) => describe(session, c),
        Command::RetireTool(c) => retire(session, c),
        Command::LendTool(c) => lend(session, c),
        Command::ReturnTool(c) => bring_back(session, c),
        Command::ReopenLoan(c) => reopen(session, c),
        _ => return None,
    })
}

pub(super) fn add(session: &mut Session, command: &AddTool) -> Result<Made, Refusal> {
    check::key("tool.tool", command.tool.as_str())?;
    check_words("tool.", &command.name, command.what.as_deref(), command.calibration_due.as_deref())?;
    if session.state.tools.get(&(command.tool.clone(),)).is_some() {
        return Err(Refusal::Taken { what: "shared tool", which: command.tool.to_string() });
    }
    let AddTool { tool, name, what, calibration_due } = command.clone();
    session.emit(Fact::ToolAdded { tool, name, what, calibration_due })?;
    Ok(Made::Nothing)
}

fn check_words(of: &str, name: &str, what: Option<&str>, calibration_due: Option<&str>) -> Result<(), Refusal> {
    check::name(&format!("{of}name"), name)?;
    what.map_or(Ok(()), |what| check::name(&format!("{of}what"), what))?;
    calibration_due.map_or(Ok(()), |day| check::date(&format!("{of}calibration_due"), day).map(|_| ()))
}

pub(super) fn describe(session: &mut Session, command: &DescribeTool) -> Result<Made, Refusal> {
    let row = tool(session.state, &command.tool)?.clone();
    let said = ToolRow {
        name: command.name.clone().unwrap_or_else(|| row.name.clone()),
        what: changed(&command.what, row.what.as_ref()),
        calibration_due: changed(&command.calibration_due, row.calibration_due.as_ref()),
        retired_n: None,
        reason: None,
        ..row.clone()
    };
    check_words("", &said.name, said.what.as_deref(), said.calibration_due.as_deref())?;
    if said == row {
        return Err(Refusal::NothingToDo { what: format!("change: shared tool '{}' is kept so already", row.tool) });
    }
    let ToolRow { tool, name, what, calibration_due, .. } = said;
    session.emit(Fact::ToolDescribed { tool, name, what, calibration_due })?;
    Ok(Made::Nothing)
}

fn changed(change: &Change<String>, before: Option<&String>) -> Option<String> {
    match change {
        Change::Keep => before.cloned(),
        Change::Clear => None,
        Change::Set(said) => Some(said.clone()),
    }
}

pub(super) fn retire(session: &mut Session, command: &RetireTool) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    let row = in_use(session.state, &command.tool)?.tool.clone();
    if let Some(loan) = loan_of(session.state, &row) {
        return Err(out(loan));
    }
    let reason = session.seal(&command.reason);
    session.emit(Fact::ToolRetired { tool: row, reason })?;
    Ok(Made::Nothing)
}

/// A shared tool, retired or not.
fn tool<'a>(state: &'a State, tool: &ToolKey) -> Result<&'a ToolRow, Refusal> {
    state.tools.get(&(tool.clone(),)).ok_or_else(|| unknown(tool))
}

fn unknown(tool: &ToolKey) -> Refusal {
    Refusal::Unknown { what: "shared tool", which: tool.to_string(), todo: "`leadhand tool list` shows them" }
}

fn in_use<'a>(state: &'a State, key: &ToolKey) -> Result<&'a ToolRow, Refusal> {
    let row = tool(state, key)?;
    if row.retired_n.is_some() { Err(Refusal::ToolRetired { tool: key.clone() }) } else { Ok(row) }
}

/// The shared tools that a step is to ask for: each known and in use, none twice.
pub(super) fn check_named(state: &State, field: &str, tools: &[ToolKey]) -> Result<(), Refusal> {
    for (at, key) in tools.iter().enumerate() {
        in_use(state, key)?;
        if tools[..at].contains(key) {
            return Err(Refusal::invalid(
                format!("{field}[{at}]"),
                format!("'{key}' stands there twice; once is enough"),
            ));
        }
    }
    Ok(())
}

/// The loan of a tool that is open.
pub(crate) fn loan_of<'a>(state: &'a State, tool: &ToolKey) -> Option<&'a LoanRow> {
    state.loans.iter().find(|row| row.tool == *tool && row.until_at.is_none())
}

/// The loan of a tool that began last, as far as it is loaded.
fn last_loan<'a>(state: &'a State, tool: &ToolKey) -> Option<&'a LoanRow> {
    state.loans.iter().filter(|row| row.tool == *tool).max_by_key(|row| row.from_at)
}

fn out(loan: &LoanRow) -> Refusal {
    Refusal::ToolOut { tool: loan.tool.clone(), holder: holder(loan), since: loan.from_at }
}

/// Who has it, in words. A person is an id, since no name is known here.
fn holder(loan: &LoanRow) -> String {
    match (loan.job, &loan.stage, loan.person) {
        (Some(job), Some(stage), _) => format!("job {job} for stage '{stage}'"),
        (Some(job), None, _) => format!("job {job}"),
        (None, _, Some(person)) => person.to_string(),
        (None, ..) => "nobody".to_owned(),
    }
}

pub(super) fn lend(session: &mut Session, command: &LendTool) -> Result<Made, Refusal> {
    check_whom(command)?;
    let row = in_use(session.state, &command.tool)?.clone();
    let new = to_whom(session, command)?;
    let held = loan_of(session.state, &row.tool).cloned();
    match (&held, command.hand_on) {
        (Some(loan), false) => return Err(out(loan)),
        (None, true) => return Err(Refusal::ToolNotOut { tool: row.tool }),
        (Some(loan), true) if (loan.job, &loan.stage, loan.person) == (new.job, &new.stage, new.person) => {
            return Err(Refusal::ToolThere { tool: row.tool, holder: holder(loan) });
        }
        _ => {}
    }
    refuse_then(session, &row.tool, held.as_ref())?;
    if let Some(held) = held {
        give_back(session, &held)?;
    }
    let LoanRow { loan, tool, job, stage, bay, person, .. } = new;
    session.emit(Fact::ToolLent { loan, tool: tool.clone(), job, stage, bay, person })?;
    tell_calibration(session, &row);
    settle_wanting(session, &tool)?;
    Ok(Made::Nothing)
}

fn check_whom(command: &LendTool) -> Result<(), Refusal> {
    let named = [command.job.is_some(), command.bay.is_some(), command.person.is_some()];
    if named.into_iter().filter(|named| *named).count() != 1 {
        let why = "a tool goes to one: give either a job, a bay or a person";
        return Err(Refusal::invalid("job", why));
    }
    if command.stage.is_some() && command.job.is_none() && command.bay.is_none() {
        return Err(Refusal::invalid("stage", "it needs its job, or the bay where its vehicle stands"));
    }
    Ok(())
}

/// The loan as it would be: the job's bay is where its vehicle stands.
fn to_whom(session: &mut Session, command: &LendTool) -> Result<LoanRow, Refusal> {
    let state = &*session.state;
    // A loan that is entered late went to what stood there then.
    let at = session.at();
    let stay = command.bay.as_ref().map(|bay| {
        look::bay(state, bay)?;
        look::stay_in_at(state, bay, at).ok_or_else(|| match session.context.now {
            now if now == at => Refusal::BayEmpty { bay: bay.clone() },
            _ => Refusal::BayEmptyThen { bay: bay.clone(), at },
        })
    });
    let job = stay.transpose()?.map(|stay| stay.job).or(command.job);
    let mut bay = None;
    if let Some(job) = job {
        look::open_job(state, session.context, job)?;
        bay = look::stay_of_job_at(state, job, at).map(|stay| stay.bay.clone());
        if let Some(stage) = &command.stage {
            let stage = look::stage(state, job, stage)?;
            if look::is_ended(stage) {
                let (stage, state) = (stage.stage.clone(), stage.state);
                let todo = "choose a stage that is left, or the job alone";
                return Err(Refusal::StageIs { job, stage, state, attempted: "lent a tool", todo });
            }
        }
    }
    command.person.map_or(Ok(()), |person| look::person(state, person).map(|_| ()))?;
    let (tool, stage, person) = (command.tool.clone(), command.stage.clone(), command.person);
    let (from_at, from_n) = (session.at(), session.state.head);
    Ok(LoanRow {
        loan: LoanId(session.id()),
        tool,
        job,
        stage,
        bay,
        person,
        from_at,
        until_at: None,
        from_n,
        until_n: None,
    })
}

/// A loan that begins in the past lasts until now at least: nobody else may have had the tool in between.
fn refuse_then(session: &Session, tool: &ToolKey, held: Option<&LoanRow>) -> Result<(), Refusal> {
    let at = session.at();
    let others =
        session.state.loans.iter().filter(|row| row.tool == *tool && held.is_none_or(|held| held.loan != row.loan));
    for row in others {
        if let Some(until_at) = row.until_at.filter(|until_at| *until_at > at) {
            let (tool, holder, from_at) = (tool.clone(), holder(row), row.from_at);
            return Err(Refusal::ToolOutThen { tool, holder, from_at, until_at: FreeFrom(until_at) });
        }
    }
    Ok(())
}

/// Ends a loan at the command's time; an empty one is refused.
fn give_back(session: &mut Session, loan: &LoanRow) -> Result<(), Refusal> {
    if session.at() <= loan.from_at {
        let what = format!("giving shared tool '{}' away", loan.tool);
        return Err(look::too_early(what, session.at(), loan.from_at));
    }
    session.emit(Fact::ToolReturned { loan: loan.loan, tool: loan.tool.clone() })?;
    Ok(())
}

fn tell_calibration(session: &mut Session, row: &ToolRow) {
    let over = out_of_calibration(session.state, row, session.context.now);
    if let Some(due) = row.calibration_due.clone().filter(|_| over) {
        session.notice(Notice::OutOfCalibration { tool: row.tool.clone(), due });
    }
}

/// Whether a tool's calibration counted until an earlier day than today in the shop.
pub(crate) fn out_of_calibration(state: &State, row: &ToolRow, now: Instant) -> bool {
    let Ok(today) = calendar::today(state, now) else { return false };
    // Days written as YYYY-MM-DD stand in order as texts.
    row.calibration_due.as_ref().is_some_and(|due| *due < today.to_string())
}

pub(super) fn bring_back(session: &mut Session, command: &ReturnTool) -> Result<Made, Refusal> {
    let tool = tool(session.state, &command.tool)?.tool.clone();
    let loan = loan_of(session.state, &tool).cloned().ok_or_else(|| Refusal::ToolNotOut { tool: tool.clone() })?;
    give_back(session, &loan)?;
    let waited: Vec<_> = session
        .state
        .blockers
        .iter()
        .filter(|row| row.cleared_at.is_none() && row.tool.as_ref() == Some(&tool))
        .filter_map(|row| Some((row.job, row.stage.clone(), row.step?)))
        .collect();
    settle_wanting(session, &tool)?;
    for (job, stage, step) in waited {
        session.notice(Notice::ToolWaitedFor { tool: tool.clone(), job, stage, step });
    }
    Ok(Made::Nothing)
}

/// Takes back what was said last: that it came back, where nobody has it, else that it was lent.
pub(super) fn reopen(session: &mut Session, command: &ReopenLoan) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    let tool = in_use(session.state, &command.tool)?.tool.clone();
    let Some(last) = last_loan(session.state, &tool).cloned() else {
        return Err(Refusal::NothingToDo { what: format!("take back: shared tool '{tool}' was never lent") });
    };
    let latest = last.until_at.unwrap_or(last.from_at);
    if session.at() < latest {
        let what = format!("taking back what was said of shared tool '{tool}'");
        return Err(look::too_early(what, session.at(), latest));
    }
    let reason = session.seal(&command.reason);
    session.emit(Fact::LoanReopened { loan: last.loan, tool: tool.clone(), reason })?;
    settle_wanting(session, &tool)?;
    Ok(Made::Nothing)
}

fn settle_wanting(session: &mut Session, tool: &ToolKey) -> Result<(), Refusal> {
    for job in wanting(session.state, tool) {
        flow::settle_blockers(session, job)?;
    }
    Ok(())
}

type Held = (StageKey, StepNo, ToolKey);

/// Raises a blocker where the step that is next asks for a tool that another job has, and clears those whose tool is
/// free or whose step is not next any more. A tool that a person has goes where the person goes, so it holds nobody up.
pub(super) fn settle_blockers(session: &mut Session, job: JobNo) -> Result<(), Refusal> {
    let wanted: BTreeSet<Held> = flow::next_steps(session.state, job)
        .flat_map(|row| row.shared_tools.iter().map(|tool| (row.stage.clone(), row.step, tool.clone())))
        .filter(|(_, _, tool)| elsewhere(session.state, job, tool))
        .collect();
    let standing: BTreeMap<Held, BlockerNo> = look::open_blockers(session.state, job)
        .filter_map(|row| Some(((row.stage.clone(), row.step?, row.tool.clone()?), row.blocker)))
        .collect();
    for blocker in standing.iter().filter(|(held, _)| !wanted.contains(held)).map(|(_, blocker)| *blocker) {
        session.emit(Fact::BlockerCleared { job, blocker, note: None })?;
    }
    for (stage, step, tool) in wanted.into_iter().filter(|held| !standing.contains_key(held)) {
        let blocker = flow::next_blocker(session.state, job)?;
        session.emit(Fact::BlockerRaised {
            job,
            blocker,
            stage,
            cause: Cause::Tool,
            owner: None,
            expected_at: None,
            note: None,
            step: Some(step),
            item: None,
            reading: None,
            tool: Some(tool),
        })?;
    }
    Ok(())
}

fn elsewhere(state: &State, job: JobNo, tool: &ToolKey) -> bool {
    loan_of(state, tool).is_some_and(|loan| loan.job.is_some_and(|other| other != job))
}

/// What a step's shared tools will miss.
pub(super) fn missing(state: &State, row: &StepRow, next: bool) -> Vec<Notice> {
    let of_tool = |key: &ToolKey| {
        let (stage, step, tool) = (row.stage.clone(), row.step, key.clone());
        if in_use(state, key).is_err() {
            return Some(Notice::ToolGone { stage, step, tool });
        }
        let loan = loan_of(state, key).filter(|loan| loan.job != Some(row.job))?;
        Some(Notice::ToolElsewhere { stage, step, tool, job: loan.job, next })
    };
    row.shared_tools.iter().filter_map(of_tool).collect()
}

/// Tells whoever starts a stage which of its shared tools are past their calibration, each once.
pub(super) fn tell_uncalibrated(session: &mut Session, row: &StageRow) {
    let left = look::steps(session.state, row.job, &row.stage).filter(|step| step.state == StepState::Pending);
    let mut asked: BTreeSet<ToolKey> = left.flat_map(|step| step.shared_tools.iter().cloned()).collect();
    // A tool that a template only describes is one of the shop's where it is called the same.
    for words in tools_of(session.state, row) {
        asked.extend(known_as(session.state, &words).map(|tool| tool.tool.clone()));
    }
    let used: Vec<ToolRow> = asked.iter().filter_map(|key| in_use(session.state, key).ok().cloned()).collect();
    for tool in &used {
        tell_calibration(session, tool);
    }
}

/// Tells which shared tools a job still has when it is over.
pub(super) fn tell_out(session: &mut Session, job: JobNo) {
    let own = session.state.loans.iter().filter(|row| row.job == Some(job) && row.until_at.is_none());
    let notices: Vec<Notice> = own.map(|row| Notice::ToolStillOut { tool: row.tool.clone() }).collect();
    session.notices.extend(notices);
}
