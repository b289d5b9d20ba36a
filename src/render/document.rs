//! A report as a document: a title, facts, and sections of paragraphs, lists, tables, sums and pictures. Every report is
//! worded once, as one of these; from it come the terminal's text, a letter's text and HTML, and the page.

use super::one_line;
use super::picture::Picture;
use super::table::Table;
use crate::view::FindingView;
use serde::Serialize;

/// A report in words. The fields are what templates in `reports/` may use.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Document {
    /// The report's name, for files and templates: `month`.
    pub name: String,
    /// The news in one line.
    pub title: String,
    /// Quiet facts below the title: of which day, for which days.
    pub facts: Vec<String>,
    /// What it says, in order.
    pub sections: Vec<Section>,
    /// What it ends with.
    pub footer: Vec<String>,
}

/// A part of a report.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Section {
    /// Its title; may be empty.
    pub heading: String,
    /// True for what should not be overlooked.
    pub warning: bool,
    /// What is in it.
    pub blocks: Vec<Block>,
}

/// A piece of a section.
#[derive(Clone, Debug, Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum Block {
    /// Sentences.
    Paragraph {
        /// The words.
        text: String,
    },
    /// A short list.
    List {
        /// A line each.
        lines: Vec<String>,
        /// How many lines were left out at the end.
        left_out: usize,
    },
    /// A table.
    Table(Table),
    /// What is ordered, line by line with its reasons.
    Lines {
        /// The lines.
        lines: Vec<OrderLine>,
        /// How many lines were left out at the end.
        left_out: usize,
    },
    /// Names and amounts.
    Sums {
        /// One under the other.
        sums: Vec<Sum>,
    },
    /// Something to look at.
    Picture(Picture),
}

/// One line of an order.
#[derive(Clone, Debug, Serialize)]
pub struct OrderLine {
    /// The material.
    pub name: String,
    /// `3 x 500 g`.
    pub packs: String,
    /// Price of one pack: `12.50 EUR`.
    pub price: String,
    /// Price of all packs; empty where the currency is not known.
    pub sum: String,
    /// All packs together: `1.5 kg`.
    pub amount: String,
    /// The supplier's number; may be empty.
    pub item_no: String,
    /// The shortages behind it, a phrase each.
    pub why: Vec<String>,
    /// What will be left over of it; empty where nothing.
    pub left_over: String,
}

/// A sum with its name.
#[derive(Clone, Debug, Serialize)]
pub struct Sum {
    /// `Postage`.
    pub label: String,
    /// `4.90 EUR`.
    pub amount: String,
    /// True for the one that counts.
    pub strong: bool,
}

/// How much of a report a letter shows before it points to the whole in its attachment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cut {
    /// Rows of a table.
    pub rows: usize,
    /// Lines of a list or an order.
    pub lines: usize,
    /// Pictures of the whole report.
    pub pictures: usize,
    /// Sections.
    pub sections: usize,
}

impl Document {
    /// A document without sections.
    #[must_use]
    pub fn new(name: &str, title: impl Into<String>) -> Self {
        Self { name: name.to_owned(), title: title.into(), ..Self::default() }
    }

    /// With a fact below the title.
    #[must_use]
    pub fn fact(mut self, fact: impl Into<String>) -> Self {
        self.facts.push(fact.into());
        self
    }

    /// With another section; none where nothing is in it.
    #[must_use]
    pub fn section(mut self, heading: &str, blocks: Vec<Block>) -> Self {
        let blocks: Vec<Block> = blocks.into_iter().filter(|block| !block.is_empty()).collect();
        if !blocks.is_empty() {
            self.sections.push(Section { heading: heading.to_owned(), warning: false, blocks });
        }
        self
    }

    /// With a section that should not be overlooked; none where nothing is in it.
    #[must_use]
    pub fn warning(self, heading: &str, blocks: Vec<Block>) -> Self {
        let before = self.sections.len();
        let mut document = self.section(heading, blocks);
        for section in document.sections.iter_mut().skip(before) {
            section.warning = true;
        }
        document
    }

