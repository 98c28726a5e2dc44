//! When segments of the index are merged in the background.

use std::pin::Pin;
use std::sync::{Mutex, PoisonError};
use std::task::{Context, Poll, Waker};

use tantivy::index::SegmentMeta;
use tantivy::indexer::{LogMergePolicy, MergeCandidate, MergePolicy};
use tantivy::{FutureResult, TantivyError};

/// Segments up to so many records count as alike and are merged when there are eight of them; above that, those count as
/// alike of which the smallest has an eighth of the largest. So a record is written anew a few times, however many
/// are saved one by one; tantivy would take all up to 10,000 as alike and write them anew with every few saves.
const SMALLEST_LAYER: u32 = 128;
const LAYER_LOG: f64 = 3.0;

/// A segment is merged when more than this part of its documents is deleted.
const MOST_DELETED: f32 = 0.3;

/// So many segments may lie side by side while an empty index is filled: a question goes through all of them, and each
/// has seven files. [`crate::Index::compact`] merges them when there is time.
const MOST_WHILE_FILLED: usize = 24;

/// For an index to which little is added at a time.
pub(crate) fn in_layers() -> Box<dyn MergePolicy> {
    let mut policy = LogMergePolicy::default();
    policy.set_min_layer_size(SMALLEST_LAYER);
    policy.set_level_log_size(LAYER_LOG);
    policy.set_del_docs_ratio_before_merge(MOST_DELETED);
    Box::new(policy)
}

/// For an empty index, into which much comes at once.
pub(crate) fn while_filled() -> Box<dyn MergePolicy> {
    let mut policy = LogMergePolicy::default();
    policy.set_del_docs_ratio_before_merge(MOST_DELETED);
    Box::new(WhileFilled(policy))
}

/// Merges nothing as long as records are only added and the segments are not too many.
///
/// Whoever waits for the last record would wait for the merging of the first ones too. Once something is deleted, as
/// when records are put again with their numbers, they are merged as they are otherwise.
#[derive(Debug)]
struct WhileFilled(LogMergePolicy);

impl MergePolicy for WhileFilled {
    fn compute_merge_candidates(&self, segments: &[SegmentMeta]) -> Vec<MergeCandidate> {
        let is_only_filled = segments.iter().all(|segment| segment.num_deleted_docs() == 0);
        if is_only_filled && segments.len() <= MOST_WHILE_FILLED {
            return Vec::new();
        }
        self.0.compute_merge_candidates(segments)
    }
}

/// The merge of all segments that was asked for, until it is known how it ended.
///
/// It fails where some of them were being merged already, or where it can't be written.
#[derive(Default)]
pub(crate) struct Compacting(
    // Never locked: only so that an index may be read by several threads.
    Mutex<Option<FutureResult<Option<SegmentMeta>>>>,
);

/// Why a merge came to nothing.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Failure {
    /// Some of the segments were being merged already and are others now.
    Hindered,
    /// It could not be written, as on a full disk.
    Broken,
}

impl Compacting {
    pub(crate) fn begun(&mut self, merge: FutureResult<Option<SegmentMeta>>) {
        self.0 = Mutex::new(Some(merge));
    }

    /// How it has come to an end without merging, if it has; said once.
    pub(crate) fn failure(&mut self) -> Option<Failure> {
        let begun = self.0.get_mut().unwrap_or_else(PoisonError::into_inner);
        let Poll::Ready(outcome) =
            Future::poll(Pin::new(begun.as_mut()?), &mut Context::from_waker(Waker::noop()))
        else {
            return None;
        };
        *begun = None;
        match outcome {
            Ok(_) => None,
            Err(TantivyError::InvalidArgument(_)) => Some(Failure::Hindered),
            Err(_) => Some(Failure::Broken),
        }
    }
}
