//! Handing a vehicle over: what stands against it line by line, what a lead overrules of that, and the lead's own touch.

use crate::desk::leads;
use crate::form::{Done, Fault, Fields, Writes, begin, finish};
use crate::pages::{Screen, not_for};
use crate::part::Choice;
use crate::sheet::{Sheet, caller, failed, sheet, show};
use crate::texts::Texts;
use askama::Template;
use axum::extract::{Form, Path, State};
use axum::http::HeaderMap;
use axum::response::Response;
use leadhand_sdk::v1::{
    CheckHandOverRequest, CheckHandOverResponse, CompleteJobRequest, GetHandOverSheetRequest, HandOverLine, Override,
    Remedy,
};
use leadhand_sdk::{Client, SdkError};

/// Before the key of a line, in the name of the field that holds why it is overruled.
const WHY: &str = "why:";

#[derive(Template)]
#[template(path = "leaving.html")]
struct Page {
    sheet: Sheet,
    lines: Vec<Line>,
    /// Whether the job is open; what is closed is not handed over again.
    open: bool,
    /// Whether nothing stands against it that nobody may overrule.
    may: bool,
}

/// What stands against it.
struct Line {
    text: String,
    /// What is to be done, without the commands of a command line; an older server says nothing without them.
    todo: String,
    /// The field that says why it is overruled; empty where nobody may.
    field: String,
    reasons: Vec<Choice>,
}

fn address(job: i64) -> String {
    format!("/desk/job/{job}/hand-over")
}

/// The page.
pub async fn page(State(screen): State<Screen>, Path(job): Path<i64>, headers: HeaderMap) -> Response {
    let own = address(job);
    let caller = match caller(&screen, &headers, &own).await {
        Ok(caller) => caller,
        Err(answer) => return *answer,
    };
    if !leads(&caller) {
        return not_for(&screen, "for-the-lead", &own);
    }
    match load(caller.client(), job).await {
        Ok((found, named)) => {
            let t = &screen.texts;
            let lines: Vec<Line> = found.lines.iter().map(|line| of(&by_name(line, &named), t)).collect();
            let may = lines.iter().all(|line| !line.field.is_empty());
            let title = format!("{} · {}", t.say("hand-over-now"), t.fill("job", "job", &job.to_string()));
            let head = sheet(&screen, &caller, title, own, "/desk".into());
            show(&screen, &caller, &Page { sheet: head, lines, open: found.open, may })
        }
        Err(error) => failed(&screen, caller.visitor, &error, &own),
    }
}

/// What stands against it, and the same lines as the sheet tells them: by names, where these have keys.
async fn load(client: &Client, job: i64) -> Result<(CheckHandOverResponse, Vec<HandOverLine>), SdkError> {
    let found = client.check_hand_over(CheckHandOverRequest { job }).await?;
    let sheet = client.get_hand_over_sheet(GetHandOverSheetRequest { job }).await?;
    Ok((found, sheet.open))
}

fn by_name(line: &HandOverLine, named: &[HandOverLine]) -> HandOverLine {
    let same = named.iter().find(|one| one.line == line.line);
    HandOverLine { text: same.map_or_else(|| line.text.clone(), |one| one.text.clone()), ..line.clone() }
}

fn of(line: &HandOverLine, t: &Texts) -> Line {
    let lead = line.remedy() == Remedy::Lead;
    let none = Choice { value: String::new(), words: t.say("not-overruled"), chosen: true };
    let reasons = ["hand-over-known", "hand-over-looked", "hand-over-later"].map(|key| t.say(key));
    let reasons = reasons.map(|words| Choice { value: words.clone(), words, chosen: false });
    Line {
        text: line.text.clone(),
        todo: line.advice.clone(),
        field: if lead { format!("{WHY}{}", line.line) } else { String::new() },
        reasons: if lead { std::iter::once(none).chain(reasons).collect() } else { Vec::new() },
    }
}

