//! Who could do a stage, and which bays fit it; or why nobody and none.

use super::model::{MOST_HANDS, Model, Names, Never, number};
use leadhand_facts::plan::{PlanStage, StageNow};
use leadhand_facts::words::{NoPlace, StageKind};

impl<'i> Model<'i> {
    pub(super) fn fixed(s: &PlanStage, names: &Names<'i>) -> Result<Vec<u32>, Never> {
        let people = match &s.now {
            _ if s.kind == StageKind::Wait => return Ok(Vec::new()),
            StageNow::Started { people } if !people.is_empty() => people,
            _ => &s.pin.people,
        };
        let unknown = || {
            (NoPlace::Gone, "it is given to somebody who is no technician of the shop; give it to another".to_owned())
        };
        people.iter().map(|p| names.people.get(p).copied().ok_or_else(unknown)).collect()
    }

    pub(super) fn crew(&self, s: &PlanStage, hands: usize, fixed: &[u32]) -> Result<Vec<u32>, Never> {
        if s.kind == StageKind::Wait {
            return Ok(Vec::new());
        }
        if hands > MOST_HANDS {
            let sentence = format!("it takes {hands} at a time, and {MOST_HANDS} is the most; split it into stages");
            return Err((NoPlace::TooFew, sentence));
        }
        if !fixed.is_empty() {
            return Ok(fixed.to_vec());
        }
        let able = |t: &leadhand_facts::plan::PlanTechnician| s.skills.iter().all(|skill| t.skills.contains(skill));
        let technicians = self.input.technicians.iter().enumerate();
        let mut crew: Vec<u32> = technicians.filter(|(_, t)| able(t)).map(|(i, _)| number(i)).collect();
        crew.sort_by_key(|&p| self.people[p as usize].versatility);
        if crew.len() < hands {
            return Err((NoPlace::TooFew, too_few(s, crew.len())));
        }
        Ok(crew)
    }

    pub(super) fn bays(&self, j: usize, s: &PlanStage, names: &Names<'i>) -> Result<Vec<u32>, Never> {
        if !s.in_bay {
            return Ok(Vec::new());
        }
        if matches!(s.now, StageNow::Started { .. })
            && let Some(bay) = self.jobs[j].in_bay
        {
            return Ok(vec![bay]);
        }
        if let Some(bay) = &s.pin.bay {
            let sentence = || (NoPlace::NoBay, format!("the shop has no bay {bay}; choose another"));
            return Ok(vec![names.bays.get(bay.as_str()).copied().ok_or_else(sentence)?]);
        }
        let kg = self.input.jobs[j].kg;
        let kinds = |b: &leadhand_facts::plan::PlanBay| s.bays.is_empty() || s.bays.contains(&b.kind);
        let bears = |b: &leadhand_facts::plan::PlanBay| b.rated_kg == 0 || kg <= b.rated_kg;
        let fit = self.input.bays.iter().enumerate().filter(|(_, b)| kinds(b) && bears(b));
        let fit: Vec<u32> = fit.map(|(i, _)| number(i)).collect();
        if fit.is_empty() {
            let none = !self.input.bays.iter().any(kinds);
            return Err((NoPlace::NoBay, no_bay(s, if none { None } else { Some(kg) })));
        }
        Ok(fit)
    }
}

/// That too few can do a stage, of whom the shop has so many.
fn too_few(s: &PlanStage, able: usize) -> String {
    let skills = s.skills.join(" and ");
    match (able, s.skills.is_empty()) {
        (0, true) => "the shop has nobody who works on vehicles; give somebody a skill or a shift".to_owned(),
        (0, false) => format!("nobody in the shop has the skill {skills}; give it to somebody"),
        (able, none) => {
            let with = if none { String::new() } else { format!(" with the skill {skills}") };
            format!("it takes {} at a time{with}, and the shop has {able}", s.hands.max(1))
        }
    }
}

/// That no bay fits a stage: there is none of its kind, or none of them bears so many kilograms.
fn no_bay(s: &PlanStage, kg: Option<i32>) -> String {
    let words: Vec<&str> = s.bays.iter().map(|kind| kind.word()).collect();
    let kind = if words.is_empty() { "bay".to_owned() } else { words.join(" or ") };
    match kg {
        Some(kg) => format!("no {kind} of the shop bears the vehicle's {kg} kg"),
        None => format!("the shop has no {kind}; add one, or let it be done in another kind of bay"),
    }
}
