//! What a touch does to the strip book.

use crate::act::Hand;
use crate::form::{Done, Fault, Writes};
use crate::strip;
use leadhand_sdk::v1::{
    AddPositionRequest, AttemptOutcome, BackLine, GetStripRequest, Keep, Manner, OffLine, PositionKind, PutBackRequest,
    RecordAttemptRequest, ReopenPositionRequest, SoakPositionRequest, TakeOffRequest, TightenPositionsRequest,
    Tightness, WriteContext,
};

/// Does what the touch asks for; a touch that no page of ours has does nothing.
pub async fn carry_out(hand: &Hand<'_>, act: &str, writes: &mut Writes) -> Result<Done, Fault> {
    match act {
        "take-off" => take_off(hand, writes).await,
        "back" => put_back(hand, writes).await,
        "back-all" => back_all(hand, writes).await,
        "tighten" => tighten(hand, writes).await,
        "soak" => soak(hand, writes).await,
        "attempt" => attempt(hand, writes).await,
        "met" => met(hand, writes).await,
        "take-back" => reopen(hand, hand.fields.text("position"), writes).await,
        _ => Ok(Done::default()),
    }
}

fn position(hand: &Hand<'_>) -> String {
    hand.fields.text("position").to_owned()
}

/// What comes off otherwise than listed; what lies in front of it comes off as listed with it, as the page said.
async fn take_off(hand: &Hand<'_>, writes: &mut Writes) -> Result<Done, Fault> {
    let front = hand.fields.list::<String>("front").into_iter().filter(|key| !key.is_empty());
    let mut lines: Vec<OffLine> = front.map(|position| OffLine { position, ..OffLine::default() }).collect();
    lines.push(off_line(hand)?);
    let undo: Vec<&str> = lines.iter().rev().map(|line| line.position.as_str()).collect();
    let undo = format!("off.{}", undo.join(","));
    let (write, job, stage) = (Some(hand.write(writes)?), hand.job()?, hand.stage());
    let override_reason = hand.reason.to_owned();
    let asked = TakeOffRequest { write, job, stage, lines, override_reason, ..Default::default() };
    Ok(Done::told(hand.client.take_off(asked).await?.receipt).undo(undo))
}

fn off_line(hand: &Hand<'_>) -> Result<OffLine, Fault> {
    let fields = hand.fields;
    let missing: i32 = fields.number("missing")?;
    let (listed, found) = (fields.number::<i32>("listed")?, fields.some::<i32>("found")?);
    // Another number than the one that is listed goes with a word why, and nobody has to type it.
    let another = found.filter(|found| found.saturating_add(missing) != listed);
    let note = another.map(|found| {
        let counts = [("found", found.into()), ("listed", listed.into())];
        hand.t.with("counted-here", &counts)
    });
    Ok(OffLine {
        position: position(hand),
        found,
        missing: (missing > 0).then_some(missing),
        damaged: fields.number("damaged")?,
        keep: Keep::from_str_name(fields.text("keep")).unwrap_or_default().into(),
        kept_at: fields.text("kept-at").to_owned(),
        note: note.unwrap_or_default(),
        repair: fields.text("repair").to_owned(),
        studs: fields.number("studs")?,
    })
}

/// What goes back; with nothing said of it, as listed.
async fn put_back(hand: &Hand<'_>, writes: &mut Writes) -> Result<Done, Fault> {
    let fields = hand.fields;
    let left_out: i32 = fields.number("left-out")?;
    let line = BackLine {
        position: position(hand),
        refitted: fields.some("refitted")?.or(fields.some("came-out")?),
        renewed: fields.some("renewed")?,
        left_out,
        scrapped: fields.some("scrapped")?,
        tightness: Tightness::from_str_name(fields.text("tightness")).unwrap_or_default().into(),
        reason: if left_out > 0 { fields.text("reason").to_owned() } else { String::new() },
        ..BackLine::default()
    };
    let undo = format!("off.{}", line.position);
    let (write, job, stage) = (Some(hand.write(writes)?), hand.job()?, hand.stage());
    let override_reason = hand.reason.to_owned();
    let asked = PutBackRequest { write, job, stage, lines: vec![line], override_reason, ..Default::default() };
    Ok(Done::told(hand.client.put_back(asked).await?.receipt).undo(undo))
}

async fn back_all(hand: &Hand<'_>, writes: &mut Writes) -> Result<Done, Fault> {
    let (write, job, stage) = (Some(hand.write(writes)?), hand.job()?, hand.stage());
    let override_reason = hand.reason.to_owned();
    let said = write.as_ref().and_then(|write: &WriteContext| write.happened_at);
    let asked = PutBackRequest { write, job, stage, as_listed: true, override_reason, ..Default::default() };
    let receipt = hand.client.put_back(asked).await?.receipt;
    let at = said.or_else(|| receipt.as_ref()?.recorded_at);
    // Only what this touch put back, and nobody else meanwhile, comes off again with it.
    let asked = GetStripRequest { job, ..GetStripRequest::default() };
    let book = hand.client.get_strip(asked).await.unwrap_or_default();
    let back = at.map(|at| strip::back_then(&book, &hand.stage(), hand.who, &at)).unwrap_or_default();
    let last_first: Vec<&str> = back.iter().rev().map(String::as_str).collect();
    let undo = if back.is_empty() { String::new() } else { format!("off.{}", last_first.join(",")) };
    Ok(Done::told(receipt).undo(undo))
}

