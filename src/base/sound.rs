//! What must hold of a saved value beyond the types of its fields, so that a file changed by hand is no back door.

use std::collections::BTreeSet;
use std::fmt;

use serde::Serialize;

use super::error::{Error, Kind, Place, Problem, Result};
use super::figure::counted;

/// Slack for numbers that were computed: rounding may carry a share past 1 or an age past its bound by this much.
const ROUNDING: f64 = 1e-9;

/// A value in the words of a saved form; a plain word without its quotation marks.
pub(crate) fn as_saved(value: &impl Serialize) -> String {
    let text = serde_json::to_string(value).unwrap_or_default();
    let word = text.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')).unwrap_or_default();
    let plain = !word.is_empty() && word.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_');
    if plain { word.to_owned() } else { text }
}

/// A type whose saved form is checked when it is read back.
///
/// # Examples
/// ```
/// use relamp::base::sound::{Checks, Sound};
/// struct Half {
///     share: f64,
/// }
/// impl Sound for Half {
///     fn check(&self, c: &mut Checks) {
///         c.share("share", self.share);
///     }
/// }
/// assert!(Checks::of("half", &Half { share: 0.5 }).is_ok());
/// let error = Checks::of("half", &Half { share: 1.5 }).unwrap_err();
/// assert_eq!(error.to_string(), "half, column share: out of range, got 1.5, expected 0 to 1 [saved.out_of_range]");
/// ```
pub trait Sound {
    /// Tells `c` of every field that breaks a rule.
    fn check(&self, c: &mut Checks);
}

impl<T: Sound> Sound for Vec<T> {
    fn check(&self, c: &mut Checks) {
        c.parts("", self);
    }
}

/// Collects what is wrong with a value, each with the path of its field.
#[derive(Debug)]
pub struct Checks {
    input: String,
    path: String,
    problems: Vec<Problem>,
}

