//! What to fill in again, and perhaps setting it aside for the job.

use super::job::told_of;
use super::set_aside::{Filling, set_aside};
use super::{or_none, text};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::out;
use clap::Args;
use leadhand_sdk::v1::{Answer, PackSize, ReckonFillRequest};

/// A fill after a drain.
#[derive(Debug, Args)]
pub struct Fill {
    /// What the system holds; what should come out of it by the job's book when left out
    #[arg(long, required_unless_present = "job", value_name = "VOLUME")]
    capacity: Option<String>,
    /// What the drain left behind, in block and heater; by the job what did not come out when left out
    #[arg(long, required_unless_present = "job", value_name = "VOLUME")]
    left: Option<String>,
    /// How strong that is, by volume; plain water when left out, and asked for where a job is named
    #[arg(long, value_name = "SHARE")]
    left_strength: Option<String>,
    /// A strength by volume such as 50%, or a freezing point such as -30C; not for a fluid that is no coolant
    #[arg(long, required_unless_present = "fluid", value_name = "SHARE|TEMPERATURE", allow_hyphen_values = true)]
    target: Option<String>,
    /// So many degrees more to be safe, for a freezing point: 5K, or 5 for degrees Celsius
    #[arg(long, value_name = "DEGREES")]
    margin: Option<String>,
    /// How strong it is what is poured in; pure concentrate when left out
    #[arg(long, value_name = "SHARE")]
    poured: Option<String>,
    /// Take capacity and what is left from the drain that was recorded on this job
    #[arg(long)]
    job: Option<i64>,
    /// Which fluid of the job; coolant when left out. Oil and the like are never mixed with water: without a target is told
    /// how much of it goes in
    #[arg(long, requires = "job", value_name = "KEY")]
    fluid: Option<String>,
    /// Set so much of this item aside for the job, as a step of the stage that says what goes in; another target replaces
    /// that step, and no litre is set aside twice
    #[arg(long, requires_all = ["job", "stage"], value_name = "ITEM")]
    reserve: Option<String>,
    /// The stage whose step it is
    #[arg(long, requires = "reserve")]
    stage: Option<String>,
    /// A size of whole packs to which the amount is rounded up, perhaps with how many are there, such as 5L=2; once for each
    #[arg(long = "pack", requires = "reserve", value_parser = super::coolant::parse_pack, value_name = "VOLUME[=COUNT]")]
    packs: Vec<PackSize>,
}

/// What to fill in, and perhaps set aside at once.
pub async fn fill(app: &App, asked: Fill) -> Outcome {
    let request = ReckonFillRequest {
        capacity: or_none(asked.capacity),
        left: or_none(asked.left),
        left_strength: or_none(asked.left_strength),
        target: or_none(asked.target),
        margin: or_none(asked.margin),
        poured_strength: or_none(asked.poured),
        job: asked.job.unwrap_or_default(),
        fluid: or_none(asked.fluid),
        item: asked.reserve.clone().unwrap_or_default(),
    };
    let answer = app.client.reckon_fill(request).await?;
    let (Some(item), Some(job), Some(stage)) = (asked.reserve, asked.job, asked.stage) else {
        return if app.out.is_json() {
            out::json(&answer)
        } else {
            text::show(app, &answer.answer.unwrap_or_default())
        };
    };
    let found = answer.answer.clone().unwrap_or_default();
    if !app.out.is_json() {
        text::show(app, &found)?;
    }
    if found.figures.iter().any(|figure| figure.name == "add" && figure.value <= 0.0) {
        out::note(&format!("nothing is to be added, so nothing of {item} is set aside"));
        return if app.out.is_json() { out::json(&answer) } else { Ok(()) };
    }
    let filling = Filling {
        job,
        stage,
        fluid: answer.fluid,
        recipe: recipe(&found)?,
        litres: litres(&found)?,
        mixed: found.figures.iter().any(|figure| figure.name == "water"),
        unit: app.unit(&item).await?,
        item,
        packs: asked.packs,
        cautions: found.cautions,
    };
    set_aside(app, &filling).await
}

/// What goes in, as a step says it: `3.65 L at 100 % with 2.45 L of water`, and of what is not mixed the amount alone.
fn recipe(found: &Answer) -> Outcome<String> {
    let add = told_of(found, "add")?;
    if found.figures.iter().all(|figure| figure.name != "water") {
        return Ok(add);
    }
    let water = told_of(found, "water")?;
    let poured = found.inputs.iter().find(|input| input.name == "poured_strength");
    let at = poured.map(|input| format!(" at {}", input.taken)).unwrap_or_default();
    Ok(format!("{add}{at} with {water} of water"))
}

fn litres(found: &Answer) -> Outcome<f64> {
    let add = found.figures.iter().find(|figure| figure.name == "add");
    let missing = || Failure::Defect("the server's answer does not say how much to add".to_owned());
    Ok(add.ok_or_else(missing)?.value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::{AnswerFigure, AnswerInput};

    #[test]
    fn a_step_says_water_only_where_it_is_mixed() {
        let figure =
            |name: &str, text: &str| AnswerFigure { name: name.into(), text: text.into(), ..Default::default() };
        let poured = AnswerInput { name: "poured_strength".into(), taken: "100 %".into(), ..Default::default() };
        let mixed = Answer {
            figures: vec![figure("add", "3.65 L"), figure("water", "2.45 L")],
            inputs: vec![poured],
            ..Default::default()
        };
        assert_eq!(recipe(&mixed).unwrap(), "3.65 L at 100 % with 2.45 L of water");
        let oil = Answer { figures: vec![figure("add", "4.20 L")], ..Default::default() };
        assert_eq!(recipe(&oil).unwrap(), "4.20 L");
        assert!(litres(&Answer::default()).is_err());
    }
}
