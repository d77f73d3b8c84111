//! Blockers of which nobody knows the end, and whose times hang on them: also jobs that wait behind the stage for its bay, its
//! people or its tools.

use super::model::Model;
use super::place::NOWHERE;
use super::search::Found;
use super::why::{Held, cause, others};
use leadhand_facts::plan::{Cause, Hang, HangsOn, StageNow};
use std::collections::BTreeSet;

/// What each job hangs on, its own blockers first.
pub(super) fn hangs(model: &Model<'_>, found: &Found, held: &Held) -> Vec<Vec<Hang>> {
    let stages = model.stages.len();
    let unknown = |i: usize| model.row(i).blocker.as_ref().filter(|blocker| blocker.until.is_none());
    let mut roots: Vec<BTreeSet<usize>> = vec![BTreeSet::new(); stages];
    if (0..stages).any(|i| unknown(i).is_some()) {
        let mut order: Vec<usize> = (0..stages).filter(|&i| found.places[i].from != NOWHERE).collect();
        order.sort_by_key(|&i| (found.places[i].from, found.places[i].until, i));
        for i in order {
            let own = unknown(i).map(|_| i);
            let mut all: BTreeSet<usize> = own.into_iter().collect();
            for k in before(model, found, held, i) {
                all.extend(&roots[k]);
            }
            roots[i] = all;
        }
    }
    let of_job = |j: usize| {
        let job = &model.jobs[j];
        let mine = job.stages.iter().map(|&i| i as usize);
        let hang = |i: usize| {
            let (of, row) = (&model.input.jobs[model.stages[i].job], model.row(i));
            let on = HangsOn { job: of.job, stage: row.stage.clone() };
            let name = (model.stages[i].job != j).then_some(of.name.as_str());
            Some(Hang::new(on, &row.title, name, &unknown(i)?.cause))
        };
        let own = mine.clone().filter_map(hang);
        let all: BTreeSet<usize> = mine.flat_map(|i| roots[i].iter().copied()).collect();
        let others = all.into_iter().filter(|&i| model.stages[i].job != j).filter_map(hang);
        own.chain(others).collect()
    };
    (0..model.jobs.len()).map(of_job).collect()
}

/// What a stage waits for: the stages before it, what was waited for last, and whoever stands in its bay as things are.
fn before(model: &Model<'_>, found: &Found, held: &Held, i: usize) -> Vec<usize> {
    let preds = model.stages[i].preds.iter().map(|&(p, _)| p as usize);
    let stands = others(model, found, held, i).into_iter().filter(|link| {
        let in_bay = |k: usize| model.jobs[model.stages[k].job].in_bay == found.places[i].bay;
        matches!(link.cause, Cause::Bay { .. } | Cause::Yard { .. }) && link.next.is_some_and(in_bay)
    });
    let links = stands.chain([cause(model, found, held, i)]).filter_map(|link| link.next);
    preds.chain(links).collect()
}

const NUMBERS: [&str; 9] = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight"];

/// That work under way has fewer hands than it takes, one sentence a stage.
pub(super) fn few_hands(model: &Model<'_>, j: usize) -> Vec<String> {
    let few = |&i: &u32| {
        let (stage, row) = (&model.stages[i as usize], model.row(i as usize));
        let (has, takes) = (stage.hands, usize::try_from(row.hands).unwrap_or(0));
        let under_way = stage.begun || matches!(row.now, StageNow::Started { .. });
        if !under_way || has == 0 || has >= takes {
            return None;
        }
        let (has, hands) = (*NUMBERS.get(has)?, if has == 1 { "hand" } else { "hands" });
        let takes = NUMBERS.get(takes).map_or_else(|| takes.to_string(), |&word| word.to_owned());
        let name = &model.input.jobs[j].name;
        Some(format!("{} of {name} has {has} {hands} of {takes}, and is planned as it is.", row.title))
    };
    model.jobs[j].stages.iter().filter_map(few).collect()
}
