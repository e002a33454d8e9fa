//! Short texts by value, long ones shared.

use std::borrow::{Borrow, Cow};
use std::cmp::Ordering;
use std::fmt;
use std::hash::{Hash, Hasher};
use std::ops::Deref;
use std::sync::Arc;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Longest text kept by value, bytes.
const SHORT: usize = 14;

/// A text that stands in many rows: a million spells name few sites. It reads as a `&str` and costs little to copy, as
/// a text of up to 14 bytes is held by value and a longer one is shared.
///
/// # Examples
/// ```
/// use relamp::records::Word;
/// let site = Word::from("Site 07");
/// assert_eq!(&*site, "Site 07");
/// assert!(site.starts_with("Site") && site < Word::from("Site 08"));
/// ```
#[derive(Clone)]
pub struct Word(Held);

/// Which form holds a text depends on its length only, so equal texts have equal forms.
#[derive(Clone)]
enum Held {
    Short {
        length: u8,
        bytes: [u8; SHORT],
    },
    /// Behind a thin pointer, so that the whole takes sixteen bytes.
    Long(Arc<Box<str>>),
}

impl Word {
    /// The bytes of the text.
    #[inline]
    pub(crate) fn as_bytes(&self) -> &[u8] {
        match &self.0 {
            Held::Short { length, bytes } => bytes.get(..usize::from(*length)).unwrap_or(&[]),
            Held::Long(text) => text.as_bytes(),
        }
    }

    /// Bytes and length of a short text as one number that sorts as the text does.
    #[inline]
    pub(crate) fn rank(&self) -> Option<u128> {
        match &self.0 {
            Held::Short { length, bytes } => {
                // Two loads: a copy byte by byte would have to wait for its own end.
                let first = u64::from_be_bytes(*bytes.first_chunk()?);
                let rest = u64::from_be_bytes(*bytes.last_chunk()?) << (8 * (16 - SHORT));
                Some((u128::from(first) << 64) | u128::from(rest | (u64::from(*length) << 8)))
            }
            Held::Long(_) => None,
        }
    }
}

/// Up to sixteen bytes as one number, the first lowest: a few loads, where a copy of unknown length is a call.
#[inline]
pub(super) fn packed(bytes: &[u8]) -> u128 {
    let n = bytes.len();
    if let (Some(first), Some(last)) = (bytes.first_chunk::<8>(), bytes.last_chunk::<8>()) {
        // Where the two overlap they say the same.
        u128::from(u64::from_le_bytes(*first)) | (u128::from(u64::from_le_bytes(*last)) << (8 * (n - 8)))
    } else if let (Some(first), Some(last)) = (bytes.first_chunk::<4>(), bytes.last_chunk::<4>()) {
        u128::from(u64::from(u32::from_le_bytes(*first)) | (u64::from(u32::from_le_bytes(*last)) << (8 * (n - 4))))
    } else {
        bytes.iter().rev().fold(0, |sum, b| (sum << 8) | u128::from(*b))
    }
}

impl Word {
    /// A text without letters.
    pub(crate) const NONE: Self = Self(Held::Short { length: 0, bytes: [0; SHORT] });

    /// A text of ASCII letters, from its bytes; none for other bytes.
    #[inline]
    pub(super) fn of_ascii(text: &[u8]) -> Option<Self> {
        if text.len() > SHORT {
            return std::str::from_utf8(text).ok().filter(|t| t.is_ascii()).map(Self::from);
        }
        let wide = packed(text);
        (wide & (u128::MAX / 0xFF * 0x80) == 0).then(|| Self::of_wide(wide, text.len()))
    }

    /// A short text from its bytes as one number.
    #[inline]
    fn of_wide(wide: u128, length: usize) -> Self {
        let mut bytes = [0; SHORT];
        if let Some(wide) = wide.to_le_bytes().first_chunk() {
            bytes = *wide;
        }
        Self(Held::Short { length: length as u8, bytes })
    }
}

