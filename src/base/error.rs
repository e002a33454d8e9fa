//! One error type for the crate: what went wrong, where, what was given and what was expected.

use std::collections::BTreeSet;
use std::fmt;
use std::sync::Arc;

use super::figure::{counted, whole};

/// A result whose error is [`Error`].
pub type Result<T> = std::result::Result<T, Error>;

/// The broad sort of an error; a caller may branch on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Kind {
    /// A value handed in, or a row of data, is not acceptable.
    Input,
    /// A study file or another declaration is not acceptable.
    Study,
    /// The question has no defensible answer from these data.
    Refused,
    /// An argument lies outside the domain of a function.
    Domain,
    /// A size or hour limit was exceeded.
    Limit,
    /// The caller stopped the work.
    Stopped,
    /// The operating system refused a read or write.
    Io,
    /// A defect of this library; please report it.
    Internal,
}

impl Kind {
    /// The kind as a plain lower-case word.
    pub fn as_str(self) -> &'static str {
        match self {
            Kind::Input => "input",
            Kind::Study => "study",
            Kind::Refused => "refused",
            Kind::Domain => "domain",
            Kind::Limit => "limit",
            Kind::Stopped => "stopped",
            Kind::Io => "io",
            Kind::Internal => "internal",
        }
    }
}

/// Where a problem was met. Rows are counted from 1 without the header; lines are physical lines.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Place {
    /// File, table or argument.
    pub input: String,
    /// Data record, from 1, header and blank lines not counted.
    pub row: Option<u64>,
    /// Physical line of a file, from 1, at which the record starts.
    pub line: Option<u64>,
    /// Column or key.
    pub column: Option<String>,
}

impl Place {
    /// A place inside the named file, table or argument.
    pub fn input(input: impl Into<String>) -> Self {
        Self { input: input.into(), ..Self::default() }
    }

    /// The data record, from 1.
    #[must_use]
    pub fn row(mut self, row: u64) -> Self {
        self.row = Some(row);
        self
    }

    /// The physical line, from 1.
    #[must_use]
    pub fn line(mut self, line: u64) -> Self {
        self.line = Some(line);
        self
    }

    /// The column or key.
    #[must_use]
    pub fn column(mut self, column: impl Into<String>) -> Self {
        self.column = Some(column.into());
        self
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.input)?;
        if let Some(row) = self.row {
            write!(f, ", row {row}")?;
        }
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        if let Some(column) = &self.column {
            write!(f, ", column {column}")?;
        }
        Ok(())
    }
}

/// Characters from which a number is written with an exponent: no measured figure has as many digits.
const MOST_DIGITS: usize = 25;

/// One thing that is wrong, with a stable slug such as `lives.age_negative`.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Problem {
    /// Stable name, `room.what`; listed on the guide page of problems.
    pub slug: &'static str,
    /// What is wrong, lower case, without a full stop.
    pub what: String,
    /// Where.
    pub place: Place,
    /// The value met, as text; empty where none applies.
    pub got: String,
    /// What would have been accepted; empty where none applies.
    pub expected: String,
}

impl Problem {
    /// A problem with its slug and sentence.
    pub fn new(slug: &'static str, what: impl Into<String>) -> Self {
        Self { slug, what: what.into(), ..Self::default() }
    }

    /// Says where.
    #[must_use]
    pub fn at(mut self, place: Place) -> Self {
        self.place = place;
        self
    }

    /// Says what was given; a number of very many digits with an exponent.
    #[must_use]
    pub fn got(mut self, got: impl fmt::Display) -> Self {
        self.got = got.to_string();
        if self.got.len() > MOST_DIGITS
            && let Ok(number) = self.got.parse::<f64>()
        {
            self.got = format!("{number:e}");
        }
        self
    }

    /// Says what would have been accepted.
    #[must_use]
    pub fn expected(mut self, expected: impl Into<String>) -> Self {
        self.expected = expected.into();
        self
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.place.input.is_empty() {
            write!(f, "{}: ", self.place)?;
        }
        f.write_str(&self.what)?;
        if !self.got.is_empty() {
            write!(f, ", got {}", self.got)?;
        }
        if !self.expected.is_empty() {
            write!(f, ", expected {}", self.expected)?;
        }
        write!(f, " [{}]", self.slug)
    }
}

/// The error of every fallible function of the crate. It holds one problem or many.
#[derive(Clone)]
pub struct Error {
    inner: Box<Inner>,
}

