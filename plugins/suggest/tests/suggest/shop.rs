//! A shelf of a few texts, and the plugin's answers about them.

use taperbook_plugin::{
    Advice, ChooseAdvice, NumberParts, PastForecast, Question, ReachAdvice, Shelf, SuggestAdvice,
    View, Wanted,
};
use taperbook_record::Measure;

/// A shop folder of texts.
#[derive(Default)]
pub(crate) struct Shop(pub(crate) Shelf);

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

    /// Asks how the pieces of a model were foretold.
    #[track_caller]
    #[allow(dead_code, reason = "the example that shares this file asks only for suggestions")]
    pub(crate) fn explain_model(&self, id: &str) -> Vec<PastForecast> {
        let question = Question::Explain { record: id.to_owned(), number: None, held_at: None };
        match taperbook_suggest::plugin().advise(&question, &View::new(&self.0)) {
            Some(Ok(Advice::Explain(advice))) => advice.forecasts,
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

    /// Asks which blank makes a rod, with aim and limits as a record writes them.
    #[track_caller]
    #[allow(dead_code, reason = "the example that shares this file asks only for suggestions")]
    pub(crate) fn choose(&self, aim: &str, limits: &str, use_words: &str) -> ChooseAdvice {
        match self.chosen(aim, limits, use_words) {
            Ok(Advice::Choose(advice)) => *advice,
            other => panic!("{other:?}"),
        }
    }

    /// Asks which blank makes a rod that can't be, or when there is none; gives the reason.
    #[track_caller]
    #[allow(dead_code, reason = "the example that shares this file asks only for suggestions")]
    pub(crate) fn refused(&self, aim: &str, limits: &str) -> String {
        self.chosen(aim, limits, "").expect_err("it can't be answered")
    }

    /// Asks which of the blanks that are on the rack makes a rod.
    #[allow(dead_code, reason = "the example that shares this file asks only for suggestions")]
    pub(crate) fn choose_in_stock(&self, aim: &str) -> Result<ChooseAdvice, String> {
        let wanted = Wanted { in_stock: true, limit: 100, ..wanted(aim, "") };
        let question = Question::Choose(Box::new(wanted));
        match taperbook_suggest::plugin().advise(&question, &View::new(&self.0)) {
            Some(Ok(Advice::Choose(advice))) => Ok(*advice),
            Some(Err(why)) => Err(why),
            other => panic!("{other:?}"),
        }
    }

    #[allow(dead_code, reason = "the example that shares this file asks only for suggestions")]
    fn chosen(&self, aim: &str, limits: &str, use_words: &str) -> Result<Advice, String> {
        let use_words = Some(use_words.to_owned()).filter(|words| !words.is_empty());
        let wanted = Wanted { use_words, limit: 100, ..wanted(aim, limits) };
        let question = Question::Choose(Box::new(wanted));
        taperbook_suggest::plugin()
            .advise(&question, &View::new(&self.0))
            .expect("its own question")
    }

    /// Asks which rods a blank could be.
    #[track_caller]
    #[allow(dead_code, reason = "the example that shares this file asks only for suggestions")]
    pub(crate) fn reach(&self, id: &str, aim: &str, limits: &str) -> ReachAdvice {
        let wanted = Box::new(wanted(aim, limits));
        let question = Question::Reach { record: id.to_owned(), wanted };
        match taperbook_suggest::plugin().advise(&question, &View::new(&self.0)) {
            Some(Ok(Advice::Reach(advice))) => *advice,
            other => panic!("{id}: {other:?}"),
        }
    }
}

/// Reads a brief as a record would hold it.
#[track_caller]
#[allow(dead_code, reason = "the example that shares this file asks only for suggestions")]
fn wanted(aim: &str, limits: &str) -> Wanted {
    let line = |key: &str, text: &str| match text {
        "" => String::new(),
        text => format!("{key}: {{ {text} }}\n"),
    };
    let text = format!(
        "---\nkind: build\nblank: any\n{}{}---\n",
        line("aim", aim),
        line("limits", limits)
    );
    let parsed = taperbook_record::read("builds/wanted.md", text.as_bytes());
    assert!(parsed.problems.is_empty(), "{:?}\n{text}", parsed.problems);
    let build = parsed.record.build().cloned().expect("it is a build");
    Wanted { aim: build.aim, limits: build.limits, ..Wanted::default() }
}
