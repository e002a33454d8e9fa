//! The user's own words: what a log calls an ending, and what it calls a lamp class.

use std::collections::BTreeMap;

use unicode_normalization::UnicodeNormalization;

use super::{Ending, Word};
use crate::base::error::{Error, Kind, Place, Problem, Result};

/// A text as compared in maps: trimmed, white space (non-breaking too) collapsed to one space, lower case, letters and
/// their accents joined however they were typed (the compatibility form of Unicode), and ss for the sharp s.
///
/// # Examples
/// ```
/// use relamp::records::fold;
/// assert_eq!(fold(" Burst\u{a0} in  SHOW "), "burst in show");
/// assert_eq!(fold("Ge\u{e4}ndert, Schlu\u{df}"), fold("gea\u{308}ndert,  SCHLUSS"));
/// ```
pub fn fold(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for part in text.split_whitespace() {
        if !out.is_empty() {
            out.push(' ');
        }
        if part.is_ascii() {
            out.extend(part.chars().map(|c| c.to_ascii_lowercase()));
        } else {
            for c in part.chars().flat_map(char::to_lowercase).nfkc() {
                if c == '\u{df}' { out.push_str("ss") } else { out.push(c) }
            }
        }
    }
    out
}

/// The user's map from a log's free-text reasons to endings. Nothing is built in: a text that is not in the map is
/// `unknown`, never a failure. A text that stands beside lamps that burn, such as a status, is mapped to `running`; a row with
/// it and a day of removal contradicts itself and is set aside.
///
/// # Examples
/// ```
/// use relamp::records::{Ending, ReasonMap};
/// let map = ReasonMap::new([("burst in show", Ending::Burst)])?;
/// assert_eq!(map.get("Burst  in show"), Some(Ending::Burst));
/// assert_eq!(map.get("n/a"), None);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ReasonMap {
    endings: BTreeMap<String, Ending>,
}

impl ReasonMap {
    /// A map from pairs of text and ending.
    ///
    /// # Errors
    /// `records.reason_blank_in_map` for a blank text, `records.reason_twice` for a text that folds to the same as
    /// another with another ending.
    pub fn new<T: AsRef<str>>(pairs: impl IntoIterator<Item = (T, Ending)>) -> Result<Self> {
        let mut endings = BTreeMap::new();
        let mut problems = Vec::new();
        for (text, ending) in pairs {
            let text = text.as_ref();
            let key = fold(text);
            let place = Place::input("reasons").column(text);
            if key.is_empty() {
                let problem = Problem::new("records.reason_blank_in_map", "a blank reason cannot be mapped");
                problems.push(problem.at(place).expected("a text; blank reasons are unknown"));
            } else if let Some(&earlier) = endings.get(&key).filter(|&&e| e != ending) {
                let problem = Problem::new("records.reason_twice", "the same reason is mapped to two endings");
                problems.push(problem.at(place).got(format!("{earlier} and {ending}")).expected("one ending"));
            } else {
                endings.insert(key, ending);
            }
        }
        if problems.is_empty() { Ok(Self { endings }) } else { Err(Error::many(Kind::Study, problems)) }
    }

    /// The ending of a reason, if the user mapped it.
    pub fn get(&self, reason: &str) -> Option<Ending> {
        self.endings.get(&fold(reason)).copied()
    }
}

/// The lamp classes of a study with the other names that logs give them, compared as by [`fold`].
///
/// # Examples
/// ```
/// use relamp::records::ClassNames;
/// let names = ClassNames::new([("2.0 kW", vec!["2kW", "X-2000"])])?;
/// assert_eq!(names.get("x-2000").as_deref(), Some("2.0 kW"));
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ClassNames {
    names: BTreeMap<String, Word>,
    /// Every name as its owner wrote it, in the order given.
    written: Vec<String>,
    any: bool,
}

impl ClassNames {
    /// Names from pairs of study name and other names.
    ///
    /// # Errors
    /// `records.class_twice` where a name belongs to two classes, `records.class_blank_name` for a blank name.
    pub fn new<N, A>(classes: impl IntoIterator<Item = (N, A)>) -> Result<Self>
    where
        N: AsRef<str>,
        A: IntoIterator,
        A::Item: AsRef<str>,
    {
        let mut names: BTreeMap<String, Word> = BTreeMap::new();
        let mut written = Vec::new();
        let mut problems = Vec::new();
        for (name, others) in classes {
            let word: Word = Word::from(name.as_ref().trim());
            let mut add = |text: &str| {
                let place = Place::input("classes").column(text);
                let key = fold(text);
                if key.is_empty() {
                    problems.push(Problem::new("records.class_blank_name", "a lamp class has a blank name").at(place));
                    return;
                }
                let earlier = names.entry(key).or_insert_with(|| {
                    written.push(text.trim().to_owned());
                    word.clone()
                });
                if *earlier != word {
                    let problem = Problem::new("records.class_twice", "a name belongs to two lamp classes").at(place);
                    problems.push(problem.got(format!("{earlier} and {word}")).expected("one class for each name"));
                }
            };
            add(name.as_ref());
            for other in others {
                add(other.as_ref());
            }
        }
        if problems.is_empty() {
            Ok(Self { names, written, any: false })
        } else {
            Err(Error::many(Kind::Study, problems))
        }
    }

    /// Takes every class as the log words it, for a first look at a log without a study.
    pub fn any() -> Self {
        Self { any: true, ..Self::default() }
    }

    /// The study name of a class as a log words it.
    pub fn get(&self, class: &str) -> Option<Word> {
        if self.any {
            return Some(Word::from(class.trim()));
        }
        self.names.get(&fold(class)).cloned()
    }

    /// Every name known as its owner wrote it, in the order given.
    pub fn known(&self) -> &[String] {
        &self.written
    }
}
