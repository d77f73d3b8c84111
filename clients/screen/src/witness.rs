//! A second look: somebody else signs in at this device for one proof, and whoever works here stays signed in.

use crate::form::{Done, Fault, Fields, Writes, begin, finish};
use crate::pages::Screen;
use crate::sheet::{Sheet, caller, failed, sheet, show};
use crate::sign_in::{self, Name, Shown};
use askama::Template;
use axum::extract::{Form, Path, Query, State};
use axum::http::HeaderMap;
use axum::response::Response;
use leadhand_sdk::v1::{
    ConfirmPositionsRequest, GetJobRequest, GetJobResponse, GetShopRequest, GetStripRequest, Person, Position, Role,
    SignOutRequest, Stage, Step, TickStepsRequest,
};
use leadhand_sdk::{Client, SdkError};

#[derive(Template)]
#[template(path = "witness.html")]
struct Page {
    sheet: Sheet,
    /// The bay at which it is.
    bay: String,
    /// Who is signed in here and may sign without showing who they are once more; the server knows who did the work.
    own_name: String,
    /// What is looked at.
    what: String,
    names: Vec<Name>,
    /// What is said when nobody may.
    nobody: String,
    chosen: Option<Name>,
}

/// What the page is asked for with.
#[derive(serde::Deserialize, Default)]
pub struct Asked {
    #[serde(default)]
    person: String,
}

