//! Values that many streams follow and one task each keeps up to date, as long as anybody does.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::watch::{Receiver, Sender, channel};

type Known<K, V> = Arc<Mutex<HashMap<K, Sender<V>>>>;

/// Values by key.
pub struct Shared<K, V>(Known<K, V>);

impl<K, V> Default for Shared<K, V> {
    fn default() -> Self {
        Self(Arc::default())
    }
}

/// A value in the hands of the task that keeps it. However the task ends, be it by a panic, the
/// value is forgotten with it: whoever follows it learns that, and the next one starts a new task.
pub struct Keeper<K: Copy + Eq + Hash, V> {
    known: Known<K, V>,
    key: K,
    sender: Sender<V>,
}

impl<K: Copy + Eq + Hash, V> Shared<K, V> {
    /// Follows a value. Whoever is the first brings its first value and starts its task.
    pub fn follow(&self, key: K, first: impl FnOnce() -> V, start: impl FnOnce(Keeper<K, V>)) -> Receiver<V> {
        let mut known = lock(&self.0);
        if let Some(sender) = known.get(&key) {
            return sender.subscribe();
        }
        let (sender, receiver) = channel(first());
        known.insert(key, sender.clone());
        drop(known);
        start(Keeper { known: self.0.clone(), key, sender });
        receiver
    }
}

impl<K: Copy + Eq + Hash, V> Keeper<K, V> {
    /// Where the value is written.
    pub fn sender(&self) -> &Sender<V> {
        &self.sender
    }

    /// Forgets a value that nobody follows any more; its task ends then.
    pub fn forget_unfollowed(&self) -> bool {
        // Nobody can begin to follow while the lock is held.
        let mut known = lock(&self.known);
        let alone = self.sender.receiver_count() == 0;
        if alone {
            self.forget(&mut known);
        }
        alone
    }

    /// The entry of another task, started since, is left alone.
    fn forget(&self, known: &mut HashMap<K, Sender<V>>) {
        if known.get(&self.key).is_some_and(|sender| sender.same_channel(&self.sender)) {
            known.remove(&self.key);
        }
    }
}

impl<K: Copy + Eq + Hash, V> Drop for Keeper<K, V> {
    fn drop(&mut self) {
        self.forget(&mut lock(&self.known));
    }
}

fn lock<K, V>(known: &Known<K, V>) -> MutexGuard<'_, HashMap<K, Sender<V>>> {
    known.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_follower_starts_the_task_and_the_last_one_ends_it() {
        let shared: Shared<u8, i32> = Shared::default();
        let mut started = Vec::new();
        let first = shared.follow(1, || 7, |keeper| started.push(keeper));
        let second = shared.follow(1, || 8, |keeper| started.push(keeper));
        assert_eq!((started.len(), *first.borrow(), *second.borrow()), (1, 7, 7));
        drop(first);
        assert!(!started[0].forget_unfollowed());
        drop(second);
        assert!(started[0].forget_unfollowed());
        let third = shared.follow(1, || 9, |keeper| started.push(keeper));
        assert_eq!((started.len(), *third.borrow()), (2, 9));
        // The end of the first task takes nothing away from the second.
        drop(started.remove(0));
        let fourth = shared.follow(1, || 10, |keeper| started.push(keeper));
        assert_eq!((started.len(), *fourth.borrow()), (1, 9));
    }

    #[tokio::test]
    async fn a_task_that_panics_lets_its_followers_know_and_the_next_one_starts_another() {
        let shared: Shared<u8, i32> = Shared::default();
        let task = |keeper: Keeper<u8, i32>| {
            tokio::spawn(async move {
                keeper.sender().send_replace(8);
                // The followers are heard to the end before the task breaks.
                keeper.sender().closed().await;
            });
        };
        let broken = |keeper: Keeper<u8, i32>| {
            tokio::spawn(async move {
                assert_eq!(keeper.sender().receiver_count(), 0, "this task is to break while it is followed");
            });
        };
        let mut followers = [shared.follow(1, || 7, broken), shared.follow(1, || 7, broken)];
        for follower in &mut followers {
            assert!(follower.changed().await.is_err(), "a follower of a broken task waits for ever");
        }
        let mut next = shared.follow(1, || 7, task);
        next.changed().await.unwrap();
        assert_eq!(*next.borrow(), 8);
    }
}
