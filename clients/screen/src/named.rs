//! Names in the place of the keys that stand quoted in the server's sentences: a command line is typed by keys, and nobody at
//! a bay knows one.

use crate::form::Fields;
use crate::sessions::Visitor;
use crate::texts::Texts;
use leadhand_sdk::Client;
use leadhand_sdk::v1::{
    GetJobRequest, GetJobResponse, GetReadingsRequest, GetReadingsResponse, GetStripRequest, GetStripResponse,
    VehicleState,
};
use std::collections::HashMap;

/// What keys of one job are called.
#[derive(Debug, Default)]
struct Names(HashMap<String, String>);

/// The sentences that answer a form, with the names of its job. Where they can't be looked up the keys stay.
pub async fn named(visitor: &Visitor, fields: &Fields, sentences: Vec<String>, t: &Texts) -> Vec<String> {
    let Some(signed) = visitor.signed.as_ref().filter(|_| sentences.iter().any(|one| one.contains('\''))) else {
        return sentences;
    };
    let names = match fields.number("job") {
        Ok(job) if job > 0 => Names::load(&signed.client, job).await,
        _ => Names::default(),
    };
    sentences.iter().map(|one| names.put(one, t)).collect()
}

impl Names {
    async fn load(client: &Client, job: i64) -> Self {
        let whole = client.get_job(GetJobRequest { job }).await.unwrap_or_default();
        let strip = client.get_strip(GetStripRequest { job, ..GetStripRequest::default() }).await.unwrap_or_default();
        let readings = client.get_readings(GetReadingsRequest { job }).await.unwrap_or_default();
        Self::of(whole, strip, readings)
    }

    /// What the job calls its stages, positions, readings, fluids and goods. Where two are keyed alike the first stands.
    fn of(whole: GetJobResponse, strip: GetStripResponse, readings: GetReadingsResponse) -> Self {
        let mut names = HashMap::new();
        let mut add = |key: &str, name: &str| {
            if !name.is_empty() {
                names.entry(key.to_owned()).or_insert_with(|| name.to_owned());
            }
        };
        for stage in &whole.stages {
            add(&stage.stage, &stage.title);
        }
        for position in &strip.positions {
            add(&position.position, &position.what);
        }
        for reading in &readings.readings {
            add(&reading.reading, &reading.what);
        }
        for fluid in &whole.fluids {
            add(&fluid.fluid, &fluid.what);
        }
        for need in whole.stages.iter().flat_map(|stage| &stage.steps).flat_map(|step| &step.needs) {
            add(&need.item, &need.name);
        }
        Self(names)
    }

    /// A sentence with what the quoted keys in it are called.
    fn put(&self, sentence: &str, t: &Texts) -> String {
        let parts: Vec<&str> = sentence.split('\'').collect();
        let mut told = String::with_capacity(sentence.len());
        let mut at = 0;
        while at < parts.len() {
            told.push_str(parts[at]);
            let Some(key) = parts.get(at + 1) else { break };
            // An apostrophe opens nothing: only what stands whole between two marks is a key.
            let closed = at + 2 < parts.len();
            match self.0.get(*key).cloned().or_else(|| state(key, t)).filter(|_| closed) {
                Some(name) => {
                    told.push_str(&t.fill("quoted", "what", &name));
                    at += 2;
                }
                None => {
                    told.push('\'');
                    at += 1;
                }
            }
        }
        told
    }
}

/// What a state of a vehicle is called: the server's word is `fuel-pressure live`.
fn state(word: &str, t: &Texts) -> Option<String> {
    let name = format!("VEHICLE_STATE_{}", word.to_uppercase().replace(['-', ' '], "_"));
    VehicleState::from_str_name(&name).map(|state| t.word(state.as_str_name()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::{Position, Stage};

    fn put(sentence: &str) -> String {
        let stage = Stage { stage: "strip".into(), title: "Strip the top".into(), ..Stage::default() };
        let nuts = Position { position: "manifold-nuts".into(), what: "Manifold nuts".into(), ..Position::default() };
        let whole = GetJobResponse { stages: vec![stage], ..GetJobResponse::default() };
        let strip = GetStripResponse { positions: vec![nuts], ..GetStripResponse::default() };
        let said = Names::of(whole, strip, GetReadingsResponse::default()).put(sentence, &Texts::of("en-GB"));
        said.replace(['\u{2068}', '\u{2069}'], "")
    }

    #[test]
    fn what_is_quoted_by_its_key_is_told_by_its_name() {
        assert_eq!(
            put("'manifold-nuts' of stage 'strip' is not off, and 'rail' is"),
            "“Manifold nuts” of stage “Strip the top” is not off, and 'rail' is"
        );
        assert_eq!(
            put("step 2 needs 'fuel-pressure relieved' and it is 'fuel-pressure live'"),
            "step 2 needs “fuel pressure let off” and it is “fuel line under pressure”"
        );
    }

    #[test]
    fn an_apostrophe_is_no_mark_around_a_key() {
        assert_eq!(put("it can't go: 'strip' isn't done"), "it can't go: “Strip the top” isn't done");
        for whole in ["the lead's word", "nobody's 'x", "'", "", "can't 'strip", "don't say 'no-such' here"] {
            assert_eq!(put(whole), whole);
        }
    }
}
