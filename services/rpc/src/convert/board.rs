//! The board, as every watcher of a shop gets it.

use super::time::{stamp, timestamp};
use super::{count, enums, job};
use leadhand_app::{BoardView, Words};
use leadhand_domain::view::board::{BayLine, JobCard, StageLine, Standing};
use leadhand_proto::v1;

/// The whole board.
pub fn board(view: &BoardView) -> v1::GetBoardResponse {
    let bays = view.board.bays.iter().enumerate().map(|(at, line)| {
        let rated_kg = view.rated_kg.get(at).copied().unwrap_or_default();
        bay(line, rated_kg, &view.words)
    });
    v1::GetBoardResponse {
        bays: bays.collect(),
        outside: view.board.outside.iter().map(|line| card(line, &view.words)).collect(),
        number: view.board.number,
        as_of: Some(timestamp(view.board.at)),
    }
}

fn bay(line: &BayLine, rated_kg: i32, words: &Words) -> v1::BoardBay {
    let bay =
        v1::Bay { bay: line.bay.to_string(), name: line.name.clone(), kind: enums::bay_kind(line.kind), rated_kg };
    v1::BoardBay { bay: Some(bay), job: line.card.as_ref().map(|line| card(line, words)) }
}

fn card(card: &JobCard, words: &Words) -> v1::BoardJob {
    v1::BoardJob {
        job: card.job.0,
        title: job::title(&card.title, words),
        vehicle_label: words.get(card.vehicle_label).to_owned(),
        priority: card.priority,
        promised_at: stamp(card.promised_at),
        expected_at: stamp(card.expected_at),
        promise: enums::promise(card.promise),
        stages_done: count(card.stages_done),
        stages_total: count(card.stages_all),
        active: card.under_way.iter().map(|line| stage(line, words)).collect(),
        next: card.next.iter().map(|line| stage(line, words)).collect(),
        blockers: card.blockers.iter().map(|line| job::blocker(line, words)).collect(),
        missing: card.missing.iter().map(|line| job::shortage(line, &card.blockers)).collect(),
        promise_passed: card.promise_passed,
        if_badly_at: stamp(card.if_badly_at),
    }
}

fn stage(line: &StageLine, words: &Words) -> v1::BoardStage {
    let started_at = match line.standing {
        Standing::UnderWay(at) => Some(at),
        _ => None,
    };
    v1::BoardStage {
        stage: line.stage.to_string(),
        title: job::title(&line.title, words),
        ordinal: count(line.place),
        state: enums::stage_state(line.standing),
        started_at: stamp(started_at),
        ready_at: stamp(job::ready_at(line.standing)),
        persons: line.persons.iter().map(|person| job::on_stage(person, words)).collect(),
        steps_done: count(line.steps_done),
        steps_total: count(line.steps_all),
        kind: enums::stage_kind(line.kind),
    }
}

/// What a watcher who has `sent` lacks of `now`; nothing when it lacks nothing. Compared as they
/// are sent, so that a name that was erased changes the board as well.
pub fn change(sent: Option<&v1::GetBoardResponse>, now: &v1::GetBoardResponse) -> Option<v1::WatchBoardResponse> {
    let Some(sent) = sent else {
        return Some(v1::WatchBoardResponse {
            bays: now.bays.clone(),
            outside: now.outside.clone(),
            outside_changed: true,
            whole: true,
            ..alive(now)
        });
    };
    // Bays are never taken away, and both lists are in the order of their keys.
    let bays: Vec<v1::BoardBay> = now.bays.iter().filter(|bay| !sent.bays.contains(bay)).cloned().collect();
    let outside_changed = sent.outside != now.outside;
    if bays.is_empty() && !outside_changed {
        return None;
    }
    let outside = if outside_changed { now.outside.clone() } else { Vec::new() };
    Some(v1::WatchBoardResponse { bays, outside, outside_changed, ..alive(now) })
}

/// Says that the stream lives and at which number the board is still true.
pub fn alive(now: &v1::GetBoardResponse) -> v1::WatchBoardResponse {
    v1::WatchBoardResponse { number: now.number, as_of: now.as_of, ..v1::WatchBoardResponse::default() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bay(key: &str, job: Option<i64>) -> v1::BoardBay {
        let job = job.map(|job| v1::BoardJob { job, ..v1::BoardJob::default() });
        v1::BoardBay { bay: Some(v1::Bay { bay: key.to_owned(), ..v1::Bay::default() }), job }
    }

    fn board(number: i64, bays: Vec<v1::BoardBay>, outside: &[i64]) -> v1::GetBoardResponse {
        let outside = outside.iter().map(|job| v1::BoardJob { job: *job, ..v1::BoardJob::default() }).collect();
        v1::GetBoardResponse { bays, outside, number, as_of: None }
    }

    #[test]
    fn a_stage_says_whether_it_is_work_or_a_wait() {
        use leadhand_domain::view::parts::Title;
        use leadhand_facts::words::StageKind;
        let told = |kind: StageKind| {
            let line = StageLine {
                stage: leadhand_facts::StageKey::from("cure"),
                title: Title::default(),
                kind,
                place: 1,
                standing: Standing::Later,
                likely: 30,
                persons: Vec::new(),
                steps_done: 0,
                steps_all: 0,
            };
            stage(&line, &Words::default()).kind()
        };
        assert_eq!(told(StageKind::Wait), v1::StageKind::Wait);
        assert_eq!(told(StageKind::Work), v1::StageKind::Work);
    }

    #[test]
    fn the_first_message_is_whole_and_later_ones_hold_what_changed() {
        let first = board(3, vec![bay("a", None), bay("b", Some(1))], &[2]);
        let whole = change(None, &first).unwrap();
        assert!(whole.whole && whole.outside_changed && whole.bays.len() == 2 && whole.outside.len() == 1);
        assert_eq!(change(Some(&first), &board(4, first.bays.clone(), &[2])), None);

        let moved = board(5, vec![bay("a", Some(2)), bay("b", Some(1))], &[]);
        let sent = change(Some(&first), &moved).unwrap();
        assert!(!sent.whole && sent.outside_changed && sent.outside.is_empty());
        assert_eq!((sent.bays, sent.number), (vec![bay("a", Some(2))], 5));
    }
}
