//! The index itself: opening and making it, putting records in, and committing.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use tantivy::directory::RamDirectory;
use tantivy::index::SegmentComponent;
use tantivy::indexer::IndexWriterOptions;
use tantivy::{IndexReader, IndexSettings, IndexWriter, ReloadPolicy, TantivyError, Term};
use taperbook_plugin::NumberSpec;

use crate::directory::{self, PlainDirectory};
use crate::document::{Document, Ready};
use crate::merging::{self, Compacting, Failure};
use crate::queue::{Queue, Queued};
use crate::schema::{self, Fields};
use crate::{IndexError, Searcher, seal};

/// What the plugins add to what can be asked for, from their manifests.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Catalogue {
    /// The numbers.
    pub numbers: Vec<NumberSpec>,
    /// The names of the flags.
    pub flags: Vec<String>,
}

/// The index and its one writer.
///
/// The index is derived from the records and may be deleted at any time.
pub struct Index {
    index: tantivy::Index,
    reader: IndexReader,
    /// Where it is, unless it is in memory.
    place: Option<PlainDirectory>,
    /// Started by the first change, so that asking alone starts no thread and takes no lock.
    writer: Option<IndexWriter<Queued>>,
    queue: Arc<Queue>,
    /// How many threads the writer has.
    n_threads: usize,
    /// Whether something was queued since the last commit.
    is_queued: bool,
    compacting: Compacting,
    fields: Fields,
    catalogue: Arc<Catalogue>,
    /// The first line of the payload: what the index was made by and for.
    header: String,
    payload: String,
    searcher: Searcher,
    /// Whether it was written to, so that it has no seal.
    is_unsealed: bool,
    /// Whether something went wrong, so that it gets none: whoever opens it next reads all of it.
    is_doubtful: bool,
}

/// Memory for each of the threads that write, before they write a segment out. With less, tantivy refuses to; with
/// more, the table of words that each commit goes through is twice as large.
const THREAD_MEMORY: usize = 15_000_000;
/// The same for an empty index, into which much will come.
const THREAD_MEMORY_AT_FIRST: usize = 20_000_000;

/// How many blocks of stored text, of 16 KiB each, a segment keeps unpacked for the next hits.
const CACHED_BLOCKS: usize = 16;

/// What is put into an empty index is much and comes at once. Later on it is little, and what one thread writes is one
/// segment where two would make two of it, all of which every later commit goes through.
const THREADS_AT_FIRST: usize = 2;
const THREADS: usize = 1;

impl Index {
    /// Opens the index in a directory; `None` makes an empty one in memory.
    ///
    /// # Errors
    /// [`IndexError::Unusable`] when there is none, or it is damaged, or made by another version or for other plugins:
    /// [`Index::create`] makes a new one in its place.
    ///
    /// Where it was not closed in good order, or was touched since, all of it is read and its checksums are compared.
    pub fn open(dir: Option<&Path>, catalogue: Catalogue) -> Result<Self, IndexError> {
        let Some(dir) = dir else { return Self::create(None, catalogue) };
        if !dir.join("meta.json").is_file() {
            return Err(IndexError::Unusable {
                why: format!("there is none in `{}`", dir.display()),
            });
        }
        let place = PlainDirectory::at(dir);
        let index = tantivy::Index::open(place.clone()).map_err(unusable)?;
        let (ours, _) = schema::schema();
        if index.schema() != ours {
            return Err(other_version());
        }
        let payload = index.load_metas().map_err(unusable)?.payload.unwrap_or_default();
        let header = schema::header(&catalogue);
        let Some(payload) = payload.strip_prefix(&header) else { return Err(other_version()) };
        let payload = payload.to_owned();
        let segments = segments(&index).map_err(unusable)?;
        let is_whole = seal::is_whole(dir, &segments);
        if !is_whole {
            verify(&index)?;
        }
        let mut index = Self::from_tantivy(index, Some(place), catalogue, payload)?;
        index.is_unsealed = !is_whole;
        Ok(index)
    }

    /// Makes an empty index in a directory, in place of the one that may be there; `None` makes it in memory.
    ///
    /// Files in the directory that are no part of an index stay.
    ///
    /// # Errors
    /// When the directory can't be written.
    pub fn create(dir: Option<&Path>, catalogue: Catalogue) -> Result<Self, IndexError> {
        let doing = "making a new index";
        let (schema, _) = schema::schema();
        let builder = tantivy::Index::builder().schema(schema).settings(settings());
        let place = dir.map(PlainDirectory::at);
        let index = match (dir, &place) {
            (Some(dir), Some(place)) => {
                directory::clear(dir)
                    .map_err(|error| IndexError::failed(Some(dir), doing, error))?;
                builder.open_or_create(place.clone())
            }
            _ => builder.open_or_create(RamDirectory::create()),
        };
        let index = index.map_err(|error| IndexError::failed(dir, doing, error))?;
        let mut made = Self::from_tantivy(index, place, catalogue, String::new())?;
        // The first commit writes the header, without which the index would be taken for another version's.
        made.commit("")?;
        Ok(made)
    }

