//! Taking goods back from a job.

use super::cover::{Touched, cover, settle_blockers};
use super::expire::expire_item;
use super::issue::fit_demand;
use super::release::line;
use super::{find, shelf, urgency};
use crate::answer::Made;
use crate::check;
use crate::command::ReturnStock;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use leadhand_facts::fact::Wanter;
use leadhand_facts::rows::DemandRow;
use leadhand_facts::words::MoveReason;
use leadhand_facts::{Fact, PlaceKey, Quantity};

pub(super) fn take_back(session: &mut Session, asked: &ReturnStock) -> Result<Made, Refusal> {
    check::quantity("quantity", asked.quantity)?;
    look::open_job(session.state, session.context, asked.job)?;
    find::item(session.state, &asked.item)?;
    find::bin(session.state, &asked.place)?;
    let mut touched = Touched::new();
    expire_item(session, &asked.item, &mut touched)?;
    let at_job = PlaceKey::of_job(asked.job);
    let there = shelf::hold(session.state, &asked.item, &at_job).on_hand;
    if there < asked.quantity {
        return Err(Refusal::NotAtJob { job: asked.job, item: asked.item.clone(), there });
    }
    let mut lines = Vec::new();
    for (wanter, quantity) in givers(session, asked)? {
        let order = shelf::Order::LatestFirst;
        for (lot, quantity) in shelf::portions(session.state, &asked.item, &at_job, quantity, order)? {
            session.emit(Fact::Moved {
                item: asked.item.clone(),
                lot,
                from_place: at_job.clone(),
                to_place: asked.place.clone(),
                quantity,
                why: MoveReason::Return,
                wanter: Some(wanter.clone()),
                reason: None,
            })?;
        }
        fit_demand(session, &wanter, &asked.item, Quantity::ZERO)?;
        lines.push(line(&wanter, &asked.item, quantity, Some(asked.place.clone())));
    }
    cover(session, &asked.item, &mut touched)?;
    settle_blockers(session, &touched)?;
    Ok(Made::Stock(lines))
}

/// The steps to which goods were issued, the last one first.
fn givers(session: &Session, asked: &ReturnStock) -> Result<Vec<(Wanter, Quantity)>, Refusal> {
    let issued = shelf::demands(session.state, asked.job);
    let issued: Vec<DemandRow> =
        issued.filter(|row| row.item == asked.item && row.issued.is_positive()).cloned().collect();
    let wanter = |row: &DemandRow| Wanter { job: row.job, stage: row.stage.clone(), step: row.step };
    let issued = urgency::sorted(session.state, issued, wanter, |_| 0)?;
    let mut left = asked.quantity.0;
    let mut givers = Vec::new();
    for row in issued.iter().rev() {
        let take = row.issued.0.min(left);
        if take > 0 {
            givers.push((wanter(row), Quantity(take)));
            left -= take;
        }
    }
    if left > 0 {
        let why = format!("{left} of '{}' lie at job {} and were issued to none of its steps", asked.item, asked.job);
        return Err(Refusal::Defect { why });
    }
    Ok(givers)
}
