//! Two shops on one database: to every request, one is answered as if the other did not exist.

use crate::raw::{call, code, methods};
use crate::samples::{Sample, Who, World};
use crate::shop::Shop;
use leadhand_proto::{DESCRIPTOR_SET, v1};
use leadhand_rpc::Limits;
use leadhand_sdk::new_write;
use prost::Message;
use prost_reflect::{DescriptorPool, DynamicMessage, MessageDescriptor, ReflectMessage, Value};
use std::collections::BTreeMap;
use tonic::{Code, Status};
use uuid::Uuid;

/// The lead of a shop that stands beside another one, and a device there.
struct Neighbour {
    beside: Shop,
    lead: String,
    device: String,
}

impl Neighbour {
    async fn of(beside: Shop) -> Self {
        let lead = beside.neighbour_secret().await;
        let (write, role, label) = (Some(new_write()), v1::Role::Technician.into(), "bay tablet".to_owned());
        let asked = v1::IssueTokenRequest { write, role, label, ..Default::default() };
        let device = beside.with_secret(&lead).issue_token(asked).await.unwrap().secret;
        Self { beside, lead: format!("Bearer {lead}"), device: format!("Bearer {device}") }
    }

    async fn ask(&self, path: &str, sample: &Sample) -> Result<Vec<u8>, Status> {
        let token = if sample.who == Who::Device { &self.device } else { &self.lead };
        call(&self.beside.lead, path, Some(token), sample.bytes.clone()).await
    }
}

/// What an answer says, without what is another each time: ids, secrets and the clock.
struct Seen<'a> {
    pool: &'a DescriptorPool,
    /// The request: whatever it names is kept in the answer.
    asked: &'a [u8],
}

impl Seen<'_> {
    fn of(&self, output: &str, answer: &Result<Vec<u8>, Status>) -> String {
        match answer {
            Err(status) => {
                let details = String::from_utf8_lossy(status.details()).into_owned();
                format!("{:?}: {} {details}", status.code(), status.message())
            }
            Ok(bytes) => {
                let descriptor = self.pool.get_message_by_name(output).unwrap();
                let mut message = DynamicMessage::decode(descriptor, &**bytes).unwrap();
                self.mask(&mut message);
                format!("{message:?}")
            }
        }
    }

    fn mask(&self, message: &mut DynamicMessage) {
        if message.descriptor().full_name() == "google.protobuf.Timestamp" {
            message.clear();
            return;
        }
        let fields: Vec<_> = message.fields().map(|(field, _)| field).collect();
        for field in fields {
            self.mask_value(message.get_field_mut(&field));
        }
    }

    fn mask_value(&self, value: &mut Value) {
        match value {
            Value::Message(inner) => self.mask(inner),
            Value::List(all) => all.iter_mut().for_each(|one| self.mask_value(one)),
            Value::String(said) if self.is_drawn(said) => "drawn".clone_into(said),
            _ => {}
        }
    }

    fn is_drawn(&self, said: &str) -> bool {
        let asked = self.asked.windows(said.len().max(1)).any(|part| part == said.as_bytes());
        !asked && (Uuid::parse_str(said).is_ok() || said.starts_with("lhd_") || is_badge_code(said))
    }
}

/// A badge code: groups of capitals and digits.
fn is_badge_code(said: &str) -> bool {
    said.len() >= 16 && said.chars().all(|sign| sign == '-' || sign.is_ascii_uppercase() || sign.is_ascii_digit())
}

fn outputs(pool: &DescriptorPool) -> BTreeMap<String, MessageDescriptor> {
    let methods = pool.services().flat_map(|service| service.methods().collect::<Vec<_>>());
    methods.map(|method| (method.input().full_name().to_owned(), method.output())).collect()
}

/// Asks both neighbours the same, and gives how many of the answers were not refusals.
async fn compare(near: &Neighbour, far: &Neighbour, samples: &[Sample]) -> usize {
    let pool = DescriptorPool::decode(DESCRIPTOR_SET).unwrap();
    let (outputs, mut accepted) = (outputs(&pool), 0);
    let paths: BTreeMap<String, String> = methods().into_iter().map(|one| (one.input, one.path)).collect();
    let mut left: Vec<&String> = paths.keys().collect();
    for sample in samples.iter().filter(|sample| sample.who != Who::Operator) {
        let path = &paths[&sample.input];
        let seen = Seen { pool: &pool, asked: &sample.bytes };
        let output = outputs[&sample.input].full_name();
        let (one, other) = (near.ask(path, sample).await, far.ask(path, sample).await);
        assert_eq!(seen.of(output, &one), seen.of(output, &other), "{path} tells that somebody is next door");
        accepted += usize::from(code(&one) == Code::Ok);
        left.retain(|input| **input != sample.input);
    }
    let of_shops = |input: &&String| !paths[*input].starts_with("/leadhand.v1.OperatorService/");
    assert_eq!(left.into_iter().filter(of_shops).collect::<Vec<_>>(), Vec::<&String>::new(), "not asked");
    accepted
}

/// Every request that the one shop would have accepted is sent by the other's lead, who thereby names all that
/// is there: jobs, bays, persons, tokens, facts. The answer is, byte for byte, the one that the same lead gets where
/// nobody is next door.
#[tokio::test(flavor = "multi_thread")]
async fn whatever_is_asked_is_answered_as_if_nobody_were_next_door() {
    let shop = Shop::open().await;
    let world = World::make(&shop, 1).await;
    let samples = world.samples();
    let near = Neighbour::of(shop).await;
    let alone = Shop::open_bare("UTC", Limits { failures: u32::MAX, ..Limits::default() }).await;
    let far = Neighbour::of(alone).await;
    let before = near.beside.head().await;
    let accepted = compare(&near, &far, &samples).await;
    println!("{} requests, {accepted} of them not refused to the neighbour", samples.len());
    assert_eq!(near.beside.head().await, before, "the neighbour wrote into a shop that is not its own");
    near.beside.verified().await;
}
