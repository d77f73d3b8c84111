//! Randomness for one batch of commands, and the texts sealed with it.

use leadhand_domain::context::Chance;
use leadhand_facts::text::TextBody;
use leadhand_facts::{RequestId, TextId, TextRef};
use sha2::{Digest, Sha256};
use std::fmt::Write;
use uuid::{Builder, Uuid};

/// A source of random bytes; the server and the tests bring one.
pub trait Entropy: Send + Sync {
    /// Fills the buffer.
    fn fill(&self, buffer: &mut [u8]);
}

/// A random UUID.
pub(crate) fn random_id(entropy: &dyn Entropy) -> Uuid {
    let mut bytes = [0; 16];
    entropy.fill(&mut bytes);
    Builder::from_random_bytes(bytes).into_uuid()
}

/// Bytes in hexadecimal.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// Chance for the command of one request.
pub(crate) struct Sealer<'a> {
    entropy: &'a dyn Entropy,
    request: RequestId,
    /// Texts sealed so far, with their words.
    pub(crate) texts: Vec<(TextBody, RequestId)>,
}

impl<'a> Sealer<'a> {
    pub(crate) fn new(entropy: &'a dyn Entropy, request: RequestId) -> Self {
        Self { entropy, request, texts: Vec::new() }
    }
}

impl Chance for Sealer<'_> {
    fn id(&mut self) -> Uuid {
        random_id(self.entropy)
    }

    fn seal(&mut self, words: &str) -> TextRef {
        let mut salt = [0; 16];
        self.entropy.fill(&mut salt);
        let hash = hex(&Sha256::new().chain_update(salt).chain_update(words.as_bytes()).finalize());
        let id = TextId(random_id(self.entropy));
        self.texts.push((TextBody { id, salt: hex(&salt), body: words.to_owned() }, self.request));
        TextRef { id, hash }
    }
}
