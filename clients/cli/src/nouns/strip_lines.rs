//! What the strip book says at the steps of a job, and what is to be got for it.

use super::strip_text::{counted, remarked, to_come};
use leadhand_sdk::v1::{GetStripResponse, Manner, Position, ToGet};

/// What a step takes off, moves aside or puts in.
pub fn of_step(book: &GetStripResponse, stage: &str, step: i32) -> Vec<String> {
    let own = book.positions.iter().filter(|one| one.stage == stage && one.step == step);
    own.map(|one| format!("     strip: {}", said(one))).collect()
}

/// What was met in a stage at no step of it, and what goes back in it.
pub fn of_stage(book: &GetStripResponse, stage: &str) -> Vec<String> {
    let met = book.positions.iter().filter(|one| one.stage == stage && one.step == 0);
    let met = met.map(|one| format!("  met: {}", said(one)));
    let due = book.positions.iter().filter(|one| one.back == stage && one.off_at.is_some());
    let due = due.map(|one| {
        let verb = match (one.manner(), is_settled(one)) {
            (Manner::In, false) => "comes out",
            (Manner::In, true) => "came out",
            (_, false) => "goes back",
            (_, true) => "is back",
        };
        let all: Vec<String> = std::iter::once(named(one)).chain(remarked(one)).collect();
        format!("  {verb}: {}", all.join("; "))
    });
    met.chain(due).collect()
}

/// Whether nothing is left to go back or come out.
fn is_settled(one: &Position) -> bool {
    let gone = one.refitted + one.renewed + one.left_out;
    if one.manner() == Manner::In { one.refitted >= one.found } else { gone >= one.found + one.missing }
}

fn named(one: &Position) -> String {
    format!("{} ({})", counted(one), one.position)
}

/// `12 × Sump bolts, M6 x 20, from below (sbolts): comes off, behind undertray`.
fn said(one: &Position) -> String {
    let verb = match one.manner() {
        _ if one.off_at.is_none() => to_come(one),
        Manner::In => "was put in".to_owned(),
        Manner::Aside => "was moved aside".to_owned(),
        _ => "came off".to_owned(),
    };
    let all: Vec<String> = std::iter::once(verb).chain(remarked(one)).collect();
    format!("{}: {}", named(one), all.join("; "))
}

/// `to be got: 1 × Nuts of the inlet manifold (nuts), no item of the stock named`.
pub fn to_get(one: &ToGet) -> String {
    let back = if one.stage.is_empty() { String::new() } else { format!("; it goes back in {}", one.stage) };
    format!("to be got: {} × {} ({}), no item of the stock named{back}", one.pieces, one.what, one.position)
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::Reach;

    fn bolts() -> Position {
        Position {
            position: "sbolts".into(),
            stage: "strip".into(),
            step: 2,
            what: "Sump bolts".into(),
            manner: Manner::Off.into(),
            count: 12,
            reach: Reach::Under.into(),
            behind: vec!["undertray".into()],
            back: "refit".into(),
            ..Position::default()
        }
    }

    #[test]
    fn a_step_says_what_comes_off_how_it_is_reached_and_behind_what() {
        let book = GetStripResponse { positions: vec![bolts()], ..Default::default() };
        let said = ["     strip: 12 × Sump bolts, from below (sbolts): comes off, behind undertray"];
        assert_eq!(of_step(&book, "strip", 2), said);
        assert!(of_step(&book, "strip", 1).is_empty() && of_stage(&book, "refit").is_empty());
    }

    #[test]
    fn where_it_goes_back_stands_what_was_different() {
        let off = Position {
            off_at: Some(prost_types::Timestamp::default()),
            found: 11,
            missing: 1,
            note: "the one from the lowest hole is longer".into(),
            repair: "insert in hole 2".into(),
            ..bolts()
        };
        let book = GetStripResponse { positions: vec![off], ..Default::default() };
        let said = "  goes back: 12 × Sump bolts, from below (sbolts); the one from the lowest hole is longer; \
                    repaired before: insert in hole 2";
        assert_eq!(of_stage(&book, "refit"), [said]);
    }

    #[test]
    fn what_no_stock_has_is_to_be_got() {
        let nut = ToGet { position: "nuts".into(), what: "Nuts of the inlet".into(), pieces: 1, stage: "fit".into() };
        let said = "to be got: 1 × Nuts of the inlet (nuts), no item of the stock named; it goes back in fit";
        assert_eq!(to_get(&nut), said);
    }
}
