//! Tables for the terminal: plain lines under a ruled header, no wider than the screen, without colour unless asked. Where
//! the columns do not fit beside each other, cells are wrapped; where that would make a column of crumbs, the widest of them
//! go below their row.

use super::one_line;
use super::paragraph::wrapped;
use super::sparkline::lowest;
use anstyle::Style;
use comfy_table::presets::NOTHING;
use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, LineStyle, Width};
use serde::Serialize;

/// Spaces between columns.
const GAP: usize = 2;
/// Longer words may be broken by a narrow terminal, and shorter cells stay on one line.
const LONGEST_KEPT: usize = 14;
/// Widest curve, in characters.
const WIDEST_CURVE: usize = 31;
/// Narrowest curve: less says nothing.
const NARROWEST_CURVE: usize = 8;
/// What stands before the columns that went below their row.
const BELOW: &str = "    ";

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

    /// The table as lines, each ended by a line break, none wider than the screen.
    #[must_use]
    pub fn render(&self, screen: Screen) -> String {
        let Some((title, values)) = &self.curves else { return self.fitted(screen) };
        let mut table = Self { curves: None, ..self.clone() };
        let beside: usize = (0..table.titles.len()).map(|column| table.widest(column) + GAP).sum();
        let room = screen.width.map_or(WIDEST_CURVE, |width| usize::from(width).saturating_sub(beside + GAP));
        // A curve is worth having, but not worth breaking what it stands beside.
        if room >= NARROWEST_CURVE {
            table.titles.push(title.clone());
            table.sides.push(Align::Left);
            for (row, values) in table.rows.iter_mut().zip(values) {
                row.push(lowest(values, room.min(WIDEST_CURVE)));
            }
        }
        table.fitted(screen)
    }

    /// The widest cell of a column, its title among them, in characters.
    fn widest(&self, column: usize) -> usize {
        let cells = self.rows.iter().filter_map(|row| row.get(column)).chain(self.titles.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    }

    /// The least a column needs, without the gap: numbers and short cells on one line, else the longest word.
    fn least(&self, column: usize) -> usize {
        let widest = self.widest(column);
        if self.sides[column] == Align::Right || widest <= LONGEST_KEPT {
            return widest;
        }
        let cells = self.rows.iter().filter_map(|row| row.get(column)).chain(self.titles.get(column));
        let words = cells.flat_map(|cell| cell.split_whitespace()).map(|word| word.chars().count());
        words.max().unwrap_or(0).min(LONGEST_KEPT)
    }

    fn fitted(&self, screen: Screen) -> String {
        let natural = self.grid(None);
        let Some(width) = screen.width else { return headed(&natural, None, screen.colour) };
        if fits(&natural, width) {
            return headed(&natural, Some(width), screen.colour);
        }
        // One line more for each row at the most, on average: beyond that, what a row says is easier read below it.
        let wrapped = self.grid(Some(width));
        if fits(&wrapped, width) && wrapped.len() <= 2 + 2 * self.rows.len() {
            return headed(&wrapped, Some(width), screen.colour);
        }
        self.stacked(width, screen.colour)
    }

    /// With the widest columns of words below their rows, as many of them as it takes.
    fn stacked(&self, width: u16, colour: bool) -> String {
        let mut beside: Vec<usize> = (0..self.titles.len()).collect();
        loop {
            let kept = self.of_columns(&beside);
            let grid = kept.grid(None);
            if fits(&grid, width) {
                return self.with_below(&grid, &beside, width, colour);
            }
            let movable = beside.iter().copied().filter(|&column| column >= self.lead);
            let words = movable.filter(|&column| self.sides[column] == Align::Left);
            let last = || beside.iter().copied().rfind(|&column| column >= self.lead);
            let Some(widest) = words.max_by_key(|&column| self.widest(column)).or_else(last) else {
                return self.cards(width, colour);
            };
            beside.retain(|&column| column != widest);
        }
    }

    fn of_columns(&self, columns: &[usize]) -> Self {
        let pick = |cells: &[String]| columns.iter().map(|&column| cells[column].clone()).collect::<Vec<_>>();
        Self {
            titles: pick(&self.titles),
            sides: columns.iter().map(|&column| self.sides[column]).collect(),
            rows: self.rows.iter().map(|row| pick(row)).collect(),
            ..Self::default()
        }
    }

    /// The lines of a grid of the columns `beside`, each row followed by its other cells. The grid has a line for each row.
    fn with_below(&self, grid: &[String], beside: &[usize], width: u16, colour: bool) -> String {
        let mut text = headed(&grid[..2.min(grid.len())], Some(width), colour);
        for (line, row) in grid.iter().skip(2).zip(&self.rows) {
            text.push_str(&format!("{line}\n"));
            text.push_str(&wrapped(BELOW, &self.told(row, |column| !beside.contains(&column)), usize::from(width)));
        }
        text
    }

    /// Each row as a short paragraph, for the narrowest of screens.
    fn cards(&self, width: u16, colour: bool) -> String {
        let mut text = String::new();
        for row in &self.rows {
            let lead = row.iter().take(self.lead).filter(|cell| !cell.is_empty()).cloned().collect::<Vec<_>>();
            for line in wrapped("", &lead.join(", "), usize::from(width)).lines() {
                text.push_str(&format!("{}\n", strong(line, colour)));
            }
            text.push_str(&wrapped(BELOW, &self.told(row, |column| column >= self.lead), usize::from(width)));
        }
        text
    }

    /// The cells of some columns, each after its title; the empty ones are left out.
    fn told(&self, row: &[String], is_told: impl Fn(usize) -> bool) -> String {
        let cells = self.titles.iter().zip(row).enumerate();
        let told = cells.filter(|(column, (_, cell))| is_told(*column) && !cell.is_empty());
        told.map(|(_, (title, cell))| format!("{title}: {cell}").trim().to_owned()).collect::<Vec<_>>().join("; ")
    }

    /// The lines of the columns beside each other, as wide as they need, or wrapped to a width if they can be.
    fn grid(&self, width: Option<u16>) -> Vec<String> {
        let mut table = comfy_table::Table::new();
        table.load_style(NOTHING.header_separator(LineStyle::none().fill('-')));
        table.set_header(&self.titles);
        if let Some(width) = width {
            table.set_content_arrangement(ContentArrangement::Dynamic).set_width(width);
        }
        table.add_rows(&self.rows);
        for (place, side) in self.sides.iter().enumerate() {
            let least = u16::try_from(self.least(place) + GAP).unwrap_or(u16::MAX);
            if let Some(column) = table.column_mut(place) {
                if width.is_some() {
                    column.set_constraint(ColumnConstraint::LowerBoundary(Width::Fixed(least)));
                }
                column.set_padding((0, 2));
                column.set_cell_alignment(match side {
                    Align::Left => CellAlignment::Left,
                    Align::Right => CellAlignment::Right,
                });
            }
        }
        table.lines().map(|line| line.trim_end().to_owned()).collect()
    }
}

