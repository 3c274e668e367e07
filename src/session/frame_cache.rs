//! The frame of the bar as a graph, kept for as long as the bar has the same sections.

use std::cell::RefCell;
use std::sync::Arc;

use crate::plan::{Bar, FrameGraph, Section};

/// Made anew only when sections or their members have changed.
#[derive(Debug, Clone, Default)]
pub(super) struct FrameCache(RefCell<Option<(Vec<Section>, Arc<FrameGraph>)>>);

impl FrameCache {
    pub(super) fn of(&self, bar: &Bar) -> Arc<FrameGraph> {
        let mut kept = self.0.borrow_mut();
        match &*kept {
            Some((sections, frame)) if *sections == bar.sections => Arc::clone(frame),
            _ => {
                let frame = Arc::new(FrameGraph::new(bar));
                *kept = Some((bar.sections.clone(), Arc::clone(&frame)));
                frame
            }
        }
    }
}
