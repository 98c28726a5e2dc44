//! What a word is, and when two words are the same.
//!
//! A word is a run of letters and digits; everything else separates.
//! Case and accents don't matter, so each word is folded; the same folding serves records, queries and snippets.
//! There is no stemming: a word is found as it is written, and `word*` finds its other endings.

use std::ops::Range;

use tantivy::tokenizer::{Token, TokenStream, Tokenizer};
use unicode_normalization::UnicodeNormalization;

/// The most bytes of a folded word that are kept; longer runs are data, and two that agree so far count as the same word.
const LONGEST: usize = 128;

/// Separates the key from the text in a value of the `keyed` field, and from the word in its terms.
pub(crate) const KEY_END: char = '\0';

/// Finds the first word in `text` at or after the byte `from`.
pub(crate) fn next_word(text: &str, from: usize) -> Option<Range<usize>> {
    let bytes = text.as_bytes();
    let mut at = from;
    while at < bytes.len() {
        if bytes[at].is_ascii() {
            if bytes[at].is_ascii_alphanumeric() {
                break;
            }
            at += 1;
            continue;
        }
        let char = text[at..].chars().next()?;
        // Some combining marks count as letters for Unicode; one that follows no letter begins no word.
        if char.is_alphanumeric() && !is_accent(char) {
            if stands_alone(char) {
                return Some(at..at + char.len_utf8());
            }
            break;
        }
        at += char.len_utf8();
    }
    let start = at;
    while at < bytes.len() {
        if bytes[at].is_ascii() {
            if !bytes[at].is_ascii_alphanumeric() {
                break;
            }
            at += 1;
            continue;
        }
        let Some(char) = text[at..].chars().next() else { break };
        if stands_alone(char) || !(char.is_alphanumeric() || is_accent(char) || char == SOFT_HYPHEN)
        {
            break;
        }
        at += char.len_utf8();
    }
    (start < at).then_some(start..at)
}

/// A place where a word may be broken on paper; it is no part of how the word is written.
const SOFT_HYPHEN: char = '\u{ad}';

/// Is true for the letters of scripts written without spaces: each is a word, so that any run of them is found as a phrase.
fn stands_alone(char: char) -> bool {
    matches!(char, '\u{3040}'..='\u{30ff}' | '\u{3400}'..='\u{4dbf}' | '\u{4e00}'..='\u{9fff}' | '\u{20000}'..='\u{2fa1f}')
}

/// Is true for the combining marks that are accents; vowel signs of other scripts are letters and stay.
fn is_accent(char: char) -> bool {
    matches!(
        char,
        '\u{300}'..='\u{36f}' | '\u{1ab0}'..='\u{1aff}' | '\u{1dc0}'..='\u{1dff}' | '\u{20d0}'..='\u{20ff}' | '\u{fe20}'..='\u{fe2f}'
    )
}

/// Appends a word without case and accents; appends nothing when nothing of it is left.
pub(crate) fn fold_into(word: &str, out: &mut String) {
    let start = out.len();
    if word.is_ascii() {
        out.push_str(&word[..word.len().min(LONGEST)]);
        out[start..].make_ascii_lowercase();
        return;
    }
    // Compatibility decomposition splits the accents off; lower case comes after it, since it can bring capitals back.
    let letters = word
        .nfkd()
        .flat_map(char::to_lowercase)
        .filter(|char| !is_accent(*char) && *char != SOFT_HYPHEN);
    for letter in letters {
        match plain(letter) {
            Some(plain) => out.push_str(plain),
            None => out.push(letter),
        }
        if LONGEST <= out.len() - start {
            break;
        }
    }
}

/// Gives the plain spelling of letters that Unicode does not decompose.
fn plain(letter: char) -> Option<&'static str> {
    Some(match letter {
        'ø' => "o",
        'æ' => "ae",
        'œ' => "oe",
        'ß' => "ss",
        'đ' | 'ð' => "d",
        'þ' => "th",
        'ł' => "l",
        'ħ' => "h",
        'ı' => "i",
        'ŋ' => "n",
        'ŧ' => "t",
        'ĸ' => "k",
        'ς' => "σ",
        '⁄' => "/",
        _ => return None,
    })
}

/// Folds a whole text, its punctuation included: for keys and names that are compared as a whole.
pub(crate) fn fold(text: &str) -> String {
    if text.len() <= LONGEST && text.is_ascii() {
        let lower = text.to_ascii_lowercase();
        let is_control = |char: char| char.is_ascii_control();
        return if lower.contains(is_control) { lower.replace(is_control, " ") } else { lower };
    }
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    while let Some(word) = next_word(text, at) {
        out.extend(
            text[at..word.start].chars().map(|char| if char.is_control() { ' ' } else { char }),
        );
        fold_into(&text[word.clone()], &mut out);
        at = word.end;
    }
    out.extend(text[at..].chars().map(|char| if char.is_control() { ' ' } else { char }));
    out
}