    /// With what was noticed.
    #[must_use]
    pub fn noticed(self, findings: &[FindingView]) -> Self {
        let lines = findings.iter().map(|finding| one_line(&finding.message)).collect();
        self.section("Also noticed", vec![Block::list(lines)])
    }

    /// With a closing sentence.
    #[must_use]
    pub fn footer(mut self, words: impl Into<String>) -> Self {
        self.footer.push(words.into());
        self
    }

    /// The pictures, in order.
    pub fn pictures(&self) -> impl Iterator<Item = &Picture> {
        self.sections.iter().flat_map(|section| &section.blocks).filter_map(|block| match block {
            Block::Picture(picture) => Some(picture),
            _ => None,
        })
    }

    /// As much of it as a letter shows, and whether something was left out.
    #[must_use]
    pub fn cut(&self, cut: Cut) -> (Self, bool) {
        let mut short = self.clone();
        let mut left_out = short.sections.len() > cut.sections;
        short.sections.truncate(cut.sections);
        let mut pictures = 0;
        for section in &mut short.sections {
            section.blocks.retain(|block| {
                pictures += usize::from(matches!(block, Block::Picture(_)));
                let kept = !matches!(block, Block::Picture(_)) || pictures <= cut.pictures;
                left_out |= !kept;
                kept
            });
            for block in &mut section.blocks {
                left_out |= block.cut(cut);
            }
        }
        short.sections.retain(|section| !section.blocks.is_empty());
        (short, left_out)
    }
}

impl Block {
    /// A paragraph.
    #[must_use]
    pub fn paragraph(text: impl Into<String>) -> Self {
        Self::Paragraph { text: text.into() }
    }

    /// A list.
    #[must_use]
    pub fn list(lines: Vec<String>) -> Self {
        Self::List { lines, left_out: 0 }
    }

    fn is_empty(&self) -> bool {
        match self {
            Self::Paragraph { text } => text.is_empty(),
            Self::List { lines, .. } => lines.is_empty(),
            Self::Table(table) => table.is_empty(),
            Self::Lines { lines, .. } => lines.is_empty(),
            Self::Sums { sums } => sums.is_empty(),
            Self::Picture(_) => false,
        }
    }

    /// Shortens it; true where something was left out.
    fn cut(&mut self, cut: Cut) -> bool {
        match self {
            Self::Table(table) => table.cut(cut.rows),
            Self::List { lines, left_out } => shorten(lines, left_out, cut.lines),
            Self::Lines { lines, left_out } => shorten(lines, left_out, cut.lines),
            Self::Paragraph { .. } | Self::Sums { .. } | Self::Picture(_) => false,
        }
    }
}

fn shorten<Line>(lines: &mut Vec<Line>, left_out: &mut usize, most: usize) -> bool {
    let over = lines.len().saturating_sub(most);
    lines.truncate(most);
    *left_out += over;
    over > 0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::table::Align;

    #[test]
    fn a_long_report_is_cut_and_says_by_how_much() {
        let mut table = Table::new(&[("Day", Align::Left)]);
        for row in 0..5 {
            table.row([row.to_string()]);
        }
        let lines = (0..4).map(|line| line.to_string()).collect();
        let whole = Document::new("stock", "News").section("A", vec![Block::Table(table), Block::list(lines)]);
        let cut = |rows, lines| whole.cut(Cut { rows, lines, pictures: 1, sections: 1 });
        assert!(!cut(5, 4).1);
        let (short, left_out) = cut(3, 4);
        assert!(left_out);
        let [Block::Table(table), Block::List { left_out: 0, .. }] = short.sections[0].blocks.as_slice() else {
            panic!("{short:?}")
        };
        assert_eq!((table.rows().len(), table.left_out()), (3, 2));
        assert!(cut(5, 1).1);
    }

    #[test]
    fn a_section_with_nothing_in_it_is_none() {
        let empty = Table::new(&[("Day", Align::Left)]);
        let document = Document::new("stock", "News").section("A", vec![Block::Table(empty), Block::list(Vec::new())]);
        assert!(document.sections.is_empty());
    }
}
