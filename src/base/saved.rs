//! The saved form of results: JSON `{format, version, made_by, body}`.
//!
//! Infinity has no form in JSON; fields that may hold it say so with [`infinite`] or [`infinite_column`], which write `null`.

use serde::de::{DeserializeOwned, IgnoredAny};
use serde::{Deserialize, Serialize};

use super::error::{Error, Kind, Place, Problem, Result};
use super::sound::{Checks, Sound};

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
    made_by: String,
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
/// use relamp::demand::Count;
/// const COUNT: Format = Format::new("count", 1);
/// let text = save(COUNT, &Count::certain(3)).unwrap();
/// assert_eq!(load::<Count>(COUNT, &text).unwrap(), Count::certain(3));
/// assert!(load::<Count>(Format::new("curve", 1), &text).is_err());
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
/// form of something else, `saved.newer_version` for one made by a later version of the library,
/// `saved.other_version` first where another version wrote it; `saved.out_of_range` for every field that breaks a rule of its type. Each names the field.
pub fn load<T: DeserializeOwned + Sound>(format: Format, text: &str) -> Result<T> {
    let input = format!("saved {}", format.name);
    let place = || Place::input(&input);
    let unreadable = |e: serde_json::Error| {
        let field = field_at(text, e.line(), e.column());
        let place = if field.is_empty() { place() } else { place().column(field) };
        let problem = Problem::new("saved.unreadable", format!("not a saved form: {e}")).at(place);
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
    if head.version == 0 {
        let problem = Problem::new("saved.out_of_range", "out of range").at(place().column("version"));
        return Err(Error::new(Kind::Input, problem.got(0).expected(format!("1 to {}", format.version))));
    }
    // A body that does not fit is told by who wrote it first: a field that was renamed since is no tampering.
    let other = |error: Error| {
        if head.version == format.version && head.made_by == MADE_BY {
            return error;
        }
        let problem =
            Problem::new("saved.other_version", "saved by another version of the library, and not readable here")
                .at(place().column("made_by"))
                .got(format!("{}, version {} of the form", head.made_by, head.version))
                .expected(format!("{MADE_BY}, version {} of the form", format.version));
        let all = std::iter::once(problem).chain(error.problems().iter().cloned()).collect();
        Error::many(error.kind(), all)
            .with_hint("make it again from its data, or read it with the version that wrote it")
    };
    let body = serde_json::from_str::<In<T>>(text).map_err(unreadable).map_err(&other)?.body;
    Checks::of(&input, &body).map_err(other)?;
    Ok(body)
}

/// One level of nesting on the way to a place in JSON text.
enum Level {
    Object(String),
    Array(usize),
}

/// The path of the field that a place in JSON text belongs to, such as `cost.by_ending[0].ending`, counted from the
/// body; empty at the top. The text may be broken at that place, but not before it.
fn field_at(text: &str, line: usize, column: usize) -> String {
    let before: usize = text.split_inclusive('\n').take(line.saturating_sub(1)).map(str::len).sum();
    let mut levels: Vec<Level> = Vec::new();
    let (mut key, mut escaped, mut word) = (true, false, None::<Vec<u8>>);
    for byte in text.bytes().take(before + column) {
        if let Some(inside) = &mut word {
            if byte == b'"' && !escaped {
                if let (Some(Level::Object(name)), true) = (levels.last_mut(), key) {
                    *name = String::from_utf8_lossy(inside).into_owned();
                }
                word = None;
            } else {
                inside.push(byte);
            }
            escaped = byte == b'\\' && !escaped;
            continue;
        }
        match byte {
            b'"' => word = Some(Vec::new()),
            b'{' => levels.push(Level::Object(String::new())),
            b'[' => levels.push(Level::Array(0)),
            b'}' | b']' => drop(levels.pop()),
            b',' => {
                if let Some(Level::Array(i)) = levels.last_mut() {
                    *i += 1;
                }
            }
            _ => {}
        }
        // A word is a key after an opening brace or a comma; in an array that does not matter.
        key = match byte {
            b'{' | b',' => true,
            b':' => false,
            _ => key,
        };
    }
    let mut path = String::new();
    for level in &levels {
        match level {
            Level::Object(name) if path.is_empty() => path.clone_from(name),
            Level::Object(name) if name.is_empty() => {}
            Level::Object(name) => path = format!("{path}.{name}"),
            Level::Array(i) => path = format!("{path}[{i}]"),
        }
    }
    path.strip_prefix("body").map_or(path.clone(), |rest| rest.trim_start_matches('.').to_owned())
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

/// For `#[serde(default, skip_serializing_if = "Option::is_none", with = "crate::base::saved::infinite_if_there")]` on an
/// `Option<f64>` that may be infinite: none is left out.
pub mod infinite_if_there {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    /// Writes infinity as null.
    ///
    /// # Errors
    /// For NaN, minus infinity, and none, which is to be skipped.
    pub fn serialize<S: Serializer>(x: &Option<f64>, s: S) -> Result<S::Ok, S::Error> {
        super::to_option::<S::Error>(x.unwrap_or(f64::NAN))?.serialize(s)
    }

    /// Reads null as infinity.
    ///
    /// # Errors
    /// For anything but a number or null.
    pub fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<Option<f64>, D::Error> {
        Ok(Some(Option::<f64>::deserialize(d)?.unwrap_or(f64::INFINITY)))
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
        #[serde(default, skip_serializing_if = "Option::is_none", with = "infinite_if_there")]
        top: Option<f64>,
    }
    const THING: Format = Format::new("thing", 2);

    impl Sound for Thing {
        fn check(&self, c: &mut Checks) {
            c.positive("end", self.end);
        }
    }

    #[test]
    fn infinity_survives_and_nan_is_refused() {
        let thing = Thing { end: f64::INFINITY, column: vec![1.0, f64::INFINITY, 0.1 + 0.2], top: None };
        let text = save(THING, &thing).unwrap();
        assert!(text.contains("null") && text.starts_with(r#"{"format":"thing","version":2,"made_by":"relamp "#));
        assert_eq!(load::<Thing>(THING, &text).unwrap(), thing);
        // What is not there is left out, so that null is infinity here too.
        for top in [None, Some(f64::INFINITY), Some(2.5)] {
            let thing = Thing { end: 1.0, column: vec![], top };
            assert_eq!(load::<Thing>(THING, &save(THING, &thing).unwrap()).unwrap(), thing);
        }
        assert_eq!(
            save(THING, &Thing { end: f64::NAN, column: vec![], top: None }).unwrap_err().slug(),
            "saved.unwritable"
        );
    }

    #[test]
    fn a_broken_field_is_named() {
        let place = |body: &str| {
            let text = format!("{{\"format\":\"thing\",\n \"version\":2,\"made_by\":\"a\\\"{{\",\"body\":{body}}}");
            load::<Thing>(THING, &text).unwrap_err().problems()[1].place.column.clone().unwrap_or_default()
        };
        assert_eq!(place(r#"{"end":"much","column":[]}"#), "end");
        assert_eq!(place(r#"{"end":1.0,"column":[0.5,true]}"#), "column[1]");
        assert_eq!(place(r#"{"end":1.0,"column":{}}"#), "column");
        assert_eq!(place(r#"{"end":-1.0,"column":[]}"#), "end");
        assert_eq!(place(r#"{"end":1.0}"#), "");
        assert_eq!(field_at("", 1, 0), "");
        assert_eq!(field_at(r#"{"version":"2"}"#, 1, 14), "version");
    }

    #[test]
    fn newer_version_and_unknown_fields_are_refused() {
        let newer = r#"{"format":"thing","version":3,"made_by":"relamp 9","body":{"other":1}}"#;
        assert_eq!(load::<Thing>(THING, newer).unwrap_err().slug(), "saved.newer_version");
        let extra = |version: u32, by: &str| {
            let body = r#"{"end":1.0,"column":[],"more":1}"#;
            let text = format!(r#"{{"format":"thing","version":{version},"made_by":"{by}","body":{body}}}"#);
            let error = load::<Thing>(THING, &text).unwrap_err();
            assert!(error.to_string().contains("more"), "{error}");
            error.slug().to_owned()
        };
        assert_eq!(extra(2, MADE_BY), "saved.unreadable");
        // Who wrote it is told first, and what does not fit after it.
        assert_eq!(extra(1, MADE_BY), "saved.other_version");
        assert_eq!(extra(2, "relamp 0.0.9"), "saved.other_version");
        let broken = r#"{"format":"thing","version":2,"made_by":"relamp 0.0.9","body":{"end":-1.0,"column":[]}}"#;
        assert_eq!(load::<Thing>(THING, broken).unwrap_err().slug(), "saved.other_version");
        let readable = r#"{"format":"thing","version":1,"made_by":"relamp 0.0.9","body":{"end":1.0,"column":[]}}"#;
        assert!(load::<Thing>(THING, readable).is_ok());
        let outside = r#"{"format":"thing","version":2,"made_by":"x","note":1,"body":{"end":1.0,"column":[]}}"#;
        assert_eq!(load::<Thing>(THING, outside).unwrap_err().slug(), "saved.unreadable");
    }
}
