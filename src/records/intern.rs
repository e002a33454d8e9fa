//! Texts kept once, with a small number for each.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use super::Word;

/// Texts in order of first meeting. The map is only looked up, never walked, so its order does not matter.
#[derive(Clone, Debug, Default)]
pub(crate) struct Words {
    ids: HashMap<Word, u32, BuildHasherDefault<Fast>>,
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
        self.last = if let Some(&id) = self.ids.get(text) {
            id
        } else {
            let id = self.list.len() as u32;
            let word = Word::from(text);
            self.list.push(word.clone());
            self.ids.insert(word, id);
            id
        };
        self.last
    }

    /// The number of a text met before.
    pub(crate) fn find(&self, text: &str) -> Option<u32> {
        self.ids.get(text).copied()
    }

    /// The text of a number.
    pub(crate) fn word(&self, id: u32) -> Word {
        self.list.get(id as usize).cloned().unwrap_or_else(|| Word::from(""))
    }
}

/// A quick hash for short texts: eight bytes a step, folded by a wide multiplication.
#[derive(Clone, Debug, Default)]
pub(crate) struct Fast(u64);

const MIX: u64 = 0x9E37_79B9_7F4A_7C15;

impl Fast {
    fn mix(&mut self, x: u64) {
        let wide = u128::from(self.0 ^ x ^ 0x5851_F42D_4C95_7F2D) * u128::from(MIX);
        self.0 = (wide as u64) ^ ((wide >> 64) as u64);
    }
}

impl Hasher for Fast {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for chunk in bytes.chunks(8) {
            let mut word = [0; 8];
            word.iter_mut().zip(chunk).for_each(|(w, b)| *w = *b);
            self.mix(u64::from_le_bytes(word) ^ (bytes.len() as u64).rotate_left(32));
        }
    }

    fn write_u8(&mut self, x: u8) {
        self.mix(u64::from(x));
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
}
