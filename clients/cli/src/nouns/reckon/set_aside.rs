//! What the server says of a fill that it set aside for a job: which step says it, and who has how much from which bin.

use super::text;
use crate::app::App;
use crate::failure::Outcome;
use crate::nouns::stock_text::each_bin;
use crate::out;
use crate::quantity::show;
use leadhand_sdk::v1::{BinQuantity, FillShare, ReserveFillRequest, ReserveFillResponse};
use std::collections::BTreeMap;

/// Sets it aside, and shows what was reckoned and what came of it.
pub async fn set_aside(app: &App, request: ReserveFillRequest) -> Outcome {
    let (job, item) = (request.job, request.item.clone());
    let answer = app.client.reserve_fill(request).await?;
    // A repeat whose job went on meanwhile has no figures any more.
    if let Some(worked) = answer.answer.as_ref().filter(|_| !app.out.is_json()) {
        text::show(app, worked)?;
    }
    for note in notes(&answer, &item) {
        out::note(&note);
    }
    app.done(&answer, answer.receipt.as_ref(), None, &told(&answer, job))
}

/// What there is to know besides.
fn notes(answer: &ReserveFillResponse, item: &str) -> Vec<String> {
    let mut notes = Vec::new();
    if answer.step > 0 {
        let now = if answer.changed { "says it now, in the place of what it said before" } else { "says it already" };
        notes.push(format!("step {} of {} {now}", answer.step, answer.stage));
    }
    let elsewhere = answer.shares.iter().filter(|share| !is_own(answer, share));
    notes.extend(elsewhere.map(|share| {
        let (asks, has) = (show(share.quantity, &share.unit), show(share.reserved + share.issued, &share.unit));
        format!(
            "step {} of {} asks for {asks} of {} as well, {has} of it set aside",
            share.step, share.stage, share.item
        )
    }));
    if answer.more > 0 {
        let more = show(answer.more, &answer.unit);
        notes.push(format!(
            "other steps ask for {more} more than is needed now: read them, and have a lead decide which holds before one is left out ('leadhand step skip')"
        ));
    }
    if !answer.packs.is_empty() {
        let packs = answer.packs.join(", ");
        notes.push(format!("in whole packs that is {packs}; the stock book counts litres and no packs"));
    }
    if answer.shares.iter().all(|share| share.item != item) && !answer.shares.is_empty() {
        let kept = answer.shares.iter().map(|share| format!("{} of {}", show(share.quantity, &share.unit), share.item));
        let kept = kept.collect::<Vec<_>>().join(" and ");
        notes.push(format!("{kept} are set aside for it already, so nothing of {item} is"));
    }
    notes
}

fn is_own(answer: &ReserveFillResponse, share: &FillShare) -> bool {
    (&share.stage, share.step) == (&answer.stage, answer.step)
}

/// Item by item how much is set aside, for which steps and from which bins.
fn told(answer: &ReserveFillResponse, job: i64) -> String {
    let mut items: BTreeMap<&str, Vec<&FillShare>> = BTreeMap::new();
    for share in &answer.shares {
        items.entry(&share.item).or_default().push(share);
    }
    if items.is_empty() {
        return format!("nothing goes in, so nothing is set aside for it on job {job}");
    }
    let told = items.into_iter().map(|(item, shares)| of_item(item, &shares, job));
    told.collect::<Vec<_>>().join("; ")
}

fn of_item(item: &str, shares: &[&FillShare], job: i64) -> String {
    let unit = shares.first().map_or("", |share| share.unit.as_str());
    let sum = |of: fn(&FillShare) -> i64| shares.iter().map(|share| of(share)).sum::<i64>();
    let (amount, short) = (show(sum(|share| share.quantity), unit), sum(|share| share.short));
    let said = if short > 0 {
        format!("are needed, and {} are SHORT,", show(short, unit))
    } else {
        "are set aside".to_owned()
    };
    let steps =
        shares.iter().map(|share| format!("{} for step {} of {}", show(share.quantity, unit), share.step, share.stage));
    let steps = steps.collect::<Vec<_>>().join(", ");
    let mut from: BTreeMap<&str, i64> = BTreeMap::new();
    for bin in shares.iter().flat_map(|share| &share.bins) {
        *from.entry(&bin.bin).or_default() += bin.quantity;
    }
    let from: Vec<BinQuantity> =
        from.into_iter().map(|(bin, quantity)| BinQuantity { bin: bin.to_owned(), quantity }).collect();
    let from = each_bin(&from, unit);
    let from = if from.is_empty() { from } else { format!(" ({from})") };
    format!("{amount} of {item} {said} for job {job}: {steps}{from}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn share(stage: &str, step: i32, item: &str, figures: [i64; 3], from: &[(&str, i64)]) -> FillShare {
        let [quantity, reserved, short] = figures;
        let bins = from.iter().map(|(bin, quantity)| BinQuantity { bin: (*bin).to_owned(), quantity: *quantity });
        let (stage, item, unit) = (stage.to_owned(), item.to_owned(), "mL".to_owned());
        FillShare { stage, step, item, unit, quantity, reserved, short, bins: bins.collect(), ..Default::default() }
    }

    #[test]
    fn each_bin_is_told_with_what_to_draw_from_it() {
        let own = share("fill", 2, "conc", [4_000, 4_000, 0], &[("bin-d1", 3_000), ("bin-d2", 1_000)]);
        let other = share("bleed", 1, "conc", [1_000, 1_000, 0], &[("bin-d2", 1_000)]);
        let mut answer = ReserveFillResponse {
            shares: vec![own, other],
            stage: "fill".into(),
            step: 2,
            changed: true,
            ..Default::default()
        };
        assert_eq!(
            told(&answer, 11),
            "5 L of conc are set aside for job 11: 4 L for step 2 of fill, 1 L for step 1 of bleed (3 L from bin-d1, 2 L \
             from bin-d2)"
        );
        let said = notes(&answer, "conc");
        assert!(said[0].contains("step 2 of fill says it now") && said[1].contains("step 1 of bleed asks"), "{said:?}");
        answer.shares = vec![share("fill", 2, "conc", [5_000, 3_000, 2_000], &[])];
        assert!(told(&answer, 11).starts_with("5 L of conc are needed, and 2 L are SHORT,"));
        assert!(notes(&answer, "other").iter().any(|note| note.contains("so nothing of other is")));
    }
}
