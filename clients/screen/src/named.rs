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

/// What keys of one job are called, by the kind that they are of.
#[derive(Debug, Default)]
struct Names(HashMap<String, Vec<(&'static str, String)>>);

/// The sentences that answer a form, with the names of its job. Where they can't be looked up the keys stay.
pub async fn named(visitor: &Visitor, fields: &Fields, sentences: Vec<String>, t: &Texts) -> Vec<String> {
    let Some(signed) = visitor.signed.as_ref().filter(|_| sentences.iter().any(|one| one.contains('\''))) else {
        return sentences;
    };
    let names = match fields.number("job") {
        Ok(job) if job > 0 => Names::load(&signed.client, job).await,
        _ => Names::default(),
    };
    let mut names = names;
    names.add("item", fields.text("item"), fields.text("name"));
    sentences.iter().map(|one| names.put(one, t)).collect()
}

impl Names {
    async fn load(client: &Client, job: i64) -> Self {
        let (whole, strip, readings) = tokio::join!(
            client.get_job(GetJobRequest { job }),
            client.get_strip(GetStripRequest { job, ..GetStripRequest::default() }),
            client.get_readings(GetReadingsRequest { job }),
        );
        Self::of(&whole.unwrap_or_default(), &strip.unwrap_or_default(), &readings.unwrap_or_default())
    }

    /// What the job calls its stages, positions, readings, fluids and goods.
    fn of(whole: &GetJobResponse, strip: &GetStripResponse, readings: &GetReadingsResponse) -> Self {
        let mut names = Self::default();
        for stage in &whole.stages {
            names.add("stage", &stage.stage, &stage.title);
        }
        for position in &strip.positions {
            names.add("position", &position.position, &position.what);
        }
        for reading in &readings.readings {
            names.add("reading", &reading.reading, &reading.what);
        }
        for fluid in &whole.fluids {
            names.add("fluid", &fluid.fluid, &fluid.what);
        }
        for need in whole.stages.iter().flat_map(|stage| &stage.steps).flat_map(|step| &step.needs) {
            names.add("item", &need.item, &need.name);
        }
        names
    }

    fn add(&mut self, kind: &'static str, key: &str, name: &str) {
        let own = self.0.entry(key.to_owned()).or_default();
        if !name.is_empty() && !own.iter().any(|(_, known)| known == name) {
            own.push((kind, name.to_owned()));
        }
    }

    /// What a key is called behind these words. One that several kinds have goes by the kind that stands before it, and stays
    /// a key where none does.
    fn find(&self, key: &str, before: &str) -> Option<String> {
        let own = self.0.get(key)?;
        let said = own.iter().find(|(kind, _)| before.trim_end().ends_with(kind));
        let (_, name) = said.or_else(|| own.first().filter(|_| own.len() == 1))?;
        Some(name.clone())
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
            let name = self.find(key, parts[at]).or_else(|| state(key, t)).filter(|_| closed);
            if let Some(name) = name {
                told.push_str(&t.fill("quoted", "what", &name));
                at += 2;
            } else {
                told.push('\'');
                at += 1;
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
        let on = Stage { stage: "cover".into(), title: "Cover on".into(), ..Stage::default() };
        let cover = Position { position: "cover".into(), what: "Cam cover".into(), ..Position::default() };
        let nuts = Position { position: "manifold-nuts".into(), what: "Manifold nuts".into(), ..Position::default() };
        let whole = GetJobResponse { stages: vec![stage, on], ..GetJobResponse::default() };
        let strip = GetStripResponse { positions: vec![nuts, cover], ..GetStripResponse::default() };
        let said = Names::of(&whole, &strip, &GetReadingsResponse::default()).put(sentence, &Texts::of("en-GB"));
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
    fn a_key_of_two_kinds_is_told_by_the_kind_before_it_or_stays() {
        assert_eq!(put("stage 'cover' comes after 'strip'"), "stage “Cover on” comes after “Strip the top”");
        assert_eq!(put("'cover' is behind 'manifold-nuts'"), "'cover' is behind “Manifold nuts”");
    }

    #[test]
    fn an_apostrophe_is_no_mark_around_a_key() {
        assert_eq!(put("it can't go: 'strip' isn't done"), "it can't go: “Strip the top” isn't done");
        for whole in ["the lead's word", "nobody's 'x", "'", "", "can't 'strip", "don't say 'no-such' here"] {
            assert_eq!(put(whole), whole);
        }
    }
}