impl Checks {
    /// Checks a value and all its parts; `input` names it in messages.
    ///
    /// # Errors
    /// `saved.out_of_range`, one problem for each field that breaks a rule.
    pub fn of(input: &str, value: &impl Sound) -> Result<()> {
        let mut checks = Self { input: input.to_owned(), path: String::new(), problems: Vec::new() };
        value.check(&mut checks);
        if checks.problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, checks.problems)) }
    }

    /// A rule of its own.
    pub fn need(&mut self, field: &str, holds: bool, got: impl fmt::Display, expected: impl Into<String>) {
        if !holds {
            let place = Place::input(&self.input).column(self.at(field));
            let got = got.to_string();
            // Only a number has a range.
            let what = if got.parse::<f64>().is_ok() { "out of range" } else { "not what it can be" };
            self.problems.push(Problem::new("saved.out_of_range", what).at(place).got(got).expected(expected));
        }
    }

    /// A share or a probability: 0 to 1.
    pub fn share(&mut self, field: &str, x: impl Into<Option<f64>>) {
        self.number(field, x, |x| (-ROUNDING..=1.0 + ROUNDING).contains(&x), "0 to 1");
    }

    /// A level of confidence: inside (0, 1).
    pub fn level(&mut self, field: &str, x: f64) {
        self.number(field, x, |x| x > 0.0 && x < 1.0, "above 0 and below 1");
    }

    /// A number of at least 0.
    pub fn not_negative(&mut self, field: &str, x: impl Into<Option<f64>>) {
        self.number(field, x, |x| x >= 0.0, "0 or more");
    }

    /// A number above 0.
    pub fn positive(&mut self, field: &str, x: impl Into<Option<f64>>) {
        self.number(field, x, |x| x > 0.0, "above 0");
    }

    /// An age shown as advice: whole hours of at least 0, at most the limit.
    pub fn advice(&mut self, field: &str, x: impl Into<Option<f64>>, limit_hours: f64) {
        let holds = |x: f64| x >= 0.0 && x <= limit_hours && x == x.floor();
        self.number(field, x, holds, &format!("whole hours of at least 0 and at most {limit_hours}"));
    }

    /// An age of at least 0 that does not pass a bound.
    pub fn age(&mut self, field: &str, x: impl Into<Option<f64>>, bound_hours: f64) {
        let holds = |x: f64| x >= 0.0 && x <= bound_hours * (1.0 + ROUNDING);
        self.number(field, x, holds, &format!("hours of at least 0 and at most {bound_hours}"));
    }

    /// Two ends in order, where both are there.
    pub fn ends(&mut self, field: &str, low: impl Into<Option<f64>>, high: impl Into<Option<f64>>) {
        if let (Some(low), Some(high)) = (low.into(), high.into()) {
            self.need(field, low <= high, format!("{low} and {high}"), "a lower end not above the upper end");
        }
    }

    /// Two numbers that one rule makes equal up to rounding.
    pub fn equal(&mut self, field: &str, got: f64, expected: f64) {
        let near = (got - expected).abs() <= 1e-6 * expected.abs().max(1e-6);
        self.need(field, near, got, format!("{expected}, which follows from the other fields"));
    }

    /// The same for a difference of larger numbers, which is right to rounding of their size only.
    pub fn near(&mut self, field: &str, got: f64, expected: f64, size: f64) {
        let near = (got - expected).abs() <= ROUNDING * size.abs().max(ROUNDING);
        self.need(field, near, got, format!("{expected}, which follows from the other fields"));
    }

    /// A count, a word or a mark that the other fields set.
    pub fn follows<T: PartialEq + Serialize>(&mut self, field: &str, got: &T, expected: &T) {
        if got != expected {
            let said = format!("{}, which follows from the other fields", as_saved(expected));
            self.need(field, false, as_saved(got), said);
        }
    }

    /// A number that lies between two ends, as far as they are there.
    pub fn between(
        &mut self,
        field: &str,
        x: impl Into<Option<f64>>,
        low: impl Into<Option<f64>>,
        high: impl Into<Option<f64>>,
    ) {
        let Some(x) = x.into() else { return };
        let (low, high) = (low.into(), high.into());
        let slack = ROUNDING * x.abs().max(1e-3);
        let holds = low.is_none_or(|l| l <= x + slack) && high.is_none_or(|h| h >= x - slack);
        let end = |end: Option<f64>| end.map_or_else(|| "open".to_owned(), |e| e.to_string());
        self.need(field, holds, x, format!("between the ends {} and {}", end(low), end(high)));
    }

    /// Something that is there if and only if something else is.
    pub fn there(&mut self, field: &str, got: bool, expected: bool, why: &str) {
        self.need(field, got == expected, if got { "there" } else { "empty" }, why);
    }

    /// A text that is not blank.
    pub fn words(&mut self, field: &str, text: &str) {
        self.need(field, !text.trim().is_empty(), "a blank text", "words");
    }

    /// Names that stand once each.
    pub fn once<T: Ord + Serialize>(&mut self, field: &str, names: impl IntoIterator<Item = T>) {
        let mut seen = BTreeSet::new();
        for name in names {
            let said = format!("{} again", as_saved(&name));
            self.need(field, seen.insert(name), said, "each once");
        }
    }

    /// Numbers that fall or stay from one entry to the next, up to rounding.
    pub fn falling(&mut self, field: &str, values: &[f64]) {
        for (i, pair) in values.windows(2).enumerate() {
            if let [before, after] = pair {
                self.need(
                    &format!("{field}[{}]", i + 1),
                    *after <= before + ROUNDING,
                    after,
                    format!("at most {before}"),
                );
            }
        }
    }

    /// A number of entries that another field sets.
    pub fn entries(&mut self, field: &str, got: usize, expected: usize) {
        self.need(field, got == expected, counted(got as u64, "entry"), counted(expected as u64, "entry"));
    }

    /// Ages that rise from one entry to the next, none below 0.
    pub fn rising(&mut self, field: &str, ages: &[f64], twice: bool) {
        let order = |pair: &[f64]| matches!(pair, [a, b] if a < b || twice && a == b);
        let holds = ages.first().is_none_or(|a| *a >= 0.0) && ages.windows(2).all(order);
        self.need(field, holds, "another order", "ages of at least 0 in rising order");
    }

    /// Every entry of a column by the same rule.
    pub fn column<T: Copy>(&mut self, field: &str, values: &[T], rule: impl Fn(&mut Self, &str, T)) {
        for (i, value) in values.iter().enumerate() {
            rule(self, &format!("{field}[{i}]"), *value);
        }
    }

    /// A part with rules of its own.
    pub fn part(&mut self, field: &str, part: &impl Sound) {
        self.inside(field, |c| part.check(c));
    }

    /// Rules for the fields of a part, told here because they need the whole.
    pub fn inside(&mut self, field: &str, rules: impl FnOnce(&mut Self)) {
        let whole = self.path.len();
        self.path = self.at(field);
        rules(self);
        self.path.truncate(whole);
    }

    /// Parts in a list.
    pub fn parts<'a, T: Sound + 'a>(&mut self, field: &str, parts: impl IntoIterator<Item = &'a T>) {
        for (i, part) in parts.into_iter().enumerate() {
            self.part(&format!("{field}[{i}]"), part);
        }
    }

    fn number(&mut self, field: &str, x: impl Into<Option<f64>>, holds: impl Fn(f64) -> bool, expected: &str) {
        if let Some(x) = x.into() {
            self.need(field, holds(x), x, expected);
        }
    }

    fn at(&self, field: &str) -> String {
        if self.path.is_empty() || field.starts_with('[') {
            format!("{}{field}", self.path)
        } else {
            format!("{}.{field}", self.path)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Part(f64);

    impl Sound for Part {
        fn check(&self, c: &mut Checks) {
            c.advice("age_hours", self.0, 2000.0);
        }
    }

    struct Whole(Vec<Part>, Vec<f64>);

    impl Sound for Whole {
        fn check(&self, c: &mut Checks) {
            c.parts("parts", &self.0);
            c.rising("ages", &self.1, false);
            c.column("ages", &self.1, Checks::share);
        }
    }

    #[test]
    fn every_problem_is_told_with_the_path_of_its_field() {
        let error =
            Checks::of("saved whole", &Whole(vec![Part(1.0), Part(1.5), Part(2001.0)], vec![2.0, 1.0])).unwrap_err();
        let columns: Vec<_> = error.problems().iter().filter_map(|p| p.place.column.as_deref()).collect();
        assert_eq!(columns, ["parts[1].age_hours", "parts[2].age_hours", "ages", "ages[0]"]);
        assert!(error.problems().iter().all(|p| p.slug == "saved.out_of_range" && p.place.input == "saved whole"));
        assert!(Checks::of("x", &vec![Part(f64::NAN)]).unwrap_err().to_string().contains("[0].age_hours"));
        assert!(Checks::of("x", &Whole(vec![Part(2000.0)], vec![0.0, 1.0])).is_ok());
    }
}