/// What is looked at: a position by its key, or a step of a stage as `STAGE:STEP`.
enum Looked<'a> {
    Position(&'a str),
    Step { stage: &'a str, step: i32 },
}

impl<'a> Looked<'a> {
    fn of(what: &'a str) -> Self {
        let step = what.rsplit_once(':').and_then(|(stage, step)| Some((stage, step.parse().ok()?)));
        step.map_or(Self::Position(what), |(stage, step)| Self::Step { stage, step })
    }
}

fn address(bay: &str, job: i64, what: &str) -> String {
    format!("/bay/{bay}/job/{job}/look/{what}")
}

/// The page of tiles; of the PIN when a tile was touched.
pub async fn page(
    State(screen): State<Screen>,
    Path((bay, job, what)): Path<(String, i64, String)>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Response {
    let own = address(&bay, job, &what);
    let caller = match caller(&screen, &headers, &own).await {
        Ok(caller) => caller,
        Err(answer) => return *answer,
    };
    match load(caller.client(), job, &what).await {
        Ok((asked_for, persons)) => {
            let may: Vec<&Person> = persons.iter().filter(|person| asked_for.is_met_by(person, &persons)).collect();
            // Whoever is signed in here has shown who they are, and signs by a button of their own.
            let own_may = may.iter().any(|person| person.name == caller.signed.name) && caller.signed.has_hands();
            let others = may.into_iter().filter(|person| person.name != caller.signed.name);
            let mut names: Vec<Name> =
                others.map(|person| Name { person: person.person.clone(), name: person.name.clone() }).collect();
            names.sort_by(|a, b| a.name.cmp(&b.name));
            let t = &screen.texts;
            let nobody = match (names.is_empty() && !own_may, asked_for.skills.as_slice()) {
                (false, _) => String::new(),
                (true, []) => t.say("nobody-may-look"),
                (true, skills) => t.fill("nobody-may-look-with", "skills", &skills.join(", ")),
            };
            let page = Page {
                sheet: sheet(&screen, &caller, t.say("second-look"), own, format!("/bay/{bay}")),
                bay,
                what: asked_for.words,
                chosen: names.iter().find(|name| name.person == asked.person).cloned(),
                names,
                nobody,
                own_name: if own_may { caller.signed.name.clone() } else { String::new() },
            };
            show(&screen, &caller, &page)
        }
        Err(error) => failed(&screen, caller.visitor, &error, &own),
    }
}

/// What is looked at, and what a look at it asks of a person.
#[derive(Debug, Default)]
struct AskedFor {
    words: String,
    skills: Vec<String>,
    /// Who did it, by name: nobody looks at their own work.
    hands: Vec<String>,
}

impl AskedFor {
    /// Whether this person may look: the server decides anyway, and knows more of who did what.
    fn is_met_by(&self, person: &Person, all: &[Person]) -> bool {
        // An older server says of nobody what they may do.
        let unsaid = all.iter().all(|other| other.role() == Role::Unspecified);
        let hands = unsaid || matches!(person.role(), Role::Lead | Role::Technician);
        hands
            && !person.forgotten
            && !person.name.is_empty()
            && !self.hands.contains(&person.name)
            && self.skills.iter().all(|skill| person.skills.contains(skill))
    }

    /// At a position: the skills of the stage in which it goes back.
    fn at_position(found: &Position, whole: &GetJobResponse) -> Self {
        let own = if found.back.is_empty() { &found.stage } else { &found.back };
        let skills = whole.stages.iter().find(|one| one.stage == *own).map(|stage| stage.skills.clone());
        let tight = crate::strip::tightening(found).join(", ");
        Self {
            words: format!("{} {tight}", crate::strip::counted(found)).trim_end().to_owned(),
            skills: skills.unwrap_or_default(),
            hands: [found.back_by.clone()].into(),
        }
    }

    /// At a step: its own skills and those of its stage, and nobody who worked there.
    fn at_step(stage: &Stage, step: &Step) -> Self {
        let mut skills = stage.skills.clone();
        skills.extend(step.skills.iter().filter(|skill| !stage.skills.contains(skill)).cloned());
        let did = stage.steps.iter().filter(|other| other.hold.is_empty()).map(|other| other.done_by.clone());
        let on = stage.persons.iter().map(|person| person.name.clone());
        Self { words: step.instruction.clone(), skills, hands: did.chain(on).collect() }
    }
}

async fn load(client: &Client, job: i64, what: &str) -> Result<(AskedFor, Vec<Person>), SdkError> {
    let whole = client.get_job(GetJobRequest { job }).await?;
    let asked_for = match Looked::of(what) {
        Looked::Position(key) => {
            let book = client.get_strip(GetStripRequest { job, ..GetStripRequest::default() }).await?;
            let found = book.positions.iter().find(|one| one.position == key);
            found.map(|found| AskedFor::at_position(found, &whole))
        }
        Looked::Step { stage, step } => {
            let stage = whole.stages.iter().find(|one| one.stage == stage);
            let found = stage.and_then(|stage| Some((stage, stage.steps.iter().find(|one| one.step == step)?)));
            found.map(|(stage, step)| AskedFor::at_step(stage, step))
        }
    };
    Ok((asked_for.unwrap_or_default(), client.get_shop(GetShopRequest {}).await?.persons))
}

/// Looks at it in that person's name.
pub async fn look(
    State(screen): State<Screen>,
    Path((bay, job, what)): Path<(String, i64, String)>,
    headers: HeaderMap,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let (fields, own, page) = (Fields(fields), address(&bay, job, &what), format!("/bay/{bay}"));
    let mut begun = match begin(&screen, &headers, &fields, &own) {
        Ok(begun) => begun,
        Err(answer) => return *answer,
    };
    let done = if fields.text("own").is_empty() {
        prove(&screen, &mut begun.writes, job, &what, &fields).await
    } else {
        let done = confirm(&begun.signed.client, &mut begun.writes, job, &what).await.map_err(Fault::from);
        done.map(|done| done.note(screen.texts.fill("looked-at", "who", &begun.signed.name)))
    };
    finish(&screen, &begun.visitor, &fields, &page, &own, done).await
}

async fn prove(screen: &Screen, writes: &mut Writes, job: i64, what: &str, fields: &Fields) -> Result<Done, Fault> {
    let shown = Shown {
        person: fields.text("person").to_owned(),
        pin: fields.text("pin").to_owned(),
        badge: fields.text("badge").to_owned(),
    };
    // A session that lasts for one proof.
    let signed = sign_in::open(&screen.client, shown, 1).await?;
    let done = match confirm(&signed.client, writes, job, what).await {
        // A double touch: the first signed for it, in a session of its own. The id alone proves nothing: what stands in
        // the book does.
        Err(error) if error.reason == "REQUEST_ID_REUSED" => {
            match stands_by(&signed.client, job, what, &signed.name).await {
                Ok(true) => Ok(Done::default()),
                Ok(false) => Err(error),
                Err(other) => Err(other),
            }
        }
        done => done,
    };
    if let Err(error) = signed.client.sign_out(SignOutRequest { write: None }).await {
        tracing::warn!("a session could not be ended at the server, and ends by itself: {error}");
    }
    Ok(done?.note(screen.texts.fill("looked-at", "who", &signed.name)))
}

/// Whether it is signed for by this person.
async fn stands_by(client: &Client, job: i64, what: &str, who: &str) -> Result<bool, SdkError> {
    Ok(match Looked::of(what) {
        Looked::Position(key) => {
            let book = client.get_strip(GetStripRequest { job, ..GetStripRequest::default() }).await?;
            book.positions.iter().any(|one| one.position == key && one.checked_by == who)
        }
        Looked::Step { stage, step } => {
            let whole = client.get_job(GetJobRequest { job }).await?;
            let mut steps = whole.stages.iter().filter(|one| one.stage == stage).flat_map(|one| &one.steps);
            steps.any(|one| one.step == step && one.done_by == who)
        }
    })
}

async fn confirm(client: &Client, writes: &mut Writes, job: i64, what: &str) -> Result<Done, SdkError> {
    let write = Some(writes.one());
    let receipt = match Looked::of(what) {
        Looked::Position(key) => {
            let positions = vec![key.to_owned()];
            client.confirm_positions(ConfirmPositionsRequest { write, job, positions }).await?.receipt
        }
        Looked::Step { stage, step } => {
            let (stage, steps) = (stage.to_owned(), vec![step]);
            client.tick_steps(TickStepsRequest { write, job, stage, steps, ..Default::default() }).await?.receipt
        }
    };
    Ok(Done::told(receipt))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn person(name: &str, role: Role, skills: &[&str]) -> Person {
        let skills = skills.iter().map(|skill| (*skill).to_owned()).collect();
        Person { name: name.into(), role: role.into(), skills, ..Person::default() }
    }

    /// The rule is the server's: hands alone, with the skills of step and stage, and not at one's own work.
    #[test]
    fn only_who_may_look_is_offered() {
        let all = [
            person("Flint", Role::Technician, &["engine", "brakes"]),
            person("Larch", Role::Technician, &["engine"]),
            person("Heron", Role::Lead, &["brakes", "engine"]),
            person("Moss", Role::Parts, &["engine", "brakes"]),
            person("Wren", Role::Unspecified, &["engine", "brakes"]),
            Person { forgotten: true, ..person("Fern", Role::Lead, &["engine", "brakes"]) },
        ];
        let hold = Step { step: 2, hold: "brakes hold".into(), skills: vec!["brakes".into()], ..Step::default() };
        let done = Step { step: 1, done_by: "Flint".into(), ..Step::default() };
        let stage = Stage { skills: vec!["engine".into()], steps: vec![done, hold.clone()], ..Stage::default() };
        let offered = |asked: &AskedFor, all: &[Person]| -> Vec<String> {
            all.iter().filter(|one| asked.is_met_by(one, all)).map(|one| one.name.clone()).collect()
        };
        assert_eq!(offered(&AskedFor::at_step(&stage, &hold), &all), ["Heron"]);
        let old: Vec<Person> = all.iter().map(|one| Person { role: 0, ..one.clone() }).collect();
        assert_eq!(
            offered(&AskedFor::at_step(&stage, &hold), &old),
            ["Heron", "Moss", "Wren"],
            "nothing is known of roles"
        );

        let whole = GetJobResponse {
            stages: vec![Stage { stage: "refit".into(), skills: vec!["brakes".into()], ..Stage::default() }],
            ..GetJobResponse::default()
        };
        let position = Position { back: "refit".into(), back_by: "Heron".into(), ..Position::default() };
        assert_eq!(offered(&AskedFor::at_position(&position, &whole), &all), ["Flint"]);
    }

    #[test]
    fn a_step_and_a_position_are_told_apart() {
        assert!(matches!(Looked::of("strip:4"), Looked::Step { stage: "strip", step: 4 }));
        for position in ["manifold-nuts", "a:b", ""] {
            assert!(matches!(Looked::of(position), Looked::Position(key) if key == position), "{position}");
        }
    }
}
