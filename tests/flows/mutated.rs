//! Arbitrary bytes, and samples with bytes changed, sent to every method: whatever comes of it, the server is not
//! broken by it, and the books still add up. `LEADHAND_FUZZ_MINUTES` lets it go on by hand.

use crate::raw::{Method, broken, call, methods};
use crate::samples::{Sample, Who, World};
use crate::shop::Shop;
use leadhand_sdk::new_write;
use rand::rngs::StdRng;
use rand::{Rng, RngExt, SeedableRng};
use std::collections::BTreeMap;
use std::time::Duration;
use tokio::time::Instant;
use uuid::Uuid;

/// Cases of an ordinary run.
const CASES: usize = 10_000;
/// So many cases are drawn from one world.
const WORLD: usize = 1_500;

/// How long it goes on beyond the ordinary cases.
fn by_hand() -> Duration {
    let said = std::env::var("LEADHAND_FUZZ_MINUTES").ok();
    Duration::from_mins(said.map_or(0, |said| said.parse().expect("LEADHAND_FUZZ_MINUTES is a number")))
}

/// A sample with a few bytes changed, taken out, put in, doubled or cut off; at times bytes of no sample.
fn mutated(sample: &[u8], random: &mut StdRng) -> Vec<u8> {
    if sample.is_empty() || random.random_ratio(1, 10) {
        let mut bytes = vec![0; random.random_range(0..64)];
        random.fill_bytes(&mut bytes);
        return bytes;
    }
    let mut bytes = sample.to_vec();
    for _ in 0..random.random_range(1..4) {
        let at = random.random_range(0..bytes.len().max(1)).min(bytes.len().saturating_sub(1));
        let byte = random.random_range(0..=255_u8);
        match random.random_range(0..6) {
            _ if bytes.is_empty() => bytes.push(byte),
            0 => bytes[at] = byte,
            1 => bytes[at] ^= 1 << random.random_range(0..8),
            2 => bytes.insert(at, byte),
            3 => drop(bytes.remove(at)),
            4 => bytes.truncate(at),
            _ => bytes.extend_from_within(at..),
        }
    }
    bytes
}

struct Fuzz {
    shop: Shop,
    tokens: [String; 3],
    random: StdRng,
}

impl Fuzz {
    async fn open(seed: u64) -> Self {
        let shop = Shop::open().await;
        let operator = shop.app().issue_operator("Night desk", None).await.unwrap().secret;
        let secrets = [shop.secret().to_owned(), shop.device_secret().await, operator];
        Self { shop, tokens: secrets.map(|secret| format!("Bearer {secret}")), random: StdRng::seed_from_u64(seed) }
    }

    /// One case; what is wrong with its answer, if anything is, and whether it was accepted.
    async fn one(&mut self, method: &Method, sample: &Sample) -> Result<bool, String> {
        let bytes = mutated(&sample.bytes, &mut self.random);
        let who = match sample.who {
            Who::Lead => &self.tokens[0],
            Who::Device => &self.tokens[1],
            Who::Operator => &self.tokens[2],
        };
        match call(&self.shop.lead, &method.path, Some(who), bytes.clone()).await {
            Ok(_) => Ok(true),
            Err(status) if broken(&status) => Err(format!("{} {bytes:?}: {status:?}", method.path)),
            Err(_) => Ok(false),
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn no_bytes_break_the_server() {
    let drawn: Uuid = new_write().request_id.parse().unwrap();
    let seed = drawn.as_u64_pair().0;
    let mut fuzz = Fuzz::open(seed).await;
    let methods = methods();
    let until = Instant::now() + by_hand();
    let (mut cases, mut accepted, mut wrong) = (0, 0, Vec::new());
    let mut samples: BTreeMap<String, Vec<Sample>> = BTreeMap::new();
    while cases < CASES || Instant::now() < until {
        if cases % WORLD == 0 {
            samples.clear();
            for sample in World::make(&fuzz.shop, cases / WORLD + 1).await.samples() {
                samples.entry(sample.input.clone()).or_default().push(sample);
            }
        }
        let method = &methods[cases % methods.len()];
        // A token that is taken away or replaced would end all others.
        let own = ["/RevokeToken", "/RotateToken", "/ForgetPerson"].iter().any(|end| method.path.ends_with(end));
        let of = &samples[&method.input];
        let sample = &of[cases / methods.len() % of.len()];
        cases += 1;
        if own {
            continue;
        }
        match fuzz.one(method, sample).await {
            Ok(taken) => accepted += usize::from(taken),
            Err(why) => wrong.push(why),
        }
    }
    println!("seed {seed}: {cases} cases, {accepted} accepted");
    assert!(wrong.is_empty(), "seed {seed}: {} of {cases} are wrong:\n{}", wrong.len(), wrong.join("\n"));
    assert!(accepted > 0, "nothing was accepted: the samples are no good");
    fuzz.shop.verified().await;
}
