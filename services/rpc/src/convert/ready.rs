//! Ready lists on the wire.

use super::time::timestamp;
use super::tool;
use leadhand_app::Words;
use leadhand_domain::view::Title;
use leadhand_domain::view::ready::{FastenerLine, GoodsLine, Missing, PeopleLine, Place, ReadyList, SharedLine};
use leadhand_domain::view::to_get::Consumable;
use leadhand_proto::v1;

/// A whole list.
pub fn list(list: &ReadyList, words: &Words) -> v1::GetReadyListResponse {
    let at = |place: Place| Some(self::place(list, place));
    v1::GetReadyListResponse {
        stages: list
            .stages
            .iter()
            .map(|stage| v1::ReadyStage {
                job: stage.job.0,
                stage: stage.stage.to_string(),
                title: title(&stage.title, words),
                planned: stage.planned.as_ref().map(|planned| super::job::planned_work(planned, words)),
            })
            .collect(),
        missing: list.missing.iter().map(|line| missing(list, line, words)).collect(),
        tools: list.tools.iter().map(|line| v1::ReadyTool { text: line.text.clone(), first: at(line.first) }).collect(),
        fasteners: list.fasteners.iter().map(|line| fastener(list, line)).collect(),
        stuck_tools: list
            .stuck_tools
            .iter()
            .map(|line| v1::ReadyTool { text: line.text.clone(), first: at(line.first) })
            .collect(),
        shared_tools: list.shared.iter().map(|line| shared(list, line, words)).collect(),
        items: list.goods.iter().map(|line| item(list, line)).collect(),
        consumables: list.consumables.iter().map(|line| consumable(list, line)).collect(),
        people: list.people.iter().map(|line| people(list, line, words)).collect(),
        hold_points: list
            .holds
            .iter()
            .map(|line| v1::ReadyHoldPoint { place: at(line.place), text: title(&line.words, words) })
            .collect(),
        number: list.number,
        at: Some(timestamp(list.at)),
    }
}

fn title(title: &Title, words: &Words) -> String {
    words.either(title.words.as_deref(), title.text).to_owned()
}

fn place(list: &ReadyList, place: Place) -> v1::ReadyPlace {
    let stage = list.stages.get(place.stage);
    v1::ReadyPlace {
        job: stage.map(|stage| stage.job.0).unwrap_or_default(),
        stage: stage.map(|stage| stage.stage.to_string()).unwrap_or_default(),
        step: place.step.0,
    }
}

fn shared(list: &ReadyList, line: &SharedLine, words: &Words) -> v1::ReadySharedTool {
    let first = Some(place(list, line.first));
    match &line.tool {
        Err(key) => {
            let bare = v1::Tool { tool: key.to_string(), ..Default::default() };
            v1::ReadySharedTool { tool: Some(bare), first, gone: true, ..Default::default() }
        }
        Ok(known) => v1::ReadySharedTool {
            tool: Some(tool::tool(&known.row)),
            first,
            here: line.here,
            loan: known.loan.as_ref().map(|loan| tool::loan(loan, words.get(known.person))),
            out_of_calibration: known.out_of_calibration,
            gone: false,
        },
    }
}

fn fastener(list: &ReadyList, line: &FastenerLine) -> v1::ReadyFastener {
    let (tool, of) = (line.tool.clone(), line.of.clone());
    v1::ReadyFastener { tool, count: line.count, of, first: Some(place(list, line.first)) }
}

fn item(list: &ReadyList, line: &GoodsLine) -> v1::ReadyItem {
    v1::ReadyItem {
        item: line.item.to_string(),
        name: line.name.clone().unwrap_or_default(),
        unit: line.unit.code().to_owned(),
        first: Some(place(list, line.first)),
        wanted: line.wanted.0,
        issued: line.issued.0,
        reserved: line.reserved.0,
        short: line.short.0,
        free: line.free.0,
        standing: line.standing(),
    }
}

fn consumable(list: &ReadyList, line: &Consumable) -> v1::ReadyConsumable {
    v1::ReadyConsumable { text: line.what.clone(), first: Some(place(list, line.first)) }
}

fn people(list: &ReadyList, line: &PeopleLine, words: &Words) -> v1::ReadyPeople {
    v1::ReadyPeople {
        place: Some(place(list, Place { stage: line.stage, step: line.step })),
        hands: line.hands,
        skills: line.skills.clone(),
        able: line
            .able
            .iter()
            .map(|able| v1::ReadyPerson {
                name: words.get(Some(able.name)).to_owned(),
                on_shift: able.on_shift,
                on_job: able.on.as_ref().map(|(job, _)| job.0).unwrap_or_default(),
                on_stage: able.on.as_ref().map(|(_, stage)| stage.to_string()).unwrap_or_default(),
            })
            .collect(),
    }
}

fn missing(list: &ReadyList, line: &Missing, words: &Words) -> v1::ReadyMissing {
    let text = match line.person.map(|name| words.get(Some(name))) {
        None => match &line.pieces {
            Some(one) => format!("{} \u{d7} {} {}", one.pieces, title(&one.what, words), line.text),
            None => line.text.clone(),
        },
        Some("") => format!("{}, which somebody has who was forgotten", line.text),
        Some(name) => format!("{}, which {name} has", line.text),
    };
    v1::ReadyMissing { first: Some(place(list, line.first)), next: line.next, text }
}
