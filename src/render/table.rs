//! Tables for the terminal: plain lines under a ruled header, as wide as the caller says, without colour unless asked.

use super::one_line;
use anstyle::Style;
use comfy_table::presets::NOTHING;
use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, LineStyle, Width};

/// Spaces between columns.
const GAP: usize = 2;
/// Longer words may be broken by a narrow terminal.
const LONGEST_KEPT_WORD: usize = 14;

/// The side of its column that a cell stands on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// How a terminal wants its text.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Screen {
    /// Columns; as wide as the content needs where `None`.
    pub width: Option<u16>,
    /// True where ANSI styles may be written.
    pub colour: bool,
}

/// A table under construction.
#[derive(Clone, Debug, Default)]
pub struct Table {
    titles: Vec<String>,
    sides: Vec<Align>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// A table of these columns.
    #[must_use]
    pub fn new(columns: &[(&str, Align)]) -> Self {
        Self {
            titles: columns.iter().map(|(title, _)| (*title).to_owned()).collect(),
            sides: columns.iter().map(|(_, side)| *side).collect(),
            rows: Vec::new(),
        }
    }

    /// Adds a row. Cells beyond the columns are left out, missing ones are empty; each is held to one line of its own.
    pub fn row<Cell: AsRef<str>>(&mut self, cells: impl IntoIterator<Item = Cell>) {
        let mut row: Vec<String> = cells.into_iter().map(|cell| one_line(cell.as_ref())).collect();
        row.resize(self.titles.len(), String::new());
        self.rows.push(row);
    }

    /// True where no row was added.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The longest word of a column with the gap after it: a narrow terminal does not break words, up to a measure.
    fn longest_word(&self, column: usize) -> u16 {
        let cells = self.rows.iter().filter_map(|row| row.get(column)).chain(self.titles.get(column));
        let words = cells.flat_map(|cell| cell.split_whitespace());
        let longest = words.map(|word| word.chars().count()).max().unwrap_or(0);
        u16::try_from(longest.min(LONGEST_KEPT_WORD) + GAP).unwrap_or(u16::MAX)
    }

    /// The table as lines, each ended by a line break. Cells are wrapped where the screen is narrower than they are.
    #[must_use]
    pub fn render(&self, screen: Screen) -> String {
        let mut table = comfy_table::Table::new();
        table.load_style(NOTHING.header_separator(LineStyle::none().fill('-')));
        table.set_header(&self.titles);
        if let Some(width) = screen.width {
            table.set_content_arrangement(ContentArrangement::Dynamic).set_width(width);
        }
        table.add_rows(&self.rows);
        for (column, side) in self.sides.iter().enumerate() {
            let longest = self.longest_word(column);
            if let Some(column) = table.column_mut(column) {
                if screen.width.is_some() {
                    column.set_constraint(ColumnConstraint::LowerBoundary(Width::Fixed(longest)));
                }
                column.set_padding((0, 2));
                column.set_cell_alignment(match side {
                    Align::Left => CellAlignment::Left,
                    Align::Right => CellAlignment::Right,
                });
            }
        }
        let mut text = String::new();
        let mut in_header = true;
        for line in table.lines() {
            let line = line.trim_end();
            in_header &= !line.starts_with("--");
            text.push_str(&strong(line, screen.colour && in_header));
            text.push('\n');
        }
        text
    }
}

/// The text in bold, where `styled`.
#[must_use]
pub fn strong(text: &str, styled: bool) -> String {
    if !styled || text.is_empty() {
        return text.to_owned();
    }
    let bold = Style::new().bold();
    format!("{bold}{text}{bold:#}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn example() -> Table {
        let mut table = Table::new(&[("Material", Align::Left), ("Amount", Align::Right)]);
        table.row(["Shea butter, unrefined", "1.5 kg"]);
        table.row(["Tins\r\n\u{1b}[31m60 ml", "24 pcs"]);
        table
    }

    #[test]
    fn columns_line_up_and_numbers_stand_right() {
        let expected = "\
Material                Amount
--------------------------------
Shea butter, unrefined  1.5 kg
Tins   [31m60 ml        24 pcs
";
        assert_eq!(example().render(Screen::default()), expected);
    }

    #[test]
    fn a_narrow_screen_wraps_cells() {
        let text = example().render(Screen { width: Some(24), colour: false });
        assert!(text.lines().all(|line| line.chars().count() <= 24), "{text}");
        assert!(text.contains("unrefined") && text.contains("24 pcs"), "{text}");
    }

    #[test]
    fn colour_comes_only_when_asked() {
        let screen = |colour| Screen { width: None, colour };
        assert!(!example().render(screen(false)).contains('\u{1b}'));
        let coloured = example().render(screen(true));
        assert_eq!(coloured.matches('\u{1b}').count(), 2, "{coloured:?}");
        assert!(coloured.starts_with("\u{1b}[1mMaterial"), "{coloured:?}");
    }
}