#[derive(Clone)]
struct Inner {
    kind: Kind,
    problems: Vec<Problem>,
    hint: Option<String>,
    source: Option<Arc<dyn std::error::Error + Send + Sync>>,
}

impl Error {
    /// An error with one problem.
    pub fn new(kind: Kind, problem: Problem) -> Self {
        Self::many(kind, vec![problem])
    }

    /// An error with all its problems at once.
    pub fn many(kind: Kind, problems: Vec<Problem>) -> Self {
        Self { inner: Box::new(Inner { kind, problems, hint: None, source: None }) }
    }

    /// One error that tells the problems of all of them, each once, with the kind and the hint of the first; none without
    /// an error. One alone keeps its cause, and a stop is told alone.
    pub(crate) fn gathered(errors: impl IntoIterator<Item = Error>) -> Option<Self> {
        let mut errors = errors.into_iter();
        let mut first = errors.next()?;
        for next in errors {
            if first.kind() == Kind::Stopped {
                break;
            }
            if next.kind() == Kind::Stopped {
                return Some(next);
            }
            let told: BTreeSet<String> = first.inner.problems.iter().map(Problem::to_string).collect();
            first.inner.problems.extend(next.inner.problems.into_iter().filter(|p| !told.contains(&p.to_string())));
            // What lies behind one of several problems is not what lies behind all.
            first.inner.source = None;
            first.inner.hint = first.inner.hint.or(next.inner.hint);
        }
        Some(first)
    }

    /// The caller stopped the work.
    pub fn stopped() -> Self {
        Self::new(Kind::Stopped, Problem::new("run.stopped", "stopped by the caller"))
    }

    /// Adds what the caller can do, or the best bound that still holds.
    #[must_use]
    pub fn with_hint(mut self, hint: impl Into<String>) -> Self {
        self.inner.hint = Some(hint.into());
        self
    }

    /// Keeps the error of a lower layer.
    #[must_use]
    pub fn with_source(mut self, source: impl std::error::Error + Send + Sync + 'static) -> Self {
        self.inner.source = Some(Arc::new(source));
        self
    }

    /// The same error where what it names is called otherwise at the border that the caller sees.
    ///
    /// `names`: input and column, the column empty for none, and what the caller calls that. Rows stay.
    #[must_use]
    pub fn renamed(mut self, names: &[(&str, &str, &str)]) -> Self {
        for problem in &mut self.inner.problems {
            let place = &mut problem.place;
            let of = |(input, column, _): &&(&str, &str, &str)| {
                place.input == *input && place.column.as_deref().unwrap_or("") == *column
            };
            if let Some((.., name)) = names.iter().find(of) {
                (*name).clone_into(&mut place.input);
                place.column = None;
            }
        }
        self
    }

    /// The broad sort.
    pub fn kind(&self) -> Kind {
        self.inner.kind
    }

    /// Every problem, in the order met; never empty for errors made in this crate.
    pub fn problems(&self) -> &[Problem] {
        &self.inner.problems
    }

    /// The slug of the first problem.
    pub fn slug(&self) -> &'static str {
        self.inner.problems.first().map_or("", |p| p.slug)
    }

    /// What the caller can do, or the best bound that still holds.
    pub fn hint(&self) -> Option<&str> {
        self.inner.hint.as_deref()
    }
}

/// Problems shown in a message: every mistake that a person made by hand. The rest, as of a million broken rows, are
/// counted and stay in [`Error::problems`].
const SHOWN: usize = 1000;

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let problems = &self.inner.problems;
        match problems.as_slice() {
            [] => f.write_str(self.inner.kind.as_str())?,
            [one] => write!(f, "{one}")?,
            many => {
                write!(f, "{}:", counted(many.len() as u64, "problem"))?;
                for problem in many.iter().take(SHOWN) {
                    write!(f, "\n  {problem}")?;
                }
                if many.len() > SHOWN {
                    write!(
                        f,
                        "\n  and {} more, in the list of problems of this error",
                        whole((many.len() - SHOWN) as f64)
                    )?;
                }
            }
        }
        if let Some(hint) = &self.inner.hint {
            write!(f, "; {hint}")?;
        }
        Ok(())
    }
}

impl fmt::Debug for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Error({}: {self})", self.inner.kind.as_str())
    }
}

impl std::error::Error for Error {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        self.inner.source.as_ref().map(|s| s.as_ref() as &(dyn std::error::Error + 'static))
    }
}
