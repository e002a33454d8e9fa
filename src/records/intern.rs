//! Texts kept once, with a small number for each.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use super::Word;

/// Texts in order of first meeting.
#[derive(Clone, Debug, Default)]
pub(crate) struct Words {
    /// Number by hash, so that a growing table never reads the texts again. Two texts of one hash take the places of
    /// two. Only looked up, never walked, so the order does not matter.
    ids: HashMap<u64, u32, BuildHasherDefault<Hashed>>,
    list: Vec<Word>,
    last: u32,
}

impl Words {
    /// The number of a text.
    pub(crate) fn id(&mut self, text: &str) -> u32 {
        // Logs are mostly sorted, so the text before is often the same.
        if self.list.get(self.last as usize).is_some_and(|w| &**w == text) {
            return self.last;
        }
        self.last = match self.place(text) {
            Ok(id) => id,
            Err(free) => {
                let id = self.list.len() as u32;
                self.list.push(Word::from(text));
                self.ids.insert(free, id);
                id
            }
        };
        self.last
    }

    /// The number of a text met before.
    pub(crate) fn find(&self, text: &str) -> Option<u32> {
        self.place(text).ok()
    }

    /// The number of a text, or the free place where it belongs.
    fn place(&self, text: &str) -> Result<u32, u64> {
        let mut at = hash(text.as_bytes());
        while let Some(&id) = self.ids.get(&at) {
            if self.list.get(id as usize).is_some_and(|w| &**w == text) {
                return Ok(id);
            }
            at = at.wrapping_add(MIX);
        }
        Err(at)
    }

    /// The text of a number.
    pub(crate) fn word(&self, id: u32) -> Word {
        self.list.get(id as usize).cloned().unwrap_or_else(|| Word::from(""))
    }
}

const MIX: u64 = 0x9E37_79B9_7F4A_7C15;

/// A quick hash for short texts: eight bytes a step, folded by a wide multiplication.
fn hash(bytes: &[u8]) -> u64 {
    let mix = |state: u64, x: u64| -> u64 {
        let wide = u128::from(state ^ x ^ 0x5851_F42D_4C95_7F2D) * u128::from(MIX);
        (wide as u64) ^ ((wide >> 64) as u64)
    };
    let mut state = (bytes.len() as u64).rotate_left(32);
    let (whole, rest) = bytes.as_chunks::<8>();
    for word in whole {
        state = mix(state, u64::from_le_bytes(*word));
    }
    let rest = rest.iter().rev().fold(0_u64, |word, byte| (word << 8) | u64::from(*byte));
    mix(mix(state, rest), 1)
}

/// Passes on what is a hash already.
#[derive(Clone, Debug, Default)]
struct Hashed(u64);

impl Hasher for Hashed {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        self.0 = hash(bytes);
    }

    fn write_u64(&mut self, x: u64) {
        self.0 = x;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_texts_have_one_number() {
        let mut words = Words::default();
        let ids: Vec<u32> = ["a", "b", "a", "", "b", "a\0"].iter().map(|t| words.id(t)).collect();
        assert_eq!(ids, [0, 1, 0, 2, 1, 3]);
        assert_eq!(&*words.word(1), "b");
        assert_eq!(words.find("c"), None);
    }

    #[test]
    fn texts_of_one_hash_keep_their_own_numbers() {
        let mut words = Words::default();
        words.id("a");
        words.ids.insert(hash(b"b"), 0);
        assert_eq!((words.find("b"), words.id("b"), words.find("b"), words.id("a")), (None, 1, Some(1), 0));
    }
}
