//! Values that many streams follow and one task each keeps up to date, as long as anybody does.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Mutex, MutexGuard, PoisonError};
use tokio::sync::watch::{Receiver, Sender, channel};

/// Values by key.
pub struct Shared<K, V>(Mutex<HashMap<K, Sender<V>>>);

impl<K, V> Default for Shared<K, V> {
    fn default() -> Self {
        Self(Mutex::default())
    }
}

impl<K: Copy + Eq + Hash, V: Clone> Shared<K, V> {
    /// Follows a value. Whoever is the first brings its first value and starts its task.
    pub fn follow(&self, key: K, first: impl FnOnce() -> V, start: impl FnOnce(Sender<V>)) -> Receiver<V> {
        let mut known = self.lock();
        if let Some(sender) = known.get(&key) {
            return sender.subscribe();
        }
        let (sender, receiver) = channel(first());
        known.insert(key, sender.clone());
        start(sender);
        receiver
    }

    /// Forgets a value that nobody follows any more; its task ends then.
    pub fn forget_unfollowed(&self, key: K, sender: &Sender<V>) -> bool {
        // Nobody can begin to follow while the lock is held.
        let mut known = self.lock();
        let alone = sender.receiver_count() == 0;
        if alone {
            known.remove(&key);
        }
        alone
    }

    fn lock(&self) -> MutexGuard<'_, HashMap<K, Sender<V>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_follower_starts_the_task_and_the_last_one_ends_it() {
        let shared: Shared<u8, i32> = Shared::default();
        let mut started = Vec::new();
        let first = shared.follow(1, || 7, |sender| started.push(sender));
        let second = shared.follow(1, || 8, |sender| started.push(sender));
        assert_eq!((started.len(), *first.borrow(), *second.borrow()), (1, 7, 7));
        drop(first);
        assert!(!shared.forget_unfollowed(1, &started[0]));
        drop(second);
        assert!(shared.forget_unfollowed(1, &started[0]));
        let third = shared.follow(1, || 9, |sender| started.push(sender));
        assert_eq!((started.len(), *third.borrow()), (2, 9));
    }
}
