//! The cells of a row in one text, one after the other: a long table takes two pieces of memory for a row, not one for each
//! cell.

use csv::StringRecord;

/// The cells of a row, from left to right.
#[derive(Clone, Debug, Default)]
pub(super) struct RowCells {
    text: String,
    /// Where each cell ends in the text. A table holds far less text than 32 bits count.
    ends: Vec<u32>,
}

impl RowCells {
    /// Adds a cell at the right.
    pub(super) fn push(&mut self, cell: &str) {
        self.text.push_str(cell);
        self.ends.push(u32::try_from(self.text.len()).unwrap_or(u32::MAX));
    }

    /// The cell at a place.
    pub(super) fn get(&self, place: usize) -> Option<&str> {
        let end = *self.ends.get(place)?;
        let start = if place == 0 { 0 } else { self.ends[place - 1] };
        self.text.get(start as usize..end as usize)
    }

    /// How many there are.
    pub(super) fn len(&self) -> usize {
        self.ends.len()
    }

    /// The cell furthest to the left.
    pub(super) fn first(&self) -> Option<&str> {
        self.get(0)
    }

    /// All of them.
    pub(super) fn iter(&self) -> impl Iterator<Item = &str> {
        (0..self.len()).filter_map(|place| self.get(place))
    }
}

impl From<&StringRecord> for RowCells {
    /// The reader holds a record in the same way: both parts are copied as they are, with room for no more.
    fn from(record: &StringRecord) -> Self {
        let end = |place| record.range(place).map_or(u32::MAX, |range| u32::try_from(range.end).unwrap_or(u32::MAX));
        Self { text: record.as_slice().to_owned(), ends: (0..record.len()).map(end).collect() }
    }
}

impl<Cell: AsRef<str>> FromIterator<Cell> for RowCells {
    fn from_iter<Cells: IntoIterator<Item = Cell>>(cells: Cells) -> Self {
        let mut row = Self::default();
        cells.into_iter().for_each(|cell| row.push(cell.as_ref()));
        row
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_come_back() {
        let cells = ["", "lot", "\u{e4}\u{4e00}", "", "x,y", ""];
        let row: RowCells = cells.iter().collect();
        assert_eq!(row.iter().collect::<Vec<_>>(), cells);
        assert_eq!((row.len(), row.first(), row.get(2), row.get(6)), (6, Some(""), Some("\u{e4}\u{4e00}"), None));
        assert_eq!(RowCells::default().first(), None);
        let read = RowCells::from(&StringRecord::from(cells.to_vec()));
        assert_eq!(read.iter().collect::<Vec<_>>(), cells);
        assert_eq!(RowCells::from(&StringRecord::new()).len(), 0);
    }
}