    fn from_tantivy(
        index: tantivy::Index,
        place: Option<PlainDirectory>,
        catalogue: Catalogue,
        payload: String,
    ) -> Result<Self, IndexError> {
        schema::register_tokenizers(&index);
        let (_, fields) = schema::schema();
        let reader: IndexReader = index
            .reader_builder()
            .reload_policy(ReloadPolicy::Manual)
            .doc_store_cache_num_blocks(CACHED_BLOCKS)
            .try_into()
            .map_err(unusable)?;
        let header = schema::header(&catalogue);
        let catalogue = Arc::new(catalogue);
        let searcher = Searcher::new(reader.searcher(), fields, Arc::clone(&catalogue));
        Ok(Self {
            index,
            reader,
            place,
            writer: None,
            queue: Arc::default(),
            n_threads: 0,
            is_queued: false,
            compacting: Compacting::default(),
            fields,
            catalogue,
            header,
            payload,
            searcher,
            is_unsealed: false,
            is_doubtful: false,
        })
    }

    /// Queues a record; it takes the place of one with the same id. Nothing of it is found before the commit.
    ///
    /// # Errors
    /// When the writer has failed; the queue is lost then, and the index is as at the last commit.
    pub fn put(&mut self, document: &Document) -> Result<(), IndexError> {
        let ready = self.ready(document);
        self.put_ready(ready)
    }

    /// Makes a record ready to be put in, which may be done on several threads at once.
    #[must_use]
    pub fn ready(&self, document: &Document) -> Ready {
        Ready::new(document, &self.fields, &self.catalogue)
    }

    /// Queues a record that was made ready for this index, as [`Index::put`] does.
    ///
    /// # Errors
    /// As [`Index::put`].
    pub fn put_ready(&mut self, ready: Ready) -> Result<(), IndexError> {
        let id = Term::from_field_text(self.fields.id, &ready.id);
        self.writer()?.delete_term(id);
        self.add_ready(ready)
    }

    /// Queues a record that was made ready for this index, which must have none with this id, committed or queued:
    /// there would be two of them.
    ///
    /// # Errors
    /// As [`Index::put`].
    pub fn add_ready(&mut self, ready: Ready) -> Result<(), IndexError> {
        let queued = self.queue.enter(ready.document);
        let added = self.writer()?.add_document(queued);
        self.is_queued = true;
        self.keep_writer_if(added.map(|_| ()), "putting a record into the index")
    }

    /// Queues the removal of a record; nothing happens when there is none with this id.
    ///
    /// # Errors
    /// As [`Index::put`].
    pub fn remove(&mut self, id: &str) -> Result<(), IndexError> {
        let id = Term::from_field_text(self.fields.id, id);
        self.writer()?.delete_term(id);
        self.is_queued = true;
        Ok(())
    }

    /// Makes all that was queued searchable, together with a payload of the caller's.
    ///
    /// # Errors
    /// When the index can't be written; the queue is lost then, and the index is as at the last commit.
    pub fn commit(&mut self, payload: &str) -> Result<Searcher, IndexError> {
        let whole = format!("{}{payload}", self.header);
        let writer = self.writer()?;
        let committed = writer.prepare_commit().and_then(|mut prepared| {
            prepared.set_payload(&whole);
            prepared.commit()
        });
        let reloaded = committed.and_then(|_| self.reader.reload());
        self.is_queued = false;
        self.keep_writer_if(reloaded, "committing to the index")?;
        payload.clone_into(&mut self.payload);
        self.searcher =
            Searcher::new(self.reader.searcher(), self.fields, Arc::clone(&self.catalogue));
        Ok(self.searcher.clone())
    }

    /// Waits until the segments that are being merged in the background are merged; for measuring, and before a long rest.
    ///
    /// # Errors
    /// When merging fails.
    pub fn settle(&mut self) -> Result<Searcher, IndexError> {
        let doing = "merging the index";
        if let Some(writer) = self.writer.take() {
            writer.wait_merging_threads().map_err(|error| self.failed(doing, error))?;
        }
        self.reload(doing)
    }

