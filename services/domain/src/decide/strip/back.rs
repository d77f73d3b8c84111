//! What goes back, comes out again, is tightened or loosened again, and looked at.

use super::off::{self, OUT_OF_ORDER};
use super::{COUNT_MAX, active, keys, once, row};
use crate::answer::{Made, Notice, WentBack};
use crate::check as form;
use crate::command::{BackLine, ConfirmPositions, PutBack, TightenPositions};
use crate::decide::{condition, proof, skills};
use crate::hand_over::{BACK_ORDER, LEFT_EMPTY, OLD_PART, SPOILT_PART, UNSKILLED};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::strip::{self, pieces_left, places_left};
use leadhand_facts::reading::Overruled;
use leadhand_facts::rows::{PositionRow, StageRow};
use leadhand_facts::words::{Manner, PositionKind, Renew, Tightness};
use leadhand_facts::{Fact, PositionKey};
use std::collections::{BTreeMap, BTreeSet};

/// What only a lead may do about something that is always renewed.
const OLD_ONE: &str = "have something put back that is always renewed";

/// What only a lead may do about something that is damaged.
const SPOILT_ONE: &str = "have something put back that is damaged or broken";

/// What only a lead may do about a fastener.
const EMPTY_PLACE: &str = "leave a place of something that holds empty";

pub(in crate::decide) fn put_back(session: &mut Session, command: &PutBack) -> Result<Made, Refusal> {
    form::text_some("override_reason", command.override_reason.as_deref())?;
    once(command.lines.iter().map(|line| &line.position))?;
    for (at, line) in command.lines.iter().enumerate() {
        check_line(at, line)?;
    }
    let stage = active(session, command.job, &command.stage, "something that goes back")?;
    condition::refuse_called(session, stage.job, &stage.stage)?;
    let mut lines = command.lines.clone();
    if command.as_listed {
        // How tight it is what goes back as listed says nobody: what is tightened by figures is only finger-tight.
        let listed = |line: BackLine| BackLine { tightness: None, ..line };
        lines.extend(due(session.state, &stage).into_iter().map(listed));
    }
    back_all(session, &stage, &lines, command.override_reason.as_deref())
}

/// Lines for what is listed to go back in a stage and has not.
pub(super) fn due(state: &State, stage: &StageRow) -> Vec<BackLine> {
    let rows = strip::positions(state, stage.job).filter(|row| row.detail.back.as_ref() == Some(&stage.stage));
    // As listed is also as tight as listed.
    let listed =
        |row: &PositionRow| BackLine { tightness: Some(Tightness::Final), ..BackLine::listed(row.position.clone()) };
    rows.filter(|row| strip::is_open(row)).map(listed).collect()
}

fn check_line(at: usize, line: &BackLine) -> Result<(), Refusal> {
    let counts = [
        ("refitted", line.refitted),
        ("renewed", line.renewed),
        ("left_out", Some(line.left_out)),
        ("scrapped", line.scrapped),
        ("kept", Some(line.kept)),
    ];
    for (name, count) in counts {
        if count.is_some_and(|count| !(0..=COUNT_MAX).contains(&count)) {
            return Err(Refusal::invalid(format!("lines[{at}].{name}"), format!("it is not from 0 to {COUNT_MAX}")));
        }
    }
    if let Some(reason) = &line.reason {
        form::text(&format!("lines[{at}].reason"), reason)?;
    }
    if line.left_out > 0 && line.reason.is_none() {
        return Err(Refusal::invalid(format!("lines[{at}].reason"), "a place is left empty; say why"));
    }
    Ok(())
}

