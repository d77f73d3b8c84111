//! What the parts room must bring next: what is set aside for the stages in the bays, and not there yet.

use crate::view::in_order;
use leadhand_sdk::v1::{BoardJob, GetReadyListRequest, ReadyItem, StageState};
use leadhand_sdk::{Board, Client, Code, SdkError, quantity};

/// Stages of a job that come next and are looked at besides those under way.
const NEXT: usize = 1;

/// Something to bring.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ToBring {
    /// To which bay.
    pub bay: String,
    /// How much of what.
    pub what: String,
    /// For which stage.
    pub stage: String,
    /// The step that needs it first; 0 for the stage as a whole.
    pub step: i32,
    /// Whether the stage is under way.
    pub now: bool,
    /// The job, the stage and the item by their keys, for whoever gives it out.
    pub job: i64,
    /// See `job`.
    pub stage_key: String,
    /// See `job`.
    pub item: String,
    /// What the item is called.
    pub name: String,
}

/// Asks for everything that is to be brought, in the order in which the bays are looked at; what a stage under way
/// needs before what comes next.
pub async fn ask(client: &Client, board: &Board) -> Result<Vec<ToBring>, SdkError> {
    let (taken, _) = in_order(&board.bays);
    let mut found = Vec::new();
    for (_, bay, job) in taken {
        for (stage, title, now) in stages(job) {
            let request =
                GetReadyListRequest { job: job.job, stage: stage.to_owned(), ..GetReadyListRequest::default() };
            let ready = match client.get_ready_list(request).await {
                Ok(ready) => ready,
                Err(error) if is_old(error.code) => continue,
                Err(error) => return Err(error),
            };
            let bay = crate::view::key(bay);
            let lines = ready.items.iter().filter_map(|item| line(item, bay, title, now));
            found.extend(lines.map(|line| ToBring { job: job.job, stage_key: stage.to_owned(), ..line }));
        }
    }
    found.sort_by_key(|line| !line.now);
    Ok(found)
}

/// Closed or changed since the board was worked out: the next board says so. Anything else says nothing about goods.
pub fn is_old(code: Code) -> bool {
    matches!(code, Code::NotFound | Code::FailedPrecondition)
}

fn stages(job: &BoardJob) -> impl Iterator<Item = (&str, &str, bool)> {
    let coming = job.next.iter().filter(|stage| stage.state == i32::from(StageState::Ready)).take(NEXT);
    let active = job.active.iter().map(|stage| (stage.stage.as_str(), stage.title.as_str(), true));
    active.chain(coming.map(|stage| (stage.stage.as_str(), stage.title.as_str(), false)))
}

fn line(item: &ReadyItem, bay: &str, stage: &str, now: bool) -> Option<ToBring> {
    let lacking = item.reserved.min(item.wanted - item.issued);
    (lacking > 0).then(|| {
        let name = if item.name.is_empty() { &item.item } else { &item.name };
        ToBring {
            bay: bay.to_owned(),
            what: format!("{} {name}", quantity::show(lacking, &item.unit)),
            stage: stage.to_owned(),
            step: item.first.as_ref().map_or(0, |first| first.step),
            now,
            item: item.item.clone(),
            name: name.clone(),
            ..ToBring::default()
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_stage_that_is_gone_is_passed_over() {
        let passed: Vec<Code> = (0..=16).map(Code::from_i32).filter(|code| is_old(*code)).collect();
        assert_eq!(passed, [Code::NotFound, Code::FailedPrecondition]);
    }

    #[test]
    fn only_what_is_set_aside_and_not_there_is_brought() {
        let item = |wanted, issued, reserved| ReadyItem {
            item: "oil".into(),
            name: "Engine oil".into(),
            unit: "mL".into(),
            wanted,
            issued,
            reserved,
            ..ReadyItem::default()
        };
        let what = |item: &ReadyItem| line(item, "lift-1", "Fill", true).map(|line| line.what);
        assert_eq!(what(&item(4500, 0, 4500)), Some("4.5 L Engine oil".to_owned()));
        assert_eq!(what(&item(4500, 4000, 500)), Some("500 mL Engine oil".to_owned()));
        assert_eq!(what(&item(4500, 4500, 0)), None, "it is there");
        assert_eq!(what(&item(4500, 0, 0)), None, "there is nothing to bring: a shortage is told elsewhere");
    }
}
