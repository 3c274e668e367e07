//! What is worked out from something else when it is first asked for, and kept with it.

use std::sync::OnceLock;

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