pub(super) fn back_all(
    session: &mut Session,
    stage: &StageRow,
    lines: &[BackLine],
    override_reason: Option<&str>,
) -> Result<Made, Refusal> {
    let mut named = BTreeSet::new();
    let lines: Vec<&BackLine> = lines.iter().filter(|line| named.insert(line.position.clone())).collect();
    if lines.is_empty() {
        let what = format!("put back: nothing that is off is listed for stage '{}'", stage.stage);
        return Err(Refusal::NothingToDo { what });
    }
    let mut against = skills::Against::default();
    let mut overruled = BTreeMap::new();
    let unskilled = skills::against_ticks(session, stage)?;
    let mut alone = unskilled.is_some();
    against.add(unskilled, skills::WITHOUT_SKILL);
    // What goes back elsewhere than listed asks for what its own stage asks for.
    for own in own_stages(session.state, stage, &lines) {
        condition::refuse_called(session, own.job, &own.stage)?;
        let unskilled = skills::against_ticks(session, &own)?;
        alone |= unskilled.is_some();
        against.add(unskilled, skills::WITHOUT_SKILL);
    }
    for line in &lines {
        let found = row(session.state, stage.job, &line.position)?;
        if found.off_n.is_none() {
            return Err(Refusal::NotOff { position: line.position.clone() });
        }
        condition::refuse_unqualified(session, found)?;
        refuse_burying(session.state, found, &lines)?;
        let order = out_of_order(session.state, found, &lines);
        let old = found.detail.renew == Renew::Always && Counts::of(line, found).refitted > 0;
        let holds = found.detail.kind == PositionKind::Fastener || !found.detail.tighten.is_empty();
        let holds = holds || found.detail.second_check;
        let empty = line.left_out > 0 && holds;
        let kinds = order.iter().map(|_| BACK_ORDER).chain(Some(OLD_PART).filter(|_| old));
        let kinds = kinds.chain(Some(LEFT_EMPTY).filter(|_| empty));
        let bad = spoilt_back(found, line);
        let kinds = kinds.chain(bad.iter().map(|_| SPOILT_PART));
        let kinds: Vec<&str> = kinds.chain(Some(UNSKILLED).filter(|_| alone)).collect();
        overruled.insert(line.position.clone(), kinds);
        against.add(order, OUT_OF_ORDER);
        against.add(empty.then(|| Refusal::LeftOut { position: line.position.clone() }), EMPTY_PLACE);
        against.add(old.then(|| Refusal::RenewAlways { position: line.position.clone() }), OLD_ONE);
        against.add(bad, SPOILT_ONE);
    }
    against.may_overrule(session, override_reason)?;
    let fits = |line: &&&BackLine| {
        let found = session.state.positions.get(&(stage.job, line.position.clone()));
        found.map(|row| Counts::of(line, row)).is_some_and(|counts| counts.refitted + counts.renewed > 0)
    };
    let worked_on: Vec<PositionKey> = lines.iter().filter(fits).map(|line| line.position.clone()).collect();
    condition::look_again(session, stage.job, Some(&stage.stage), &worked_on)?;
    let mut said = Vec::with_capacity(lines.len());
    for line in lines {
        let kinds = overruled.remove(&line.position).unwrap_or_default();
        let overruled = super::overruled(session, &line.position, &kinds, override_reason);
        said.push(back(session, stage, line, overruled)?);
    }
    Ok(Made::Back(said))
}

/// The stages in which these are listed to go back, this one aside.
fn own_stages(state: &State, stage: &StageRow, lines: &[&BackLine]) -> Vec<StageRow> {
    let listed = lines.iter().filter_map(|line| state.positions.get(&(stage.job, line.position.clone())));
    let listed: BTreeSet<_> =
        listed.filter_map(|row| row.detail.back.clone()).filter(|back| *back != stage.stage).collect();
    listed.into_iter().filter_map(|back| state.stages.get(&(stage.job, back)).cloned()).collect()
}

/// Nobody closes something over what was put in for the work.
fn refuse_burying(state: &State, row: &PositionRow, lines: &[&BackLine]) -> Result<(), Refusal> {
    if row.detail.manner == Manner::In {
        return Ok(());
    }
    let all: Vec<&PositionRow> = strip::positions(state, row.job).collect();
    let inside = |other: &&PositionRow| {
        let comes = lines.iter().any(|line| line.position == other.position && holds_after(line, other));
        other.detail.manner == Manner::In && strip::is_open(other) && !comes
    };
    let inside: Vec<&PositionRow> = strip::first(&all, row).into_iter().filter(inside).collect();
    let position = row.position.clone();
    if inside.is_empty() { Ok(()) } else { Err(Refusal::StillInside { position, others: keys(inside) }) }
}