/// True where no line is wider. The rule under the header runs on under the last gap, and is cut where that is too much.
fn fits(lines: &[String], width: u16) -> bool {
    lines.iter().all(|line| line.starts_with("--") || line.chars().count() <= usize::from(width))
}

/// The lines, those above the rule in bold where there is colour, the rule no longer than the screen is wide.
fn headed(lines: &[String], width: Option<u16>, colour: bool) -> String {
    let mut text = String::new();
    let mut in_header = true;
    for line in lines {
        let is_rule = line.starts_with("--");
        in_header &= !is_rule;
        let longest = width.filter(|_| is_rule).map_or(line.len(), |width| line.len().min(usize::from(width)));
        text.push_str(&strong(&line[..longest], colour && in_header));
        text.push('\n');
    }
    text
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
    fn what_does_not_fit_beside_goes_below_its_row() {
        let mut table = Table::new(&[
            ("Day", Align::Left),
            ("Entry", Align::Left),
            ("Takes", Align::Left),
            ("Amount", Align::Right),
        ]);
        table.row(["Mon 1 March", "E01", "350 g Olive oil, 120 g Coconut oil, 80 g Shea butter", "24 pcs"]);
        table.row(["Tue 2 March", "E02", "", "6 pcs"]);
        let expected = "\
Day          Entry  Amount
----------------------------
Mon 1 March  E01    24 pcs
    Takes: 350 g Olive oil,
    120 g Coconut oil, 80 g
    Shea butter
Tue 2 March  E02     6 pcs
";
        assert_eq!(table.render(Screen { width: Some(28), colour: false }), expected);
    }

    #[test]
    fn no_screen_is_too_narrow() {
        let mut table = example();
        table.row(["Calendula-infused sunflower oil", "9223372036854.776 kg"]);
        for width in 24..60 {
            let text = table.render(Screen { width: Some(width), colour: false });
            assert!(text.lines().all(|line| line.chars().count() <= usize::from(width)), "{width}\n{text}");
        }
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
