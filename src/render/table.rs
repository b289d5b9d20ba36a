//! Tables for the terminal: plain lines under a ruled header, as wide as the caller says, without colour unless asked.

use super::one_line;
use super::sparkline::lowest;
use anstyle::Style;
use comfy_table::presets::NOTHING;
use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, LineStyle, Width};
use serde::Serialize;

/// Spaces between columns.
const GAP: usize = 2;
/// Longer words may be broken by a narrow terminal.
const LONGEST_KEPT_WORD: usize = 14;
/// Widest curve, in characters.
const WIDEST_CURVE: usize = 31;
/// What the other columns need before a curve gets any width.
const BESIDE_CURVE: usize = 84;

/// The side of its column that a cell stands on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
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

/// A table, for the terminal, a letter's text and a page. The fields are what templates may use.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Table {
    titles: Vec<String>,
    sides: Vec<Align>,
    rows: Vec<Vec<String>>,
    /// How many of the first columns say what a row is about: the head of its card on a narrow page.
    lead: usize,
    /// How many rows were left out at the end.
    left_out: usize,
    /// The last column on the terminal: one line of values a row, drawn small. Pages have pictures instead.
    #[serde(skip)]
    curves: Option<(String, Vec<Vec<i64>>)>,
}

impl Table {
    /// A table of these columns.
    #[must_use]
    pub fn new(columns: &[(&str, Align)]) -> Self {
        Self {
            titles: columns.iter().map(|(title, _)| (*title).to_owned()).collect(),
            sides: columns.iter().map(|(_, side)| *side).collect(),
            lead: columns.len().min(2),
            ..Self::default()
        }
    }

    /// Says how many of the first columns tell what a row is about; two where nothing is said.
    #[must_use]
    pub fn lead(self, lead: usize) -> Self {
        Self { lead: lead.clamp(1, self.titles.len().max(1)), ..self }
    }

    /// Adds a last column that only the terminal shows: a small curve for each row, in the order of the rows.
    #[must_use]
    pub fn curves(self, title: &str, values: Vec<Vec<i64>>) -> Self {
        Self { curves: Some((title.to_owned(), values)), ..self }
    }

    /// Leaves out what is beyond the first `most` rows, and remembers how many that were. True where some were.
    pub fn cut(&mut self, most: usize) -> bool {
        let over = self.rows.len().saturating_sub(most);
        self.rows.truncate(most);
        self.left_out += over;
        over > 0
    }

    /// How many rows were left out.
    #[must_use]
    pub fn left_out(&self) -> usize {
        self.left_out
    }

    /// The columns' titles.
    #[must_use]
    pub fn titles(&self) -> &[String] {
        &self.titles
    }

    /// The rows: each a cell for every title.
    #[must_use]
    pub fn rows(&self) -> &[Vec<String>] {
        &self.rows
    }

    /// How many of the first columns tell what a row is about.
    #[must_use]
    pub fn lead_columns(&self) -> usize {
        self.lead
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
        let Some((title, values)) = &self.curves else { return self.plain(screen) };
        let drawn = screen
            .width
            .map_or(WIDEST_CURVE, |width| usize::from(width).saturating_sub(BESIDE_CURVE).clamp(8, WIDEST_CURVE));
        let mut table = Self { curves: None, ..self.clone() };
        table.titles.push(title.clone());
        table.sides.push(Align::Left);
        for (row, values) in table.rows.iter_mut().zip(values) {
            row.push(lowest(values, drawn));
        }
        table.plain(screen)
    }

    fn plain(&self, screen: Screen) -> String {
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