/// What has to be back before, or has to come out; and what something that is put in holds until it is back and tight.
fn out_of_order(state: &State, row: &PositionRow, lines: &[&BackLine]) -> Option<Refusal> {
    let all: Vec<&PositionRow> = strip::positions(state, row.job).collect();
    let put_in = row.detail.manner == Manner::In;
    let stands = |other: &&PositionRow| match lines.iter().find(|line| line.position == other.position) {
        Some(line) => put_in && !holds_after(line, other),
        None => strip::is_open(other) || (put_in && (strip::not_tight(other).is_some() || strip::fewer(other))),
    };
    let first: Vec<&PositionRow> = strip::first(&all, row).into_iter().filter(stands).collect();
    if first.is_empty() {
        return None;
    }
    let (position, first) = (row.position.clone(), have_to(first, lines));
    Some(if put_in { Refusal::StaysIn { position, first } } else { Refusal::OthersFirst { position, first } })
}

/// Whether all of it is back and tight, or out, once this line is said.
fn holds_after(line: &BackLine, row: &PositionRow) -> bool {
    let Counts { refitted, renewed, .. } = Counts::of(line, row);
    if row.detail.manner == Manner::In {
        return pieces_left(row) <= refitted;
    }
    let after = PositionRow {
        refitted: row.refitted + refitted,
        renewed: row.renewed + renewed,
        left_out: row.left_out + line.left_out,
        tightness: Some(tight_after(line, row, refitted + renewed > 0)),
        ..row.clone()
    };
    places_left(&after) <= 0 && strip::not_tight(&after).is_none() && !strip::fewer(&after)
}

/// `'gasket' has to be back and 'covers' has to come out`.
fn have_to(first: Vec<&PositionRow>, lines: &[&BackLine]) -> String {
    let comes = |row: &PositionRow| lines.iter().any(|line| line.position == row.position);
    let (inside, off): (Vec<&PositionRow>, Vec<&PositionRow>) =
        first.into_iter().partition(|row| row.detail.manner == Manner::In);
    let (off, back): (Vec<&PositionRow>, Vec<&PositionRow>) =
        off.into_iter().partition(|row| strip::is_open(row) && !comes(row));
    let (fewer, loose): (Vec<&PositionRow>, Vec<&PositionRow>) = back.into_iter().partition(|row| strip::fewer(row));
    let all = [
        (off, "to be back"),
        (loose, "to be tight"),
        (fewer, "to be counted anew, since fewer were found than are listed,"),
        (inside, "to come out"),
    ];
    let all = all.into_iter().filter(|(rows, _)| !rows.is_empty());
    let all = all.map(|(rows, what)| {
        let verb = if rows.len() == 1 { "has" } else { "have" };
        format!("{} {verb} {what}", keys(rows))
    });
    all.collect::<Vec<_>>().join(" and ")
}

/// What of a line was not said follows from what is off.
struct Counts {
    refitted: i32,
    renewed: i32,
    scrapped: i32,
}

impl Counts {
    fn of(line: &BackLine, row: &PositionRow) -> Self {
        // More left empty or kept than there is would leave less than nothing here, and is refused for what it is.
        let places = (places_left(row) - line.left_out).max(0);
        let pieces = (pieces_left(row) - line.kept).max(0);
        let (refitted, renewed) = match (line.refitted, line.renewed, row.detail.manner, row.detail.renew) {
            (None, None, Manner::In, _) => (pieces, 0),
            (None, None, _, Renew::Always) => (0, places),
            (None, None, _, _) => Self::by_itself(line, row, places),
            (refitted, renewed, _, _) => (refitted.unwrap_or(0), renewed.unwrap_or(0)),
        };
        let plain = line.refitted.is_none() && line.renewed.is_none();
        let always = row.detail.renew == Renew::Always && places == refitted + renewed;
        let spoilt = spoilt(row) - (row.scrapped + row.kept + line.kept).min(spoilt(row));
        let rest = match row.detail.manner {
            Manner::In => 0,
            _ if always => (pieces - refitted).max(0),
            _ if plain => spoilt.min((pieces - refitted).max(0)),
            _ => 0,
        };
        Self { refitted, renewed, scrapped: line.scrapped.unwrap_or(rest) }
    }

    /// Good pieces go back; a new one comes where a piece was missing or is spoilt. Where a good one is kept or thrown away
    /// its place stays open: nobody said that there is a new one.
    fn by_itself(line: &BackLine, row: &PositionRow, places: i32) -> (i32, i32) {
        let (left, gone) = (pieces_left(row).max(0), row.scrapped + row.kept);
        let spoilt = (spoilt(row) - gone).clamp(0, left);
        let taken = line.kept + line.scrapped.unwrap_or(0);
        let good = left - spoilt;
        let renewed = (places - good).max(0);
        let good = (good - (taken - spoilt).max(0)).max(0);
        (good.min(places - renewed), renewed)
    }
}