    /// Takes up the segments as they are on the disk.
    fn reload(&mut self, doing: &'static str) -> Result<Searcher, IndexError> {
        self.reader.reload().map_err(|error| self.failed(doing, error))?;
        self.searcher =
            Searcher::new(self.reader.searcher(), self.fields, Arc::clone(&self.catalogue));
        Ok(self.searcher.clone())
    }

    /// Takes up what was merged in the background since the last commit; `None` where nothing was.
    ///
    /// A searcher holds the words and columns of its segments in memory, also of those that were merged since.
    ///
    /// # Errors
    /// When the index can't be read; the searcher stays.
    pub fn refresh(&mut self) -> Result<Option<Searcher>, IndexError> {
        let doing = "taking up what was merged";
        let merged = segments(&self.index).map_err(|error| self.failed(doing, error))?;
        if merged == self.searcher.segments() {
            // The next change starts one with fewer threads.
            if THREADS < self.n_threads && !self.is_queued {
                self.writer = None;
            }
            match self.compacting.failure() {
                None => {}
                Some(Failure::Hindered) => self.compact()?,
                Some(Failure::Broken) => self.writer.iter().for_each(give_room_back),
            }
            return Ok(None);
        }
        self.reload(doing).map(Some)
    }

    /// Begins to merge all segments into one, in the background; [`Index::refresh`] takes it up, and begins again where
    /// some of them were being merged already. While something is queued nothing is done, nor where the disk has no room
    /// for it: what it took then nobody else could write.
    ///
    /// # Errors
    /// When the index can't be read or written.
    pub fn compact(&mut self) -> Result<(), IndexError> {
        // What is queued would be lost with a writer that is given up.
        if self.is_queued || self.searcher.segments().len() <= 1 {
            return Ok(());
        }
        if !self.place.as_ref().is_none_or(PlainDirectory::has_room_for_a_copy) {
            return Ok(());
        }
        if THREADS < self.n_threads {
            self.writer = None;
        }
        self.writer()?;
        // Asked for only now: a writer that was given up may have ended a merge just before.
        let segments = self.index.searchable_segment_ids();
        let segments = segments.map_err(|error| self.failed("merging the index", error))?;
        let merging = self.writer()?.merge(&segments);
        self.compacting.begun(merging);
        Ok(())
    }

    /// Gives how many segments the searcher has.
    #[must_use]
    pub fn n_segments(&self) -> usize {
        self.searcher.segments().len()
    }

    /// Gives the payload of the last commit; empty for a new index.
    #[must_use]
    pub fn payload(&self) -> &str {
        &self.payload
    }

    /// Gives the index as at the last commit.
    #[must_use]
    pub fn searcher(&self) -> Searcher {
        self.searcher.clone()
    }

    /// Reads every file and compares checksums; opening does so where it has a reason to.
    ///
    /// # Errors
    /// [`IndexError::Unusable`] when a file is damaged or can't be read.
    pub fn verify(&self) -> Result<(), IndexError> {
        verify(&self.index)
    }

    /// Whether none of the files that it reads was written to by somebody else.
    ///
    /// It asks the system about open files and reads nothing, so it may come before every answer.
    #[must_use]
    pub fn is_intact(&self) -> bool {
        self.place.as_ref().is_none_or(PlainDirectory::is_intact)
    }

    fn writer(&mut self) -> Result<&mut IndexWriter<Queued>, IndexError> {
        let writer = match self.writer.take() {
            Some(writer) => writer,
            None => {
                let doing = "starting to write the index";
                if let Some(place) = &self.place {
                    seal::remove(place.root()).map_err(|error| self.failed(doing, error))?;
                }
                self.is_unsealed = true;
                let is_empty = self.searcher.count() == 0;
                self.n_threads = if is_empty { THREADS_AT_FIRST } else { THREADS };
                start_writer(&self.index, self.n_threads)
                    .map_err(|error| self.failed(doing, error))?
            }
        };
        Ok(self.writer.insert(writer))
    }

    fn failed(
        &self,
        doing: &'static str,
        error: impl std::error::Error + Send + Sync + 'static,
    ) -> IndexError {
        IndexError::failed(self.place.as_ref().map(PlainDirectory::root), doing, error)
    }

    /// Gives up a writer that failed, because it refuses everything from then on; the next change starts another.
    fn keep_writer_if(
        &mut self,
        outcome: Result<(), TantivyError>,
        doing: &'static str,
    ) -> Result<(), IndexError> {
        outcome.map_err(|error| {
            self.writer = None;
            self.is_doubtful = true;
            self.failed(doing, error)
        })
    }
}