/// Tight as listed. What the page showed of it before is what it is again when that is taken back.
async fn tighten(hand: &Hand<'_>, writes: &mut Writes) -> Result<Done, Fault> {
    let (write, job) = (Some(hand.write(writes)?), hand.job()?);
    let (position, before) = (position(hand), Tightness::from_str_name(hand.fields.text("before")).unwrap_or_default());
    let undo = format!("tight.{position}.{}", i32::from(before));
    let (positions, tightness) = (vec![position], Tightness::Final.into());
    let asked = TightenPositionsRequest { write, job, positions, tightness };
    let done = Done::told(hand.client.tighten_positions(asked).await?.receipt);
    Ok(if before == Tightness::Unspecified { done.note(hand.t.say("tight-stays")) } else { done.undo(undo) })
}

/// As tight as it was before.
pub async fn untighten(hand: &Hand<'_>, what: &str, writes: &mut Writes) -> Result<Done, Fault> {
    let (position, before) = what.rsplit_once('.').unwrap_or_default();
    let tightness = before.parse().map_err(|_| Fault::unread("what", what))?;
    let (write, job, positions) = (Some(writes.one()), hand.job()?, vec![position.to_owned()]);
    let asked = TightenPositionsRequest { write, job, positions, tightness };
    Ok(Done::told(hand.client.tighten_positions(asked).await?.receipt))
}

async fn soak(hand: &Hand<'_>, writes: &mut Writes) -> Result<Done, Fault> {
    let (write, job, minutes) = (Some(hand.write(writes)?), hand.job()?, hand.fields.number("minutes")?);
    let asked = SoakPositionRequest { write, job, position: position(hand), minutes };
    Ok(Done::told(hand.client.soak_position(asked).await?.receipt))
}

/// What came of an attempt. The page stays at the position: the next rung is there.
async fn attempt(hand: &Hand<'_>, writes: &mut Writes) -> Result<Done, Fault> {
    let fields = hand.fields;
    let asked = RecordAttemptRequest {
        write: Some(hand.write(writes)?),
        job: hand.job()?,
        position: position(hand),
        rung: fields.number("rung")?,
        outcome: AttemptOutcome::from_str_name(fields.text("outcome")).unwrap_or_default().into(),
        pieces: fields.number("pieces")?,
        item: fields.text("item").to_owned(),
        plan: fields.text("plan").to_owned(),
        blocked: !fields.text("blocked").is_empty(),
        override_reason: hand.reason.to_owned(),
        ..Default::default()
    };
    let answer = hand.client.record_attempt(asked).await?;
    let mut done = Done::told(answer.receipt).to(crate::sign_in::back(fields.text("from")));
    if let Some(next) = answer.next.filter(|next| !next.yours) {
        done = done.note(hand.t.fill("rung-is-for", "who", &next.who.join(", ")));
    }
    Ok(done)
}

/// What nobody had listed. Without words of its own it is called by its kind.
async fn met(hand: &Hand<'_>, writes: &mut Writes) -> Result<Done, Fault> {
    let fields = hand.fields;
    let kind = PositionKind::from_str_name(fields.text("kind")).unwrap_or(PositionKind::Unknown);
    let typed = fields.text("what");
    let what = if typed.is_empty() {
        hand.t.fill("met-here", "kind", &hand.t.word(kind.as_str_name()))
    } else {
        typed.to_owned()
    };
    let behind = fields.all("behind");
    let aid = kind == PositionKind::Aid;
    let asked = AddPositionRequest {
        write: Some(hand.write(writes)?),
        job: hand.job()?,
        stage: hand.stage(),
        what,
        kind: kind.into(),
        manner: if aid { Manner::In } else { Manner::Unspecified }.into(),
        count: fields.some("typed-count")?.map_or_else(|| fields.number("count"), Ok)?,
        behind_nothing: behind.is_empty() && !fields.text("alone").is_empty(),
        behind,
        keep: if aid { Keep::Unspecified } else { Keep::from_str_name(fields.text("keep")).unwrap_or_default() }.into(),
        ..Default::default()
    };
    let answer = hand.client.add_position(asked).await?;
    Ok(Done::told(answer.receipt).undo(format!("off.{}", answer.position)))
}

/// Takes back what was said last of these positions, the last one first. One that has to wait for another of them is tried
/// again when that is back: they need not stand in the order in which they came off.
pub async fn reopen(hand: &Hand<'_>, positions: &str, writes: &mut Writes) -> Result<Done, Fault> {
    let mut done = Done::default();
    let mut left: Vec<&str> = positions.split(',').filter(|one| !one.is_empty()).collect();
    while !left.is_empty() {
        let (mut waits, mut why) = (Vec::new(), None);
        for position in &left {
            let (write, job, reason) = (Some(writes.one()), hand.job()?, hand.t.say("said-by-mistake"));
            let asked = ReopenPositionRequest { write, job, position: (*position).to_owned(), reason };
            match hand.client.reopen_position(asked).await {
                Ok(answer) => done.hear(answer.receipt),
                Err(error) => {
                    waits.push(*position);
                    why = Some(error);
                }
            }
        }
        match why {
            Some(error) if waits.len() == left.len() => return Err(error.into()),
            _ => left = waits,
        }
    }
    Ok(done)
}