/// What is damaged or broken goes back only as a new one: more went back than came off whole.
fn spoilt_back(row: &PositionRow, line: &BackLine) -> Option<Refusal> {
    let refitted = row.refitted + Counts::of(line, row).refitted;
    let bad = spoilt(row) > 0 && refitted > row.found - spoilt(row) && row.detail.manner != Manner::In;
    bad.then(|| Refusal::SpoiltBack { position: row.position.clone(), spoilt: spoilt(row) })
}

fn spoilt(row: &PositionRow) -> i32 {
    row.damaged.min(row.found)
}

/// How tight something is of which nobody said it: what is tightened by stages is only finger-tight, since whoever has
/// done all of them says so; anything else is as it has to be.
fn tight_unsaid(row: &PositionRow) -> Tightness {
    if row.detail.tighten.is_empty() { Tightness::Final } else { Tightness::Finger }
}

/// How tight all of it is once this line is said.
fn tight_after(line: &BackLine, row: &PositionRow, fitted: bool) -> Tightness {
    // Who only says where pieces are says nothing of how tight the rest is.
    let stays = if fitted { None } else { row.tightness };
    let said = line.tightness.or(stays).unwrap_or_else(|| tight_unsaid(row));
    // All of it is as tight as the loosest: the last of ten bolts says nothing of the nine before it.
    let put_in = row.detail.manner == Manner::In;
    let before = row.tightness.filter(|_| row.refitted + row.renewed > 0 && !put_in);
    before.map_or(said, |before| before.min(said))
}

/// Tells what was counted by itself, where some counts were said and others not: whoever says that two are thrown away has
/// not said that five went back.
fn tell_counted(session: &mut Session, line: &BackLine, row: &PositionRow, counts: [i32; 3]) {
    let said = [line.refitted, line.renewed, line.scrapped];
    let some = said.iter().any(Option::is_some) || line.left_out + line.kept > 0;
    let [refitted, renewed, scrapped] = [0, 1, 2].map(|at: usize| if said[at].is_none() { counts[at] } else { 0 });
    if some && row.detail.manner != Manner::In && refitted + renewed + scrapped > 0 {
        session.notice(Notice::Counted { position: line.position.clone(), refitted, renewed, scrapped });
    }
}

fn back(
    session: &mut Session,
    stage: &StageRow,
    line: &BackLine,
    overruled: Vec<Overruled>,
) -> Result<WentBack, Refusal> {
    let found = row(session.state, stage.job, &line.position)?.clone();
    let position = line.position.clone();
    let Counts { refitted, renewed, scrapped } = Counts::of(line, &found);
    let (places, pieces) = (places_left(&found), pieces_left(&found));
    let put_in = found.detail.manner == Manner::In;
    if put_in && renewed + line.left_out + scrapped + line.kept > 0 {
        let why = format!("'{position}' was put in for the work and can only come out; say how many with refitted");
        return Err(Refusal::invalid("lines.renewed", why));
    }
    if refitted + renewed + line.left_out + scrapped + line.kept == 0 {
        return Err(Refusal::NothingToDo { what: format!("put back: all of '{position}' is settled") });
    }
    if refitted + renewed + line.left_out > places && !put_in {
        return Err(Refusal::TooManyBack { position, what: "place(s)", left: places.max(0) });
    }
    if refitted + scrapped + line.kept > pieces {
        return Err(Refusal::TooManyBack { position, what: "piece(s) that came off", left: pieces.max(0) });
    }
    if let Some(off_at) = found.off_at.filter(|off_at| session.at() < *off_at) {
        return Err(look::too_early(format!("putting '{position}' back"), session.at(), off_at));
    }
    let reason = session.seal_some(line.reason.as_deref());
    let (job, person) = (stage.job, session.context.actor.person);
    let fitted = refitted + renewed > 0;
    let tightness = tight_after(line, &found, fitted);
    tell_counted(session, line, &found, [refitted, renewed, scrapped]);
    let (left_out, kept) = (line.left_out, line.kept);
    session.emit(Fact::PositionBack {
        job,
        position: position.clone(),
        person,
        refitted,
        renewed,
        left_out,
        scrapped,
        kept,
        tightness,
        reason,
        overruled,
    })?;
    Ok(WentBack {
        position,
        put_in,
        refitted,
        renewed,
        left_out,
        scrapped,
        kept,
        tightness: (fitted && !put_in).then_some(tightness),
        unsaid: line.tightness.is_none() && !found.detail.tighten.is_empty(),
        places_left: if put_in { 0 } else { places - refitted - renewed - left_out },
        pieces_left: pieces - refitted - scrapped - kept,
    })
}

