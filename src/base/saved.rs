//! The saved form of results: JSON `{format, version, made_by, body}`.
//!
//! Infinity has no form in JSON; fields that may hold it say so with [`infinite`] or [`infinite_column`], which write `null`.

use serde::de::{DeserializeOwned, IgnoredAny};
use serde::{Deserialize, Serialize};

use super::error::{Error, Kind, Place, Problem, Result};

/// Name and version of one saved form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Format {
    /// What is saved, such as `tally`.
    pub name: &'static str,
    /// Rises when the body changes its meaning.
    pub version: u32,
}

impl Format {
    /// A name with its version.
    pub const fn new(name: &'static str, version: u32) -> Self {
        Self { name, version }
    }
}

#[derive(Serialize)]
struct Out<'a, T> {
    format: &'a str,
    version: u32,
    made_by: &'a str,
    body: &'a T,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct In<T> {
    format: String,
    version: u32,
    #[serde(rename = "made_by")]
    _made_by: String,
    body: T,
}

/// Writes a value in its saved form.
///
/// # Errors
/// `saved.unwritable` for a value that JSON cannot hold, such as NaN in a column that may be infinite.
///
/// # Examples
/// ```
/// use relamp::base::saved::{Format, load, save};
/// const AGES: Format = Format::new("ages", 1);
/// let text = save(AGES, &vec![0.1, 2000.0]).unwrap();
/// assert_eq!(load::<Vec<f64>>(AGES, &text).unwrap(), [0.1, 2000.0]);
/// assert!(load::<Vec<f64>>(Format::new("curve", 1), &text).is_err());
/// ```
pub fn save<T: Serialize>(format: Format, body: &T) -> Result<String> {
    let out = Out { format: format.name, version: format.version, made_by: MADE_BY, body };
    serde_json::to_string(&out).map_err(|e| unwritable(format, e))
}

/// Writes a value in its saved form over many lines, for files that people read too.
///
/// # Errors
/// As [`save`].
pub fn save_readable<T: Serialize>(format: Format, body: &T) -> Result<String> {
    let out = Out { format: format.name, version: format.version, made_by: MADE_BY, body };
    serde_json::to_string_pretty(&out).map(|text| text + "\n").map_err(|e| unwritable(format, e))
}

const MADE_BY: &str = concat!("relamp ", env!("CARGO_PKG_VERSION"));

fn unwritable(format: Format, e: serde_json::Error) -> Error {
    let problem = Problem::new("saved.unwritable", format!("cannot be saved: {e}")).at(Place::input(format.name));
    Error::new(Kind::Input, problem).with_source(e)
}

/// Reads a value back from its saved form, to equal bits.
///
/// # Errors
/// `saved.unreadable` for text that is not this form (an unknown field included), `saved.other_format` for the saved
/// form of something else, `saved.newer_version` for one made by a later version of the library.
pub fn load<T: DeserializeOwned>(format: Format, text: &str) -> Result<T> {
    let place = || Place::input(format!("saved {}", format.name));
    let unreadable = |e: serde_json::Error| {
        let problem = Problem::new("saved.unreadable", format!("not a saved form: {e}")).at(place());
        Error::new(Kind::Input, problem).with_source(e)
    };
    // The head first, so that a body of another shape is named as such instead of failing on its first field.
    let head: In<IgnoredAny> = serde_json::from_str(text).map_err(unreadable)?;
    if head.format != format.name {
        let problem = Problem::new("saved.other_format", "the saved form of something else")
            .at(place().column("format"))
            .got(head.format)
            .expected(format.name);
        return Err(Error::new(Kind::Input, problem));
    }
    if head.version > format.version {
        let problem = Problem::new("saved.newer_version", "saved by a later version of the library")
            .at(place().column("version"))
            .got(head.version)
            .expected(format!("at most {}", format.version));
        return Err(Error::new(Kind::Input, problem).with_hint("read it with a newer version of relamp"));
    }
    Ok(serde_json::from_str::<In<T>>(text).map_err(unreadable)?.body)
}

fn to_option<E: serde::ser::Error>(x: f64) -> std::result::Result<Option<f64>, E> {
    if x.is_finite() {
        Ok(Some(x))
    } else if x == f64::INFINITY {
        Ok(None)
    } else {
        Err(E::custom(format!("{x} where a number or infinity was expected")))
    }
}

/// For `#[serde(with = "crate::base::saved::infinite")]` on an `f64` that may be infinite.
pub mod infinite {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    /// Writes infinity as null.
    ///
    /// # Errors
    /// For NaN and minus infinity.
    pub fn serialize<S: Serializer>(x: &f64, s: S) -> Result<S::Ok, S::Error> {
        super::to_option::<S::Error>(*x)?.serialize(s)
    }

    /// Reads null as infinity.
    ///
    /// # Errors
    /// For anything but a number or null.
    pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
        Ok(Option::<f64>::deserialize(d)?.unwrap_or(f64::INFINITY))
    }
}

/// For `#[serde(with = "crate::base::saved::infinite_column")]` on a `Vec<f64>` that may hold infinity.
pub mod infinite_column {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    /// Writes infinity as null.
    ///
    /// # Errors
    /// For NaN and minus infinity.
    pub fn serialize<S: Serializer>(column: &[f64], s: S) -> Result<S::Ok, S::Error> {
        column.iter().map(|&x| super::to_option::<S::Error>(x)).collect::<Result<Vec<_>, _>>()?.serialize(s)
    }

    /// Reads null as infinity.
    ///
    /// # Errors
    /// For anything but numbers and nulls.
    pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<Vec<f64>, D::Error> {
        Ok(Vec::<Option<f64>>::deserialize(d)?.into_iter().map(|x| x.unwrap_or(f64::INFINITY)).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Thing {
        #[serde(with = "infinite")]
        end: f64,
        #[serde(with = "infinite_column")]
        column: Vec<f64>,
    }
    const THING: Format = Format::new("thing", 2);

    #[test]
    fn infinity_survives_and_nan_is_refused() {
        let thing = Thing { end: f64::INFINITY, column: vec![1.0, f64::INFINITY, 0.1 + 0.2] };
        let text = save(THING, &thing).unwrap();
        assert!(text.contains("null") && text.starts_with(r#"{"format":"thing","version":2,"made_by":"relamp "#));
        assert_eq!(load::<Thing>(THING, &text).unwrap(), thing);
        assert_eq!(save(THING, &Thing { end: f64::NAN, column: vec![] }).unwrap_err().slug(), "saved.unwritable");
    }

    #[test]
    fn newer_version_and_unknown_fields_are_refused() {
        let newer = r#"{"format":"thing","version":3,"made_by":"relamp 9","body":{"other":1}}"#;
        assert_eq!(load::<Thing>(THING, newer).unwrap_err().slug(), "saved.newer_version");
        let extra = r#"{"format":"thing","version":2,"made_by":"x","body":{"end":1.0,"column":[],"more":1}}"#;
        let error = load::<Thing>(THING, extra).unwrap_err();
        assert_eq!(error.slug(), "saved.unreadable");
        assert!(error.to_string().contains("more"));
        let outside = r#"{"format":"thing","version":2,"made_by":"x","note":1,"body":{"end":1.0,"column":[]}}"#;
        assert_eq!(load::<Thing>(THING, outside).unwrap_err().slug(), "saved.unreadable");
    }
}
