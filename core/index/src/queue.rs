//! Records on their way to the threads that write, counted, so that only so many wait there.
//!
//! Tantivy's own queue takes ten thousand documents. They are made faster than they are written, so a first look would
//! fill it, and the memory that they took would stay with the process in pieces.

use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::Duration;

use tantivy::TantivyDocument;
use tantivy::schema::document::Document;

/// How many records may wait: enough that the threads have work while more is read.
const MOST_WAITING: usize = 512;
/// A thread that has failed takes nothing any more; whoever waits for it goes on after so long and is told by tantivy.
const PATIENCE: Duration = Duration::from_secs(10);

/// The records that wait.
#[derive(Debug, Default)]
pub(crate) struct Queue {
    n_waiting: Mutex<usize>,
    taken: Condvar,
}

impl Queue {
    /// Waits until there is room and takes a place for a document.
    pub(crate) fn enter(self: &Arc<Self>, document: TantivyDocument) -> Queued {
        let n_waiting = self.n_waiting.lock().unwrap_or_else(PoisonError::into_inner);
        let waited = self.taken.wait_timeout_while(n_waiting, PATIENCE, |n| MOST_WAITING <= *n);
        let (mut n_waiting, _) = waited.unwrap_or_else(PoisonError::into_inner);
        *n_waiting += 1;
        Queued { document, _place: Place(self.clone()) }
    }
}

/// A document with its place in the queue.
pub(crate) struct Queued {
    document: TantivyDocument,
    _place: Place,
}

/// A place, free again when it is dropped: when a thread takes the document, or the queue is given up.
struct Place(Arc<Queue>);

impl Drop for Place {
    fn drop(&mut self) {
        *self.0.n_waiting.lock().unwrap_or_else(PoisonError::into_inner) -= 1;
        self.0.taken.notify_one();
    }
}

impl Document for Queued {
    type Value<'a> = <TantivyDocument as Document>::Value<'a>;
    type FieldsValuesIter<'a> = <TantivyDocument as Document>::FieldsValuesIter<'a>;

    fn iter_fields_and_values(&self) -> Self::FieldsValuesIter<'_> {
        self.document.iter_fields_and_values()
    }

    fn into_tantivy_document(self) -> TantivyDocument {
        self.document
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc;
    use std::thread;

    use super::*;

    #[test]
    fn who_enters_waits_until_there_is_room() {
        let queue: Arc<Queue> = Arc::default();
        let enter = |queue: &Arc<Queue>| queue.enter(TantivyDocument::default());
        let mut waiting: Vec<Queued> = (0..MOST_WAITING).map(|_| enter(&queue)).collect();
        let (tell, told) = mpsc::channel();
        let other = thread::spawn({
            let queue = queue.clone();
            move || tell.send(enter(&queue)).unwrap()
        });
        // Well within the time after which it would go on by itself.
        assert!(told.recv_timeout(PATIENCE / 200).is_err(), "there was no room");
        let taken = waiting.pop().map(Document::into_tantivy_document);
        assert!(taken.is_some());
        let entered = told.recv_timeout(6 * PATIENCE).unwrap();
        other.join().unwrap();
        drop((entered, waiting));
        assert_eq!(*queue.n_waiting.lock().unwrap(), 0);
    }
}