/// It is tighter now, or loose again.
pub(in crate::decide) fn tighten(session: &mut Session, command: &TightenPositions) -> Result<Made, Refusal> {
    look::open_job(session.state, session.context, command.job)?;
    if command.positions.is_empty() {
        return Err(Refusal::invalid("positions", "none is named; name what was tightened"));
    }
    condition::look_again(session, command.job, None, &command.positions)?;
    for position in &command.positions {
        let found = &row(session.state, command.job, position)?.clone();
        condition::refuse_unqualified(session, found)?;
        let (before, back_at, checked) = (found.tightness, found.back_at, found.checked_by.is_some());
        // What waits for the lead is worked on by nobody, where it came off or where it goes back.
        for stage in [Some(&found.stage), found.detail.back.as_ref()].into_iter().flatten() {
            condition::refuse_called(session, command.job, stage)?;
        }
        let own = found.detail.back.as_ref().unwrap_or(&found.stage);
        if let Some(stage) = session.state.stages.get(&(command.job, own.clone())) {
            skills::refuse_step(session, stage)?;
        }
        if before.is_none_or(|before| before == command.tightness) {
            return Err(Refusal::AsTight { position: position.clone() });
        }
        if before > Some(command.tightness) {
            // What a pin holds is let go by loosening it as well.
            if let Some(Refusal::NotInYet { position, others }) = off::not_in(session.state, found, &BTreeSet::new()) {
                return Err(Refusal::LetGo { position, others });
            }
            let stage = found.stage.clone();
            session.notices.push(Notice::LoosenedAgain { position: position.clone(), checked });
            condition::tell_live(session, command.job, &stage, &BTreeSet::from([position.clone()]));
        }
        if let Some(back_at) = back_at.filter(|back_at| session.at() < *back_at) {
            return Err(look::too_early(format!("tightening '{position}'"), session.at(), back_at));
        }
        let (job, person, tightness) = (command.job, session.context.actor.person, command.tightness);
        session.emit(Fact::PositionTightened { job, position: position.clone(), person, tightness })?;
    }
    Ok(Made::Nothing)
}

/// A second pair of eyes: somebody proved, and never who did it.
pub(in crate::decide) fn check(session: &mut Session, command: &ConfirmPositions) -> Result<Made, Refusal> {
    look::open_job(session.state, session.context, command.job)?;
    let person = proof::by_name(session, "look at somebody else's work")?;
    proof::own_eyes(session, person)?;
    if command.positions.is_empty() {
        return Err(Refusal::invalid("positions", "none is named; name what was looked at"));
    }
    for position in &command.positions {
        let found = row(session.state, command.job, position)?;
        let whole = found.off_n.is_some() && !strip::is_open(found) && found.tightness == Some(Tightness::Final);
        if !whole {
            return Err(Refusal::NotWholeYet { position: position.clone() });
        }
        condition::refuse_unqualified(session, found)?;
        if found.hands.contains(&person) || found.back_by == Some(person) {
            return Err(Refusal::OwnWork { position: position.clone() });
        }
        let own = found.detail.back.as_ref().unwrap_or(&found.stage);
        if let Some(stage) = session.state.stages.get(&(command.job, own.clone())) {
            skills::may_look(session.state, stage, position, person)?;
        }
        if found.unnamed {
            return Err(Refusal::NobodysWork { position: position.clone() });
        }
        if let Some(back_at) = found.back_at.filter(|back_at| session.at() < *back_at) {
            return Err(look::too_early(format!("the check of '{position}'"), session.at(), back_at));
        }
        session.emit(Fact::PositionChecked { job: command.job, position: position.clone(), person })?;
    }
    Ok(Made::Nothing)
}
