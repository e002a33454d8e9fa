//! Where cells end and records begin, found many bytes at a time.

use rayon::prelude::*;

/// Eight times one byte.
const EACH: u64 = 0x0101_0101_0101_0101;
const HIGH: u64 = 0x8080_8080_8080_8080;

/// Ends of cells outside quotation marks: delimiters and line breaks, in order.
#[derive(Clone, Debug)]
pub(super) struct Marks {
    wanted: [u64; 3],
    /// Start of the eight bytes last looked at, and the marks among them that are still to come.
    block: usize,
    left: u64,
    next: usize,
}

impl Marks {
    pub(super) fn new(delimiter: u8) -> Self {
        Self { wanted: [delimiter, b'\n', b'\r'].map(|b| EACH * u64::from(b)), block: 0, left: 0, next: 0 }
    }

    /// The first mark at or after a place that never falls from call to call; the length of the text if there is none.
    #[inline]
    pub(super) fn next(&mut self, bytes: &[u8], from: usize) -> usize {
        loop {
            while self.left != 0 {
                let at = self.block + (self.left.trailing_zeros() / 8) as usize;
                self.left &= self.left - 1;
                if at >= from {
                    return at;
                }
            }
            self.block = self.next.max(from & !7);
            let Some(rest) = bytes.get(self.block..).filter(|rest| !rest.is_empty()) else { return bytes.len() };
            // Zeros fill the last eight: no delimiter is zero.
            let eight = rest.first_chunk().copied().unwrap_or_else(|| {
                let mut last = [0; 8];
                last.iter_mut().zip(rest).for_each(|(to, from)| *to = *from);
                last
            });
            let eight = u64::from_le_bytes(eight);
            self.left = self.wanted.iter().fold(0, |found, w| found | zeros(eight ^ w));
            self.next = self.block + 8;
        }
    }
}

/// The highest bit of every byte that is zero.
#[inline]
fn zeros(eight: u64) -> u64 {
    !(((eight & !HIGH) + !HIGH) | eight | !HIGH)
}

/// Line breaks in a text, where `\r\n` is one.
#[allow(clippy::naive_bytecount, reason = "the compiler vectorises it; no crate for two lines")]
pub(super) fn line_breaks(text: &[u8]) -> u64 {
    let feeds = text.iter().filter(|&&b| b == b'\n').count();
    let returns = text.iter().filter(|&&b| b == b'\r').count();
    let pairs = if returns > 0 { text.windows(2).filter(|w| w == b"\r\n").count() } else { 0 };
    (feeds + returns - pairs) as u64
}

/// Starts of about `parts` stretches of a text that begins with a record, each at the start of a record.
///
/// A line break may stand inside quotation marks. Whether it does depends on all the text before; so each stretch is
/// walked for both cases at once, and the cases are joined from the top.
pub(super) fn borders(text: &[u8], delimiter: u8, parts: usize) -> Vec<usize> {
    let mut starts = vec![0];
    for part in 1..parts {
        let from = (text.len() as u128 * part as u128 / parts as u128) as usize;
        let Some(n) = text.get(from..).and_then(|rest| memchr::memchr2(b'\n', b'\r', rest)) else { break };
        let at = from + n;
        let pair = text.get(at..at + 2) == Some(b"\r\n");
        let start = at + 1 + usize::from(pair);
        if start < text.len() && starts.last().is_some_and(|last| start > *last) {
            starts.push(start);
        }
    }
    if starts.len() == 1 {
        return starts;
    }
    let ends: Vec<usize> = starts.iter().copied().skip(1).chain([text.len()]).collect();
    let after: Vec<[bool; 2]> = starts
        .par_iter()
        .zip(&ends)
        .map(|(&from, &to)| {
            let stretch = text.get(from..to).unwrap_or(&[]);
            match memchr::memchr(b'"', stretch) {
                None => [false, true],
                Some(_) => [false, true].map(|open| ends_open(stretch, delimiter, open)),
            }
        })
        .collect();
    let mut open = false;
    let mut closed = Vec::with_capacity(starts.len());
    for (start, after) in starts.into_iter().zip(after) {
        if !open {
            closed.push(start);
        }
        open = after[usize::from(open)];
    }
    closed
}

/// Whether a stretch that begins after a line break ends inside quotation marks.
fn ends_open(text: &[u8], delimiter: u8, mut open: bool) -> bool {
    let mut at = 0;
    while let Some(n) = text.get(at..).and_then(|rest| memchr::memchr(b'"', rest)) {
        let quote = at + n;
        at = quote + 1;
        if open {
            if text.get(at) == Some(&b'"') {
                at += 1;
            } else {
                open = false;
            }
        } else {
            // A quotation mark opens a cell at its start only.
            let before = quote.checked_sub(1).and_then(|b| text.get(b)).copied();
            open = before.is_none_or(|b| b == delimiter || b == b'\n' || b == b'\r');
        }
    }
    open
}
