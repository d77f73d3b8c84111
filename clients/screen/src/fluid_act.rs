//! What a touch says of a fluid, and how it is taken back: the server takes back all that was said of one, so only what
//! was said first can be undone by itself.

use crate::act::Hand;
use crate::form::{Done, Fault, Writes, decimal};
use leadhand_sdk::quantity;
use leadhand_sdk::v1::{FluidLine, GetJobRequest, RecordFluidRequest, ReopenFluidRequest};

/// How much of a fluid came out or went in: in millilitres from a tile, or as it was typed.
pub async fn record(hand: &Hand<'_>, writes: &mut Writes) -> Result<Done, Fault> {
    let amount = |name: &str| match hand.fields.text(name) {
        "" => Ok(0),
        typed => {
            let typed = decimal(typed, hand.t)?;
            quantity::parse(&typed).and_then(|typed| typed.in_unit("mL")).map_err(Fault::Words)
        }
    };
    let (fluid, job) = (hand.fields.text("fluid").to_owned(), hand.job()?);
    let (drained_ml, filled_ml) = (amount("drained")?, amount("filled")?);
    let asked = RecordFluidRequest {
        write: Some(hand.write(writes)?),
        job,
        fluid: fluid.clone(),
        drained_ml,
        filled_ml,
        note: String::new(),
        unlisted: false,
    };
    let done = Done::told(hand.client.record_fluid(asked).await?.receipt);
    // Where it can't be looked up, nothing is offered that may take back more.
    let Some(line) = line_of(hand, job, &fluid).await.unwrap_or_default() else { return Ok(done) };
    Ok(if (line.drained_ml, line.filled_ml) == (drained_ml, filled_ml) {
        done.undo(format!("fluid.{fluid}.{drained_ml}.{filled_ml}"))
    } else {
        done.note(hand.t.fill("fluid-stays", "what", name(&line)))
    })
}

/// Takes back all that was said of it, unless more was said meanwhile.
pub async fn undo(hand: &Hand<'_>, what: &str, writes: &mut Writes) -> Result<Done, Fault> {
    let (job, fluid) = (hand.job()?, what.split('.').next().unwrap_or_default().to_owned());
    if let Some(line) = line_of(hand, job, &fluid).await?
        && !is_all(&line, what)
    {
        return Err(Fault::Words(hand.t.fill("fluid-stays", "what", name(&line))));
    }
    let (write, reason) = (Some(writes.one()), hand.t.say("said-by-mistake"));
    let asked = ReopenFluidRequest { write, job, fluid, reason };
    Ok(Done::told(hand.client.reopen_fluid(asked).await?.receipt))
}

/// Whether this, as a page's undo names it, is all that was said of a fluid.
pub fn is_all(line: &FluidLine, what: &str) -> bool {
    what == format!("{}.{}.{}", line.fluid, line.drained_ml, line.filled_ml)
}

/// What a fluid is called.
pub fn name(line: &FluidLine) -> &str {
    if line.what.is_empty() { &line.fluid } else { &line.what }
}

async fn line_of(hand: &Hand<'_>, job: i64, fluid: &str) -> Result<Option<FluidLine>, Fault> {
    let whole = hand.client.get_job(GetJobRequest { job }).await?;
    Ok(whole.fluids.into_iter().find(|line| line.fluid == fluid))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_is_all_that_was_said_can_be_taken_back() {
        let line = FluidLine { fluid: "coolant".into(), drained_ml: 2_000, ..FluidLine::default() };
        assert!(is_all(&line, "coolant.2000.0"));
        for other in ["coolant.500.0", "coolant.2000.100", "oil.2000.0", "coolant", ""] {
            assert!(!is_all(&line, other), "{other}");
        }
    }
}