impl Drop for Index {
    /// Seals what is closed in good order.
    fn drop(&mut self) {
        let Some(place) = self.place.as_ref().filter(|_| self.is_unsealed && !self.is_doubtful)
        else {
            return;
        };
        // The writer's threads end here; what they would still write breaks the seal, which costs a verification.
        self.writer = None;
        // An index without a seal is verified when it is opened, so nothing is lost where this fails.
        let _ = segments(&self.index)
            .map_err(std::io::Error::other)
            .and_then(|segments| seal::set(place.root(), &segments));
    }
}

/// The names that the files of the index begin with.
fn segments(index: &tantivy::Index) -> tantivy::Result<BTreeSet<String>> {
    let segments = index.load_metas()?.segments;
    Ok(segments.iter().map(|segment| segment.id().uuid_string()).collect())
}

fn verify(index: &tantivy::Index) -> Result<(), IndexError> {
    let segments = index.searchable_segments().map_err(unusable)?;
    // Of a file that is not there no checksum is read, and tantivy takes one without positions for whole.
    let missing = segments.iter().map(|segment| segment.open_read(SegmentComponent::Positions));
    missing.collect::<Result<Vec<_>, _>>().map_err(|error| unusable(error.into()))?;
    let mut damaged: Vec<PathBuf> =
        index.validate_checksum().map_err(unusable)?.into_iter().collect();
    damaged.sort_unstable();
    match damaged.first() {
        None => Ok(()),
        Some(first) => Err(IndexError::Unusable {
            why: format!(
                "{} of its files are damaged, the first is `{}`",
                damaged.len(),
                first.display()
            ),
        }),
    }
}

fn start_writer(index: &tantivy::Index, n_threads: usize) -> tantivy::Result<IndexWriter<Queued>> {
    let memory = if n_threads == THREADS { THREAD_MEMORY } else { THREAD_MEMORY_AT_FIRST };
    let options = IndexWriterOptions::builder()
        .num_worker_threads(n_threads)
        .memory_budget_per_thread(memory)
        .num_merge_threads(1)
        .build();
    let writer: IndexWriter<Queued> = index.writer_with_options(options)?;
    writer.set_merge_policy(if n_threads == THREADS {
        merging::in_layers()
    } else {
        merging::while_filled()
    });
    give_room_back(&writer);
    Ok(writer)
}

/// Deletes what merges that were broken off have left.
///
/// A commit does so too, but only after it has written something, for which there may be no room.
fn give_room_back(writer: &IndexWriter<Queued>) {
    // What stays only takes room, and the next commit tries again.
    let _ = writer.garbage_collect_files().wait();
}

/// Segments of a save are small: a thread of its own for compressing their text costs more than it saves.
fn settings() -> IndexSettings {
    IndexSettings { docstore_compress_dedicated_thread: false, ..IndexSettings::default() }
}

fn other_version() -> IndexError {
    IndexError::Unusable { why: "it was made by another version or for other plugins".to_owned() }
}

/// An index that can't be opened is made again, unless what stands in the way would stop that as well.
fn unusable(error: TantivyError) -> IndexError {
    IndexError::Unusable { why: error.to_string() }
}

#[cfg(test)]
mod tests {
    use std::time::{Duration, Instant};

    use tantivy::TantivyDocument;

    use super::*;

    #[test]
    fn a_merge_of_all_that_failed_is_begun_again() {
        let mut index = Index::create(None, Catalogue::default()).unwrap();
        for id in ["a", "b", "c"] {
            let mut document = TantivyDocument::default();
            document.add_text(index.fields.id, id);
            index.add_ready(Ready { id: id.to_owned(), document }).unwrap();
            index.commit("").unwrap();
        }
        let n_segments = |index: &Index| index.searcher().segments().len();
        index.refresh().unwrap();
        assert_eq!(n_segments(&index), 3, "nobody has asked for it");
        index.compacting.begun(TantivyError::Poisoned.into());
        index.refresh().unwrap();
        assert_eq!(index.settle().unwrap().segments().len(), 3, "no disk is filled once more");
        index.compacting.begun(TantivyError::InvalidArgument(String::new()).into());
        let deadline = Instant::now() + Duration::from_secs(120);
        while n_segments(&index) != 1 {
            assert!(Instant::now() < deadline, "it was not begun again");
            index.refresh().unwrap();
            std::thread::yield_now();
        }
        assert_eq!(index.searcher().count(), 3);
        index.refresh().unwrap();
        assert_eq!(index.compacting.failure(), None);
    }
}