impl From<&str> for Word {
    #[inline]
    fn from(text: &str) -> Self {
        if text.len() > SHORT {
            return Self(Held::Long(Arc::new(text.into())));
        }
        Self::of_wide(packed(text.as_bytes()), text.len())
    }
}

impl From<String> for Word {
    fn from(text: String) -> Self {
        Self::from(text.as_str())
    }
}

impl From<Cow<'_, str>> for Word {
    fn from(text: Cow<'_, str>) -> Self {
        Self::from(&*text)
    }
}

impl Deref for Word {
    type Target = str;

    fn deref(&self) -> &str {
        match &self.0 {
            // Whole texts only are taken in, so they are text still.
            Held::Short { .. } => std::str::from_utf8(self.as_bytes()).unwrap_or(""),
            Held::Long(text) => text,
        }
    }
}

impl AsRef<str> for Word {
    fn as_ref(&self) -> &str {
        self
    }
}

impl Borrow<str> for Word {
    fn borrow(&self) -> &str {
        self
    }
}

impl Default for Word {
    #[inline]
    fn default() -> Self {
        Self::NONE
    }
}

impl fmt::Debug for Word {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(&**self, f)
    }
}

impl fmt::Display for Word {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(&**self, f)
    }
}

impl PartialEq for Word {
    #[inline]
    fn eq(&self, other: &Self) -> bool {
        match (&self.0, &other.0) {
            (Held::Short { length: a, bytes: x }, Held::Short { length: b, bytes: y }) => a == b && x == y,
            (Held::Long(x), Held::Long(y)) => x == y,
            _ => false,
        }
    }
}

impl Eq for Word {}

impl PartialEq<str> for Word {
    fn eq(&self, other: &str) -> bool {
        self.as_bytes() == other.as_bytes()
    }
}

impl PartialEq<&str> for Word {
    fn eq(&self, other: &&str) -> bool {
        *self == **other
    }
}

impl PartialOrd for Word {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Word {
    #[inline]
    fn cmp(&self, other: &Self) -> Ordering {
        match (self.rank(), other.rank()) {
            (Some(a), Some(b)) => a.cmp(&b),
            _ => self.as_bytes().cmp(other.as_bytes()),
        }
    }
}

impl Hash for Word {
    fn hash<H: Hasher>(&self, state: &mut H) {
        (**self).hash(state);
    }
}

impl Serialize for Word {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(self)
    }
}

impl<'de> Deserialize<'de> for Word {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        String::deserialize(from).map(Self::from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXTS: [&str; 9] =
        ["", "a", "ab", "a\0", "Site 07", "vierzehn Bytes", "vierzehn Bytes.", "Größe", "a text of many more bytes"];

    #[test]
    fn short_and_long_texts_come_back() {
        assert_eq!(size_of::<Word>(), 16);
        for text in TEXTS {
            let word = Word::from(text);
            assert_eq!(
                (&*word, word.len(), format!("{word}"), format!("{word:?}")),
                (text, text.len(), text.to_owned(), format!("{text:?}"))
            );
            assert_eq!(Word::of_ascii(text.as_bytes()), text.is_ascii().then_some(word.clone()));
            let saved = serde_json::to_string(&word).unwrap();
            assert_eq!(serde_json::from_str::<Word>(&saved).unwrap(), word);
        }
    }

    #[test]
    fn words_sort_as_their_texts() {
        for a in TEXTS {
            for b in TEXTS {
                let (x, y) = (Word::from(a), Word::from(b));
                assert_eq!((x.cmp(&y), x == y), (a.cmp(b), a == b), "{a:?} {b:?}");
                if let (Some(x), Some(y)) = (x.rank(), y.rank()) {
                    assert_eq!(x.cmp(&y), a.cmp(b), "{a:?} {b:?}");
                }
            }
        }
    }
}
