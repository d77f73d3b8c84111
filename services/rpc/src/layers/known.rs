//! Who was let in a moment ago, for calls whose token is judged once more anyway: the writer looks at it under the lock of
//! the shop's head, by what the commands before it left. So a write needs no look at the database of its own.

use leadhand_app::access::Holder;
use prost::Message;
use std::collections::{HashMap, HashSet};
use std::sync::LazyLock;
use std::time::Duration;
use tokio::time::Instant;

/// A token that was looked at this long ago is known.
const KNOWN_FOR: Duration = Duration::from_secs(1);
/// Tokens that are known at a time.
const MOST: usize = 10_000;
/// What every request of the contract has that goes through a shop's writer.
const WRITE: &str = ".leadhand.v1.WriteContext";
/// Operators stand outside of shops, and no writer judges their tokens.
const OUTSIDE: &str = "OperatorService";

/// Paths whose requests go through a shop's writer, as the contract says.
static WRITES: LazyLock<HashSet<String>> = LazyLock::new(|| {
    let set = prost_types::FileDescriptorSet::decode(leadhand_proto::DESCRIPTOR_SET).unwrap_or_default();
    let mut writes = HashSet::new();
    let messages = set.file.iter().flat_map(|file| &file.message_type);
    let asking: HashSet<&str> = messages
        .filter(|message| message.field.iter().any(|field| field.name() == "write" && field.type_name() == WRITE))
        .map(prost_types::DescriptorProto::name)
        .collect();
    for (file, service) in set.file.iter().flat_map(|file| file.service.iter().map(move |service| (file, service))) {
        let asks = |method: &&prost_types::MethodDescriptorProto| {
            method.input_type().rsplit('.').next().is_some_and(|input| asking.contains(input))
        };
        for method in service.method.iter().filter(asks).filter(|_| service.name() != OUTSIDE) {
            writes.insert(format!("/{}.{}/{}", file.package(), service.name(), method.name()));
        }
    }
    writes
});

/// Tokens of shops that were let in a moment ago, by their hashes.
#[derive(Default)]
pub(super) struct Known {
    by_hash: HashMap<String, (Holder, Instant)>,
}

impl Known {
    /// Whether a path's calls are judged by the writer as well.
    pub(super) fn judged_again(path: &str) -> bool {
        WRITES.contains(path)
    }

    /// Who it was.
    pub(super) fn get(&self, now: Instant, hash: &str) -> Option<Holder> {
        let (holder, at) = self.by_hash.get(hash)?;
        (now.saturating_duration_since(*at) < KNOWN_FOR).then_some(*holder)
    }

    /// Keeps who it is.
    pub(super) fn keep(&mut self, now: Instant, hash: &str, holder: Holder) {
        if self.by_hash.len() >= MOST {
            self.by_hash.retain(|_, (_, at)| now.saturating_duration_since(*at) < KNOWN_FOR);
            if self.by_hash.len() >= MOST {
                return;
            }
        }
        self.by_hash.insert(hash.to_owned(), (holder, now));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_app::access::Operator;
    use leadhand_facts::PrincipalId;

    #[test]
    fn writes_of_shops_are_judged_again_and_nothing_else_is() {
        for path in ["/leadhand.v1.StockService/ReserveStock", "/leadhand.v1.ShopService/IssueToken"] {
            assert!(Known::judged_again(path), "{path}");
        }
        for path in [
            "/leadhand.v1.BoardService/GetBoard",
            "/leadhand.v1.ShopService/WhoAmI",
            "/leadhand.v1.OperatorService/OpenShop",
            "/leadhand.v1.StockService/CheckStockImport",
        ] {
            assert!(!Known::judged_again(path), "{path}");
        }
    }

    #[tokio::test(start_paused = true)]
    async fn who_was_let_in_is_known_for_a_moment_only() {
        let mut known = Known::default();
        let holder = Holder::Operator(Operator { operator: PrincipalId(uuid::Uuid::nil()) });
        known.keep(Instant::now(), "hash", holder);
        assert_eq!(known.get(Instant::now(), "hash"), Some(holder));
        assert_eq!(known.get(Instant::now(), "another"), None);
        tokio::time::advance(KNOWN_FOR).await;
        assert_eq!(known.get(Instant::now(), "hash"), None);
    }
}
