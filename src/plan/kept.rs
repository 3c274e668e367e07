//! What is worked out from something else when it is first asked for, and kept with it.

use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// Holds a value from when it was first asked for. It follows from what it is kept with, so that any two are equal.
#[derive(Debug, Clone)]
pub(super) struct Kept<T>(OnceLock<T>);

impl<T> Kept<T> {
    /// The value; worked out if nobody has asked for it yet.
    pub(super) fn get_or(&self, make: impl FnOnce() -> T) -> &T {
        self.0.get_or_init(make)
    }
}

impl<T> Default for Kept<T> {
    fn default() -> Self {
        Self(OnceLock::new())
    }
}

impl<T> PartialEq for Kept<T> {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

/// Holds what was worked out from the thing that was asked about last: while something is dragged, most things stay as they
/// are.
pub(super) struct KeptLast<K, T>(Mutex<Option<(K, Arc<T>)>>);

impl<K: Clone + PartialEq, T> KeptLast<K, T> {
    /// Nobody has asked yet.
    pub(super) const fn nothing() -> Self {
        Self(Mutex::new(None))
    }

    /// What belongs to a thing; worked out if another one was asked about last.
    pub(super) fn of(&self, of: &K, make: impl FnOnce() -> T) -> Arc<T> {
        // A thread that died while it held the lock left it whole.
        let last = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, known)) = last().as_ref().filter(|known| known.0 == *of) {
            return Arc::clone(known);
        }
        let made = Arc::new(make());
        *last() = Some((of.clone(), Arc::clone(&made)));
        made
    }
}
