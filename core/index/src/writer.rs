//! The index itself: opening and making it, putting records in, and committing.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use tantivy::directory::RamDirectory;
use tantivy::indexer::{IndexWriterOptions, LogMergePolicy};
use tantivy::{IndexReader, IndexSettings, IndexWriter, ReloadPolicy, TantivyError, Term};
use taperbook_plugin::NumberSpec;

use crate::directory::{self, UnsyncedDirectory};
use crate::document::{self, Document};
use crate::schema::{self, Fields};
use crate::{IndexError, Searcher};

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
    /// Started by the first change, so that asking alone starts no thread and takes no lock.
    writer: Option<IndexWriter>,
    fields: Fields,
    catalogue: Arc<Catalogue>,
    /// The first line of the payload: what the index was made by and for.
    header: String,
    payload: String,
    searcher: Searcher,
}

/// Memory for each of the two threads that write, before they write a segment out.
const THREAD_MEMORY: usize = 20_000_000;

/// How many blocks of stored text, of 16 KiB each, a segment keeps unpacked for the next hits.
const CACHED_BLOCKS: usize = 16;

/// A segment is merged when more than this part of its documents is deleted.
const MOST_DELETED: f32 = 0.3;

impl Index {
    /// Opens the index in a directory; `None` makes an empty one in memory.
    ///
    /// # Errors
    /// [`IndexError::Unusable`] when there is none, or it is damaged, or made by another version or for other plugins:
    /// [`Index::create`] makes a new one in its place.
    pub fn open(dir: Option<&Path>, catalogue: Catalogue) -> Result<Self, IndexError> {
        let Some(dir) = dir else { return Self::create(None, catalogue) };
        if !dir.join("meta.json").is_file() {
            return Err(IndexError::Unusable {
                why: format!("there is none in `{}`", dir.display()),
            });
        }
        let directory = UnsyncedDirectory::open(dir).map_err(|error| unusable(error.into()))?;
        let index = tantivy::Index::open(directory).map_err(unusable)?;
        let (ours, _) = schema::schema();
        if index.schema() != ours {
            return Err(other_version());
        }
        let payload = index.load_metas().map_err(unusable)?.payload.unwrap_or_default();
        let header = schema::header(&catalogue);
        let Some(payload) = payload.strip_prefix(&header) else { return Err(other_version()) };
        let payload = payload.to_owned();
        Self::from_tantivy(index, catalogue, payload)
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
        let index = match dir {
            None => builder.open_or_create(RamDirectory::create()),
            Some(dir) => {
                directory::clear(dir)
                    .map_err(|error| IndexError::Failed { doing, source: Box::new(error) })?;
                let directory = UnsyncedDirectory::open(dir)
                    .map_err(|error| IndexError::Failed { doing, source: Box::new(error) })?;
                builder.open_or_create(directory)
            }
        };
        let index = index.map_err(IndexError::failed(doing))?;
        let mut made = Self::from_tantivy(index, catalogue, String::new())?;
        // The first commit writes the header, without which the index would be taken for another version's.
        made.commit("")?;
        Ok(made)
    }

    fn from_tantivy(
        index: tantivy::Index,
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
        Ok(Self { index, reader, writer: None, fields, catalogue, header, payload, searcher })
    }

    /// Queues a record; it takes the place of one with the same id. Nothing of it is found before the commit.
    ///
    /// # Errors
    /// When the writer has failed; the queue is lost then, and the index is as at the last commit.
    pub fn put(&mut self, document: &Document) -> Result<(), IndexError> {
        let made = document::make(document, &self.fields, &self.catalogue);
        let id = Term::from_field_text(self.fields.id, &document.record.id);
        let writer = self.writer()?;
        writer.delete_term(id);
        let added = writer.add_document(made);
        self.keep_writer_if(added.map(|_| ()), "putting a record into the index")
    }

    /// Queues the removal of a record; nothing happens when there is none with this id.
    ///
    /// # Errors
    /// As [`Index::put`].
    pub fn remove(&mut self, id: &str) -> Result<(), IndexError> {
        let id = Term::from_field_text(self.fields.id, id);
        self.writer()?.delete_term(id);
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
            writer.wait_merging_threads().map_err(IndexError::failed(doing))?;
        }
        self.reader.reload().map_err(IndexError::failed(doing))?;
        self.searcher =
            Searcher::new(self.reader.searcher(), self.fields, Arc::clone(&self.catalogue));
        Ok(self.searcher.clone())
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

    /// Reads every file and compares checksums, for use after an unclean stop.
    ///
    /// # Errors
    /// [`IndexError::Unusable`] when a file is damaged or can't be read.
    pub fn verify(&self) -> Result<(), IndexError> {
        let mut damaged: Vec<PathBuf> =
            self.index.validate_checksum().map_err(unusable)?.into_iter().collect();
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

    fn writer(&mut self) -> Result<&mut IndexWriter, IndexError> {
        let writer = match self.writer.take() {
            Some(writer) => writer,
            None => start_writer(&self.index)
                .map_err(IndexError::failed("starting to write the index"))?,
        };
        Ok(self.writer.insert(writer))
    }

    /// Gives up a writer that failed, because it refuses everything from then on; the next change starts another.
    fn keep_writer_if(
        &mut self,
        outcome: Result<(), TantivyError>,
        doing: &'static str,
    ) -> Result<(), IndexError> {
        outcome.map_err(|error| {
            self.writer = None;
            IndexError::failed(doing)(error)
        })
    }
}

fn start_writer(index: &tantivy::Index) -> tantivy::Result<IndexWriter> {
    let options = IndexWriterOptions::builder()
        .num_worker_threads(2)
        .memory_budget_per_thread(THREAD_MEMORY)
        .num_merge_threads(1)
        .build();
    let writer = index.writer_with_options(options)?;
    let mut policy = LogMergePolicy::default();
    policy.set_del_docs_ratio_before_merge(MOST_DELETED);
    writer.set_merge_policy(Box::new(policy));
    Ok(writer)
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
