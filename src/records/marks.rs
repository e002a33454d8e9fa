//! Where cells end and records begin, found many bytes at a time.

use rayon::prelude::*;

/// Bytes looked at together.
const BLOCK: usize = 64;

/// Ends of cells outside quotation marks: delimiters and line breaks, in order.
#[derive(Clone, Debug)]
pub(super) struct Marks {
    delimiter: u8,
    /// Start of the block last looked at, and the marks in it that are still to come, a bit for each byte.
    block: usize,
    left: u64,
    next: usize,
}

impl Marks {
    pub(super) fn new(delimiter: u8) -> Self {
        Self { delimiter, block: 0, left: 0, next: 0 }
    }

    /// The first mark at or after a place that never falls from call to call; the length of the text if there is none.
    #[inline]
    pub(super) fn next(&mut self, bytes: &[u8], from: usize) -> usize {
        loop {
            while self.left != 0 {
                let at = self.block + self.left.trailing_zeros() as usize;
                self.left &= self.left - 1;
                if at >= from {
                    return at;
                }
            }
            if !self.look(bytes, from) {
                return bytes.len();
            }
        }
    }

    /// Looks at the next block; false at the end of the text. Apart, so that the way to a mark already found stays short.
    #[inline(never)]
    fn look(&mut self, bytes: &[u8], from: usize) -> bool {
        self.block = self.next.max(from - from % BLOCK);
        let Some(rest) = bytes.get(self.block..).filter(|rest| !rest.is_empty()) else { return false };
        self.left = if let Some(block) = rest.first_chunk() {
            found(self.delimiter, block)
        } else {
            // Zeros fill the last block: no delimiter is zero.
            let mut last = [0; BLOCK];
            last.iter_mut().zip(rest).for_each(|(to, from)| *to = *from);
            found(self.delimiter, &last)
        };
        self.next = self.block + BLOCK;
        true
    }
}

/// A bit for each byte that is a mark.
#[inline(never)]
fn found(delimiter: u8, block: &[u8; BLOCK]) -> u64 {
    // The compiler compares many bytes at a time.
    let mut marks = [0_u8; BLOCK];
    for (mark, &b) in marks.iter_mut().zip(block) {
        *mark = u8::from(b == delimiter) | u8::from(b == b'\n') | u8::from(b == b'\r');
    }
    let (eights, _) = marks.as_chunks::<8>();
    let mut bits = 0;
    for (i, eight) in eights.iter().enumerate() {
        bits |= (u64::from_le_bytes(*eight).wrapping_mul(GATHER) >> 56) << (8 * i);
    }
    bits
}

/// Moves the lowest bit of each byte into the highest byte, that of the first byte lowest.
const GATHER: u64 = 0x0102_0408_1020_4080;

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
