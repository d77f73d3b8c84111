//! Readings as people read them.

use crate::app::App;
use crate::failure::Outcome;
use crate::out::Table;
use crate::quantity;
use crate::words::Word;
use leadhand_sdk::v1::{Conclusion, Decision, GetReadingsResponse, Reading, Sureness, Verdict};

/// Every reading in a table.
pub fn list(app: &App, found: &GetReadingsResponse) -> Outcome {
    let header = ["reading", "what", "stage", "step#", "limits", "figures", "outcome", "decided"];
    let mut table = Table::new("readings", &header)
        .when_empty("nothing is measured on this job; 'leadhand reading add' says what is to be measured");
    for one in &found.readings {
        table.row([
            one.reading.clone(),
            one.what.clone(),
            one.stage.clone(),
            if one.step == 0 { String::new() } else { one.step.to_string() },
            one.limits.clone(),
            figures(one),
            outcome(one),
            decided(one),
        ]);
    }
    app.out.table(&table)?;
    let mut told = found
        .readings
        .iter()
        .flat_map(|one| one.conclusions.iter().map(|conclusion| format!("{}: {}", one.reading, concluded(conclusion))));
    told.try_for_each(|text| crate::out::line(&crate::out::clean(&text)))
}

/// What the reckoner makes of it, and how sure that is.
pub fn concluded(one: &Conclusion) -> String {
    let sure = match one.sureness() {
        Sureness::Certain => "",
        Sureness::Likely => "likely: ",
        Sureness::Possible | Sureness::Unspecified => "possibly: ",
    };
    format!("{sure}{}", one.text)
}

/// The figures, each with what it is of; what is wanted, while there are none.
pub fn figures(one: &Reading) -> String {
    let unit = quantity::shown_unit(one.detail.as_ref().map_or("", |detail| detail.unit.as_str()));
    let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
    if one.figures.is_empty() {
        let slots: Vec<&str> = one.slots.iter().map(String::as_str).filter(|slot| !slot.is_empty()).collect();
        return if slots.is_empty() { String::new() } else { format!("wants {}", slots.join(", ")) };
    }
    let labelled = one.figures.iter().zip(one.slots.iter().map(String::as_str).chain(std::iter::repeat("")));
    let shown: Vec<String> = labelled
        .map(|(figure, slot)| match slot {
            "" => format!("{figure}{unit}"),
            "minutes" => format!("{slot} {figure}"),
            _ => format!("{slot}: {figure}{unit}"),
        })
        .collect();
    let mut all = shown.join(", ");
    if !one.derived.is_empty() {
        all.push_str(" (");
        all.push_str(&one.derived.join("; "));
        all.push(')');
    }
    all
}

/// How it came out, in words.
pub fn outcome(one: &Reading) -> String {
    match one.verdict() {
        Verdict::Unspecified => "not measured".to_owned(),
        Verdict::In => "in limits".to_owned(),
        Verdict::Free => "no limits".to_owned(),
        Verdict::Out => format!("OUT OF LIMITS: {}", one.off.join("; ")),
    }
}

/// What the lead decided, and why.
pub fn decided(one: &Reading) -> String {
    let what = match one.decision() {
        Decision::Unspecified => return String::new(),
        Decision::Accept => "accepted".to_owned(),
        Decision::Again => "to be measured again".to_owned(),
        Decision::Repair => Decision::Repair.word(),
    };
    let by = if one.decided_by.is_empty() { String::new() } else { format!(" by {}", one.decided_by) };
    let why = if one.reason.is_empty() { String::new() } else { format!(": {}", one.reason) };
    format!("{what}{by}{why}")
}
