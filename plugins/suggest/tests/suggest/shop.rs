//! A shelf of a few texts, and the plugin's answers about them.

use taperbook_plugin::{Advice, NumberParts, Question, Shelf, SuggestAdvice, View};
use taperbook_record::Measure;

/// A shop folder of texts.
#[derive(Default)]
pub(crate) struct Shop(Shelf);

impl Shop {
    /// Adds or replaces a file; a record that has a problem is a slip of the test.
    #[track_caller]
    pub(crate) fn put(&mut self, path: &str, text: &str) {
        let parsed = taperbook_record::read(path, text.as_bytes());
        assert!(parsed.problems.is_empty(), "{path}: {:?}\n{text}", parsed.problems);
        self.0.put(parsed.record);
    }

    /// Asks what to cut next.
    #[track_caller]
    pub(crate) fn suggest(&self, id: &str) -> SuggestAdvice {
        let question = Question::Suggest { record: id.to_owned(), held_at: None };
        match taperbook_suggest::plugin().advise(&question, &View::new(&self.0)) {
            Some(Ok(Advice::Suggest(advice))) => *advice,
            other => panic!("{id}: {other:?}"),
        }
    }

    /// Asks where the numbers of a record come from.
    #[track_caller]
    #[allow(dead_code, reason = "the example that shares this file asks only for suggestions")]
    pub(crate) fn explain(&self, id: &str) -> Vec<String> {
        let question = Question::Explain { record: id.to_owned(), number: None, held_at: None };
        match taperbook_suggest::plugin().advise(&question, &View::new(&self.0)) {
            Some(Ok(Advice::Explain(advice))) => advice.words,
            other => panic!("{id}: {other:?}"),
        }
    }

    /// Asks for one number of a record, taken apart.
    #[track_caller]
    #[allow(dead_code, reason = "the example that shares this file asks only for suggestions")]
    pub(crate) fn explain_number(&self, id: &str, number: Measure) -> (NumberParts, Vec<String>) {
        let (record, number) = (id.to_owned(), Some(number));
        let question = Question::Explain { record, number, held_at: None };
        match taperbook_suggest::plugin().advise(&question, &View::new(&self.0)) {
            Some(Ok(Advice::Explain(advice))) => (advice.number.unwrap(), advice.words),
            other => panic!("{id}: {other:?}"),
        }
    }
}