/// Hands it over.
pub async fn hand_over(
    State(screen): State<Screen>,
    Path(job): Path<i64>,
    headers: HeaderMap,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let (fields, own) = (Fields(fields), address(job));
    let mut begun = match begin(&screen, &headers, &fields, &own) {
        Ok(begun) => begun,
        Err(answer) => return *answer,
    };
    let done = carry_out(&begun.signed.client, &fields, job, &screen.texts, &mut begun.writes).await;
    finish(&screen, &begun.visitor, &fields, "/desk", &own, done).await
}

async fn carry_out(client: &Client, fields: &Fields, job: i64, t: &Texts, writes: &mut Writes) -> Result<Done, Fault> {
    let asked = CompleteJobRequest {
        write: Some(writes.one()),
        job,
        override_reason: String::new(),
        overrides: overrides(fields),
    };
    let receipt = client.complete_job(asked).await?.receipt;
    Ok(Done::told(receipt).note(t.fill("handed-over", "job", &job.to_string())))
}

/// The lines of which a form says why they are overruled. What was typed beside the tiles goes with each of them.
fn overrides(fields: &Fields) -> Vec<Override> {
    let more = fields.text("words");
    let said = fields.0.iter().filter_map(|(name, why)| Some((name.strip_prefix(WHY)?, why.trim())));
    let reason = |why: &str| if more.is_empty() { why.to_owned() } else { format!("{why}: {more}") };
    said.filter(|(_, why)| !why.is_empty())
        .map(|(line, why)| Override { line: line.to_owned(), reason: reason(why) })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_was_said_is_overruled_and_each_with_its_reason() {
        let form =
            [("act", "hand-over"), ("why:places:airbox", "looked at it"), ("why:stage:prove", ""), ("words", "")];
        let mut fields = Fields(form.map(|(a, b)| (a.to_owned(), b.to_owned())).into());
        let of = |line: &str, reason: &str| Override { line: line.into(), reason: reason.into() };
        assert_eq!(overrides(&fields), [of("places:airbox", "looked at it")]);
        fields.0.push(("words".into(), " he brings it ".into()));
        assert_eq!(overrides(&fields), [of("places:airbox", "looked at it: he brings it")]);
    }

    #[test]
    fn a_line_is_told_by_names_where_the_sheet_has_it() {
        let line = |line: &str, text: &str| HandOverLine {
            line: line.into(),
            text: text.into(),
            remedy: Remedy::Lead.into(),
            ..HandOverLine::default()
        };
        let named = [line("hold:cool:3", "Cool down, hold point 3: nobody passed it")];
        let by_key = [line("hold:cool:3", "hold point 3 of cool: nobody passed it"), line("stage:fit", "fit: pending")];
        let told = by_key.map(|one| (by_name(&one, &named).text, by_name(&one, &named).line));
        assert_eq!(told[0], (named[0].text.clone(), "hold:cool:3".to_owned()));
        assert_eq!(told[1].0, "fit: pending", "what came up since is told as it is");
    }

    #[test]
    fn a_line_that_nobody_overrules_has_no_reasons() {
        let t = Texts::of("en-GB");
        let line = |remedy: Remedy| HandOverLine {
            line: "still-in:plug".into(),
            remedy: remedy.into(),
            todo: "take it out and say so (`strip back`)".into(),
            advice: "take it out and say so".into(),
            commands: vec!["strip back".into()],
            ..HandOverLine::default()
        };
        let ended = of(&line(Remedy::End), &t);
        assert_eq!(
            (ended.field.as_str(), ended.reasons.len(), ended.todo.as_str()),
            ("", 0, "take it out and say so"),
            "nobody at a desk has a command line"
        );
        let lead = of(&line(Remedy::Lead), &t);
        assert_eq!((lead.field.as_str(), lead.reasons.len()), ("why:still-in:plug", 4));
        assert!(
            lead.reasons[0].chosen && lead.reasons[0].value.is_empty(),
            "nothing is overruled unless it is touched"
        );
    }
}
