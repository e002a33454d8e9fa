//! Cells as a log's owner wrote them, kept until every rule has spoken: a finding must show what stands in the file,
//! not what was understood by it.

use std::borrow::Cow;

use super::Word;
use super::rows::Field;
use super::table::Column;
use super::text::Records;

/// The column of each field, in the order of [`Field::CELLS`].
pub(crate) type Places = [Option<usize>; Field::CELLS.len()];

/// The cells of the rows of one log.
#[derive(Debug)]
pub(crate) enum Written<'a> {
    /// A log that is not read yet.
    None,
    /// The whole text, decoded; a row is read again where it stands.
    Text { bytes: Cow<'a, [u8]>, delimiter: u8, at: Places },
    /// Columns that stay in memory anyway.
    Columns { columns: &'a [Column], at: Places },
}

impl Written<'_> {
    /// A cell of the row at a position; empty for a field without a column.
    pub(crate) fn cell(&self, position: u64, field: Field) -> String {
        match self {
            Written::None => String::new(),
            Written::Columns { columns, at } => {
                let column = at.get(field as usize).copied().flatten().and_then(|c| columns.get(c));
                column.map_or_else(String::new, |c| c.written(position))
            }
            Written::Text { bytes, delimiter, at } => {
                let place = usize::try_from(position).unwrap_or(usize::MAX);
                let row = Records::record_at(Word::default(), bytes, *delimiter, place);
                let column = at.get(field as usize).copied().flatten();
                let cell = row.as_ref().zip(column).and_then(|(row, c)| row.get(c)).unwrap_or(&[]);
                String::from_utf8_lossy(cell).into_owned()
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::{Source, Table, TableFormat};

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
        let mut rows = Vec::new();
        while table.advance().unwrap() {
            rows.push(table.position());
        }
        let (bytes, delimiter) = table.into_text().unwrap();
        let written = Written::Text { bytes, delimiter, at };
        let cells = |row: u64| [Field::Serial, Field::Site, Field::Hours, Field::Strikes].map(|f| written.cell(row, f));
        assert_eq!(cells(rows[0]), [" 1.894", "", &long, ""]);
        assert_eq!(cells(rows[1]), ["Ä", "", "", "q\"r"]);
    }
}
