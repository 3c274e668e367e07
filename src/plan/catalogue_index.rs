//! Finds entries of a catalogue by their keys without walking through all of it.

use super::catalogue::{Catalogue, EntryKey, Item};

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

    /// What an entry describes.
    pub fn item(&self, key: &EntryKey) -> Option<&'a Item> {
        let at = self.0.partition_point(|(known, _)| *known < key);
        self.0.get(at).filter(|(known, _)| *known == key).map(|(_, item)| *item)
    }
}
