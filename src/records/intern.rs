//! Texts kept once, with a small number for each.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use super::Word;
use super::word::packed;

/// Texts in order of first meeting.
#[derive(Clone, Debug, Default)]
pub(crate) struct Words {
    /// Open addressing: the upper half of a text's hash, and its number plus 1. Never walked, so the order of numbers is
    /// that of the list.
    slots: Vec<u64>,
    list: Vec<Word>,
    last: u32,
}

const FEWEST_SLOTS: usize = 16;

impl Words {
    /// The number of a text.
    #[inline]
    pub(crate) fn id(&mut self, text: &str) -> u32 {
        self.id_of(&Word::from(text))
    }

    /// The number of a text that is a word already.
    #[inline]
    pub(crate) fn id_of(&mut self, word: &Word) -> u32 {
        // Logs are mostly sorted, so the text before is often the same.
        if self.list.get(self.last as usize) == Some(word) { self.last } else { self.look(word) }
    }

    fn look(&mut self, word: &Word) -> u32 {
        if 2 * (self.list.len() + 1) > self.slots.len() {
            self.grow(2 * (self.list.len() + 1));
        }
        let hash = hash(word.as_bytes());
        self.last = match self.place(word, hash) {
            Ok(id) => id,
            Err(free) => {
                let id = self.list.len() as u32;
                self.list.push(word.clone());
                if let Some(slot) = self.slots.get_mut(free) {
                    *slot = slot_of(hash, id);
                }
                id
            }
        };
        self.last
    }

    /// The number of a text, or the free slot where it belongs.
    #[inline]
    fn place(&self, word: &Word, hash: u64) -> Result<u32, usize> {
        let mask = self.slots.len().wrapping_sub(1);
        let mut at = hash as usize & mask;
        while let Some(&slot) = self.slots.get(at) {
            if slot == 0 {
                break;
            }
            let id = slot as u32 - 1;
            if slot >> 32 == hash >> 32 && self.list.get(id as usize) == Some(word) {
                return Ok(id);
            }
            at = (at + 1) & mask;
        }
        Err(at)
    }

    /// Makes room for so many texts at least.
    pub(crate) fn grow(&mut self, texts: usize) {
        let size = (2 * texts).next_power_of_two().max(FEWEST_SLOTS);
        if size <= self.slots.len() {
            return;
        }
        self.list.reserve(texts.saturating_sub(self.list.len()));
        self.slots = vec![0; size];
        for (id, word) in self.list.iter().enumerate() {
            let hash = hash(word.as_bytes());
            let mut at = hash as usize & (size - 1);
            while self.slots.get(at).is_some_and(|s| *s != 0) {
                at = (at + 1) & (size - 1);
            }
            if let Some(slot) = self.slots.get_mut(at) {
                *slot = slot_of(hash, id as u32);
            }
        }
    }

    /// The text of a number; an empty one for a number that is not known.
    #[inline]
    pub(crate) fn text(&self, id: u32) -> &Word {
        self.word(id).unwrap_or(&Word::NONE)
    }

    /// Gives back what only serves to find a number.
    pub(crate) fn close(&mut self) {
        self.slots = Vec::new();
    }

    /// Every text, in the order of the numbers.
    pub(crate) fn into_list(self) -> Vec<Word> {
        self.list
    }

    /// The text of a number.
    pub(crate) fn word(&self, id: u32) -> Option<&Word> {
        self.list.get(id as usize)
    }

    /// The numbers of another list's texts in this one, in the order of that list.
    pub(crate) fn take(&mut self, other: &Words) -> Vec<u32> {
        other.list.iter().map(|word| self.id_of(word)).collect()
    }
}

fn slot_of(hash: u64, id: u32) -> u64 {
    (hash & !u64::from(u32::MAX)) | (u64::from(id) + 1)
}

/// Pairs of numbers in order of first meeting.
#[derive(Clone, Debug, Default)]
pub(crate) struct Pairs {
    /// Only looked up, never walked, so the order does not matter.
    ids: HashMap<u64, u32, BuildHasherDefault<Mixed>>,
    pub(crate) list: Vec<(u32, u32)>,
    last: u32,
}

impl Pairs {
    /// Gives back what only serves to find a number.
    pub(crate) fn close(&mut self) {
        self.ids = HashMap::default();
    }

    /// The number of a pair.
    #[inline]
    pub(crate) fn id(&mut self, pair: (u32, u32)) -> u32 {
        if self.list.get(self.last as usize) != Some(&pair) {
            let key = (u64::from(pair.0) << 32) | u64::from(pair.1);
            let list = &mut self.list;
            self.last = *self.ids.entry(key).or_insert_with(|| {
                list.push(pair);
                list.len() as u32 - 1
            });
        }
        self.last
    }
}

const MIX: u64 = 0x9E37_79B9_7F4A_7C15;

#[inline]
fn mix(state: u64, x: u64) -> u64 {
    let wide = u128::from(state ^ x ^ 0x5851_F42D_4C95_7F2D) * u128::from(MIX);
    (wide as u64) ^ ((wide >> 64) as u64)
}

/// A quick hash for short texts: eight bytes a step, folded by a wide multiplication.
#[inline]
pub(super) fn hash(bytes: &[u8]) -> u64 {
    let mut state = (bytes.len() as u64).rotate_left(32);
    let (whole, rest) = bytes.as_chunks::<8>();
    for word in whole {
        state = mix(state, u64::from_le_bytes(*word));
    }
    mix(mix(state, packed(rest) as u64), 1)
}

/// A quick hash for one number.
#[derive(Clone, Debug, Default)]
struct Mixed(u64);

impl Hasher for Mixed {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        self.0 = hash(bytes);
    }

    fn write_u64(&mut self, x: u64) {
        self.0 = mix(mix(x, 0), 1);
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
        assert_eq!(words.word(1).map(|w| &**w), Some("b"));
    }

    #[test]
    fn many_texts_keep_their_numbers_as_the_table_grows() {
        let mut words = Words::default();
        for n in 0..5_000_u32 {
            assert_eq!(words.id(&format!("a serial of many letters {n}")), n);
        }
        let mut other = Words::default();
        other.id("new");
        for n in 0..5_000 {
            let text = format!("a serial of many letters {n}");
            assert_eq!(words.id(&text), n);
            other.id(&text);
        }
        assert_eq!(words.take(&other)[..3], [5_000, 0, 1]);
    }

    #[test]
    fn texts_of_one_hash_keep_their_own_numbers() {
        let mut words = Words::default();
        words.id("a");
        let free = words.place(&"b".into(), hash(b"b")).unwrap_err();
        words.slots[free] = slot_of(hash(b"b"), 0);
        assert_eq!((words.id("b"), words.id("b"), words.id("a")), (1, 1, 0));
    }

    #[test]
    fn equal_pairs_have_one_number() {
        let mut pairs = Pairs::default();
        let ids: Vec<u32> = [(0, 1), (1, 0), (0, 1), (1, 0), (1, 1)].iter().map(|p| pairs.id(*p)).collect();
        assert_eq!((ids, pairs.list), (vec![0, 1, 0, 1, 2], vec![(0, 1), (1, 0), (1, 1)]));
    }
}
