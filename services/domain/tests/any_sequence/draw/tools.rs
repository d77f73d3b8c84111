//! Commands about shared tools, mostly sensible ones.

use super::Draw;
use leadhand_domain::command::*;
use leadhand_facts::rows::LoanRow;
use leadhand_facts::{PersonId, ToolKey};

impl Draw<'_> {
    /// A shared tool, now and then one that is not there.
    pub fn tool(&mut self) -> ToolKey {
        let all: Vec<ToolKey> = self.state.tools.iter().map(|row| row.tool.clone()).collect();
        if self.rarely(25) { "no-such".into() } else { self.one_of(&all).unwrap_or_else(|| "lock".into()) }
    }

    fn lent(&mut self) -> ToolKey {
        let open: Vec<ToolKey> =
            self.books.rows::<LoanRow>().filter(|row| row.until_at.is_none()).map(|row| row.tool.clone()).collect();
        match self.one_of(&open) {
            Some(tool) if !self.rarely(12) => tool,
            _ => self.tool(),
        }
    }
}

fn due(draw: &mut Draw<'_>) -> Option<String> {
    (draw.below(3) == 1).then(|| draw.day(-3, 30))
}

pub fn add(draw: &mut Draw<'_>) -> Command {
    let tool = draw.one_of(&["puller", "lock", "frame", "lamp"]).unwrap_or("puller").into();
    AddTool {
        tool,
        name: draw.words("Two-armed puller"),
        what: draw.sometimes("80 to 200 mm"),
        calibration_due: due(draw),
    }
    .into()
}

pub fn describe(draw: &mut Draw<'_>) -> Command {
    let what = match draw.below(3) {
        0 => Change::Keep,
        1 => Change::Clear,
        _ => Change::Set(draw.words("with its case")),
    };
    let calibration_due = due(draw).map_or(Change::Keep, Change::Set);
    DescribeTool { tool: draw.tool(), name: draw.sometimes("Lock"), what, calibration_due }.into()
}

pub fn retire(draw: &mut Draw<'_>) -> Command {
    RetireTool { tool: draw.tool(), reason: draw.words("the jaw is cracked") }.into()
}

pub fn lend(draw: &mut Draw<'_>) -> Command {
    let hand_on = draw.below(2) == 1;
    let tool = if hand_on { draw.lent() } else { draw.tool() };
    let (mut job, mut bay, mut person, mut stage) = (None, None, None::<PersonId>, None);
    match draw.below(8) {
        0 => person = Some(draw.person()),
        1 => bay = Some(draw.bay()),
        _ => job = Some(draw.job()),
    }
    if let Some(job) = job
        && draw.below(2) == 1
    {
        stage = Some(draw.stage(job));
    }
    if draw.rarely(30) {
        bay = Some(draw.bay());
    }
    LendTool { tool, job, stage, bay, person, hand_on }.into()
}

pub fn bring_back(draw: &mut Draw<'_>) -> Command {
    ReturnTool { tool: draw.lent() }.into()
}

pub fn reopen(draw: &mut Draw<'_>) -> Command {
    ReopenLoan { tool: draw.lent(), reason: draw.words("it was another one") }.into()
}
