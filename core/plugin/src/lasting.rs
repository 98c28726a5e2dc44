//! Memos that are small and costly enough to outlast a restart.

use std::any::Any;
use std::sync::Arc;

use crate::{Kept, View};

/// A sort of memo that outlasts a restart; a static, since whoever keeps one of its memos can make it again.
///
/// A memo that is made again and has the bytes that it had is the same: who has read it need not be worked out again.
pub struct Lasting<T> {
    /// What it is, as in [`crate::MemoKey`].
    pub what: &'static str,
    /// Works out that of one record, of nothing but its id and the view.
    pub compute: fn(&View, &str) -> T,
    /// Gives its bytes.
    pub to_bytes: fn(&T) -> Vec<u8>,
    /// Makes it of its bytes, equal to what they were given of to the last bit; `None` where they are of something else.
    pub from_bytes: fn(&[u8]) -> Option<T>,
}

/// A [`Lasting`] of whatever type, for who keeps its memos.
pub trait Lasts: Sync {
    /// What it is.
    fn what(&self) -> &'static str;
    /// Works out that of one record.
    fn compute(&self, view: &View, of: &str) -> Kept;
    /// Gives the bytes of one; `None` where it is of another type.
    fn written(&self, kept: &(dyn Any + Send + Sync)) -> Option<Vec<u8>>;
    /// Makes one of its bytes; `None` where they are of something else.
    fn read(&self, bytes: &[u8]) -> Option<Kept>;
}

impl<T: Any + Send + Sync> Lasts for Lasting<T> {
    fn what(&self) -> &'static str {
        self.what
    }

    fn compute(&self, view: &View, of: &str) -> Kept {
        Arc::new((self.compute)(view, of))
    }

    fn written(&self, kept: &(dyn Any + Send + Sync)) -> Option<Vec<u8>> {
        kept.downcast_ref().map(self.to_bytes)
    }

    fn read(&self, bytes: &[u8]) -> Option<Kept> {
        let kept: Kept = Arc::new((self.from_bytes)(bytes)?);
        Some(kept)
    }
}
