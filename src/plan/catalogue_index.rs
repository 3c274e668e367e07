//! Finds entries of a catalogue by their keys without walking through all of it.

use super::catalogue::{Catalogue, EntryKey, Key};
use super::kinds::Item;

/// A catalogue sorted by keys.
#[derive(Debug, Clone)]
pub struct CatalogueIndex<'a>(Vec<(&'a EntryKey, &'a Item)>);

impl<'a> CatalogueIndex<'a> {
    /// Sorts a catalogue's entries; an index may be used for as long as the catalogue stays as it is.
    pub fn new(catalogue: &'a Catalogue) -> Self {
        let mut items: Vec<_> = catalogue.entries.iter().map(|entry| (&entry.key, &entry.item)).collect();
        items.sort_by(|a, b| a.0.cmp(b.0));
        Self(items)
    }

    /// What an entry describes, by a key of its role.
    pub fn item<K: Key>(&self, key: &K) -> Option<&'a K::Item> {
        let key = key.any();
        let at = self.0.partition_point(|(known, _)| *known < key);
        self.0.get(at).filter(|(known, _)| *known == key).and_then(|(_, item)| K::narrow(item))
    }
}