/// Gives the last start of a character at or before the byte `at`, or the end of the text.
pub(crate) fn char_start(text: &str, at: usize) -> usize {
    (0..=at.min(text.len())).rev().find(|at| text.is_char_boundary(*at)).unwrap_or(0)
}

/// Splits a text into its folded words.
pub(crate) fn folded_words(text: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut at = 0;
    while let Some(range) = next_word(text, at) {
        let mut word = String::new();
        fold_into(&text[range.clone()], &mut word);
        if !word.is_empty() {
            words.push(word);
        }
        at = range.end;
    }
    words
}

/// Splits values into folded words for the index; of a keyed value it puts the key before each word.
#[derive(Clone, Default)]
pub(crate) struct WordTokenizer {
    keyed: bool,
    token: Token,
}

impl WordTokenizer {
    /// Makes one for plain text.
    pub(crate) fn plain() -> Self {
        Self::default()
    }

    /// Makes one for values that are a key, [`KEY_END`] and a text.
    pub(crate) fn keyed() -> Self {
        Self { keyed: true, token: Token::default() }
    }
}

impl Tokenizer for WordTokenizer {
    type TokenStream<'a> = WordStream<'a>;

    fn token_stream<'a>(&'a mut self, text: &'a str) -> WordStream<'a> {
        self.token.reset();
        let key_end =
            if self.keyed { text.find(KEY_END).map_or(0, |at| at + KEY_END.len_utf8()) } else { 0 };
        WordStream { key: &text[..key_end], text, at: key_end, token: &mut self.token }
    }
}

/// The words of one value.
pub(crate) struct WordStream<'a> {
    key: &'a str,
    text: &'a str,
    at: usize,
    token: &'a mut Token,
}

impl TokenStream for WordStream<'_> {
    fn advance(&mut self) -> bool {
        while let Some(word) = next_word(self.text, self.at) {
            self.at = word.end;
            self.token.text.clear();
            self.token.text.push_str(self.key);
            fold_into(&self.text[word.clone()], &mut self.token.text);
            if self.key.len() < self.token.text.len() {
                self.token.position = self.token.position.wrapping_add(1);
                self.token.offset_from = word.start;
                self.token.offset_to = word.end;
                return true;
            }
        }
        false
    }

    fn token(&self) -> &Token {
        self.token
    }

    fn token_mut(&mut self) -> &mut Token {
        self.token
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, words: &[&str]) {
        assert_eq!(folded_words(text), words, "{text:?}");
    }

    #[test]
    fn case_and_accents_fold_away() {
        check("Søren fiskede", &["soren", "fiskede"]);
        // The same name, its letters composed and decomposed.
        check("Zoë Zoe\u{308}", &["zoe", "zoe"]);
        check("Ångström \u{212b}ngstro\u{308}m", &["angstrom", "angstrom"]);
        check("STRAẞE Straße strasse", &["strasse", "strasse", "strasse"]);
        check("İstanbul ISTANBUL ıstanbul", &["istanbul", "istanbul", "istanbul"]);
        check("ΟΔΟΣ οδος", &["οδοσ", "οδοσ"]);
        check("ﬁne Ⅷ", &["fine", "viii"]);
        check("ice\u{ad}land", &["iceland"]);
    }

    #[test]
    fn punctuation_separates() {
        check("heron-704", &["heron", "704"]);
        check("6'10\" 10.5", &["6", "10", "10", "5"]);
        check("tip_od", &["tip", "od"]);
        check("don’t", &["don", "t"]);
        check(" -- ", &[]);
        check("\u{301}\u{301}", &[]);
        check("", &[]);
    }

    #[test]
    fn scripts_without_spaces_give_a_word_a_letter() {
        check("竿とrod", &["竿", "と", "rod"]);
        // Vowel signs stay in the word; the virama separates, in records and queries alike.
        check("हिन्दी", &["हिन", "दी"]);
    }

    #[test]
    fn a_long_run_is_cut() {
        let long = "é".repeat(1000);
        let words = folded_words(&long);
        assert_eq!(words, ["e".repeat(LONGEST)]);
        assert_eq!(folded_words(&"x".repeat(1000)), ["x".repeat(LONGEST)]);
    }

    #[test]
    fn the_index_gets_the_same_words() {
        let text = "Søren’s heron-704, 6'10\" 竿";
        let mut tokenizer = WordTokenizer::plain();
        let mut stream = tokenizer.token_stream(text);
        let mut found = Vec::new();
        while stream.advance() {
            assert_eq!(stream.token().position, found.len());
            found.push(stream.token().text.clone());
        }
        assert_eq!(found, folded_words(text));

        let mut tokenizer = WordTokenizer::keyed();
        let mut stream = tokenizer.token_stream("customer\0Zoë K.");
        let mut found = Vec::new();
        stream.process(&mut |token| found.push(token.text.clone()));
        assert_eq!(found, ["customer\0zoe", "customer\0k"]);
    }
}
