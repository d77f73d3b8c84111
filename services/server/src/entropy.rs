//! The one source of randomness. Everything else takes random bytes and ids as arguments.

use rand::Rng;
use uuid::Uuid;

/// The generator of the process: cryptographic, seeded by the system, and seeded again as it goes.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemEntropy;

impl SystemEntropy {
    /// Fills the buffer with random bytes, fit for secrets.
    #[expect(clippy::disallowed_methods, reason = "this is where the real randomness is drawn")]
    pub fn fill(&self, buffer: &mut [u8]) {
        rand::rng().fill_bytes(buffer);
    }

    /// Random bytes, fit for secrets.
    pub fn bytes<const N: usize>(&self) -> [u8; N] {
        let mut bytes = [0; N];
        self.fill(&mut bytes);
        bytes
    }

    /// A random id.
    pub fn uuid(&self) -> Uuid {
        uuid::Builder::from_random_bytes(self.bytes()).into_uuid()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    // RFC 9562, 5.4: version 4, variant 10.
    #[test]
    fn ids_are_random_uuids_and_differ() {
        let ids: BTreeSet<Uuid> = (0..1_000).map(|_| SystemEntropy.uuid()).collect();
        assert_eq!(ids.len(), 1_000);
        assert!(ids.iter().all(|id| id.get_version_num() == 4 && id.get_variant() == uuid::Variant::RFC4122));
    }
}
