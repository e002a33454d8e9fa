//! Cells as a log's owner wrote them, kept until every rule has spoken: a finding must show what stands in the file,
//! not what was understood by it.

use super::rows::Field;
use super::table::{Column, Table};

/// The column of each field, in the order of [`Field::CELLS`].
pub(crate) type Places = [Option<usize>; Field::CELLS.len()];

/// The cells of the rows of one log.
#[derive(Debug)]
pub(crate) enum Written<'a> {
    /// Cells of text, decoded, one after the other and each after its length.
    Text { bytes: Vec<u8>, at: Places },
    /// Columns that stay in memory anyway.
    Columns { columns: &'a [Column], at: Places },
}

/// A length of one byte below this; the others follow it in four.
const LONG: u8 = u8::MAX;

impl Written<'_> {
    /// Keeps the present row of a table and says where.
    pub(crate) fn keep(&mut self, table: &Table<'_>) -> u64 {
        match self {
            Written::Columns { .. } => table.row(),
            Written::Text { bytes, at } => {
                let start = bytes.len() as u64;
                for column in at {
                    let cell = column.map_or(&[][..], |c| table.bytes(c));
                    match u8::try_from(cell.len()) {
                        Ok(short) if short < LONG => bytes.push(short),
                        _ => {
                            bytes.push(LONG);
                            // No cell is longer than MAX_FIELD.
                            bytes.extend_from_slice(&(cell.len() as u32).to_le_bytes());
                        }
                    }
                    bytes.extend_from_slice(cell);
                }
                start
            }
        }
    }

    /// A cell of a row kept; empty for a field without a column.
    pub(crate) fn cell(&self, row: u64, field: Field) -> String {
        match self {
            Written::Columns { columns, at } => {
                let column = at.get(field as usize).copied().flatten().and_then(|c| columns.get(c));
                column.map_or_else(String::new, |c| c.written(row))
            }
            Written::Text { bytes, .. } => {
                let mut rest = bytes.get(usize::try_from(row).unwrap_or(usize::MAX)..).unwrap_or(&[]);
                for _ in 0..field as usize {
                    rest = cut(rest).1;
                }
                String::from_utf8_lossy(cut(rest).0).into_owned()
            }
        }
    }
}

/// The first cell, and what follows it.
fn cut(bytes: &[u8]) -> (&[u8], &[u8]) {
    let (length, rest) = match bytes {
        [LONG, a, b, c, d, rest @ ..] => (u32::from_le_bytes([*a, *b, *c, *d]) as usize, rest),
        [short, rest @ ..] => (usize::from(*short), rest),
        [] => (0, bytes),
    };
    rest.split_at_checked(length).unwrap_or((&[], &[]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::{Source, TableFormat};

    #[test]
    fn fields_are_numbered_in_the_order_of_their_cells() {
        for (i, field) in Field::CELLS.into_iter().enumerate() {
            assert_eq!(field as usize, i);
        }
    }

    #[test]
    fn short_long_and_empty_cells_come_back_as_written() {
        let long = "x".repeat(300);
        let text = format!("a,b,c\n 1.894,\"{long}\",\nÄ,,\"q\"\"r\"\n");
        let mut table = Table::open("t", Source::Bytes(text.as_bytes()), &TableFormat::default()).unwrap();
        let mut at = [None; Field::CELLS.len()];
        for (column, field) in [Field::Serial, Field::Hours, Field::Strikes].into_iter().enumerate() {
            at[field as usize] = Some(column);
        }
        let mut written = Written::Text { bytes: Vec::new(), at };
        let mut rows = Vec::new();
        while table.advance().unwrap() {
            rows.push(written.keep(&table));
        }
        let cells = |row: u64| [Field::Serial, Field::Site, Field::Hours, Field::Strikes].map(|f| written.cell(row, f));
        assert_eq!(cells(rows[0]), [" 1.894", "", &long, ""]);
        assert_eq!(cells(rows[1]), ["Ä", "", "", "q\"r"]);
    }
}
