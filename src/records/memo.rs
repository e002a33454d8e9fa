//! What cells of few different texts were found to mean, by their bytes.

use super::word::packed;

/// Texts remembered: a column of reasons or classes has a handful, and sites stand together.
const SLOTS: usize = 8;
/// Longest text compared as one number.
const NARROW: usize = 16;

/// The last texts of a column and what they stand for.
#[derive(Debug)]
pub(super) struct Memo<T> {
    slots: [Option<Slot<T>>; SLOTS],
}

#[derive(Debug)]
struct Slot<T> {
    wide: u128,
    length: usize,
    /// The whole text where it does not fit a number.
    long: Vec<u8>,
    means: T,
}

impl<T> Default for Memo<T> {
    fn default() -> Self {
        Self { slots: std::array::from_fn(|_| None) }
    }
}

impl<T: Copy> Memo<T> {
    /// What a text was found to mean, if it is remembered.
    #[inline]
    pub(super) fn get(&self, text: &[u8]) -> Option<T> {
        let wide = wide(text);
        let slot = self.slots.get(place(wide))?.as_ref()?;
        let same = slot.length == text.len() && slot.wide == wide && (text.len() <= NARROW || slot.long == text);
        same.then_some(slot.means)
    }

    /// Remembers what a text means.
    pub(super) fn put(&mut self, text: &[u8], means: T) {
        let wide = wide(text);
        let long = if text.len() > NARROW { text.to_vec() } else { Vec::new() };
        if let Some(slot) = self.slots.get_mut(place(wide)) {
            *slot = Some(Slot { wide, length: text.len(), long, means });
        }
    }
}

/// Up to sixteen bytes of a text as one number.
#[inline]
fn wide(text: &[u8]) -> u128 {
    packed(text.get(..NARROW).unwrap_or(text))
}

#[inline]
fn place(wide: u128) -> usize {
    let mixed = ((wide >> 64) as u64 ^ wide as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    (mixed >> 61) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_told_apart_by_every_byte() {
        let mut memo = Memo::default();
        let texts = ["", "a", "a\0", "sixteen letters.", "sixteen letters. ", "sixteen letters.1", "sixteen letters.2"];
        for (i, text) in texts.iter().enumerate() {
            assert_eq!(memo.get(text.as_bytes()), None, "{text}");
            memo.put(text.as_bytes(), i);
            assert_eq!(memo.get(text.as_bytes()), Some(i), "{text}");
        }
    }
}
