//! What is wrong in a file, where, and what would be right.

use std::fmt;

/// So many characters of a faulty value are shown; more would hide the message.
const SHOWN_CHARACTERS: usize = 60;

/// One fault of a file. [`fmt::Display`] makes one line of it:
/// `offers.csv, row 14, column pack: "5 kgs" is not an amount; write a number and a unit (...)`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The file, or the workbook and its sheet.
    pub file: String,
    /// The row as a spreadsheet shows it; the header is row 1.
    pub row: Option<usize>,
    /// The column's name.
    pub column: Option<String>,
    /// What stands there.
    pub value: Option<String>,
    /// What is wrong with it: the rest of a sentence that starts with the value.
    pub problem: String,
    /// What would be right, as an instruction.
    pub remedy: String,
}

impl Fault {
    /// A fault of a whole file. What problem and remedy name may have come from the file.
    pub(crate) fn of_file(file: &str, problem: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self {
            file: file.to_owned(),
            row: None,
            column: None,
            value: None,
            problem: one_line(&problem.into()),
            remedy: one_line(&remedy.into()),
        }
    }

    /// The same fault in a row.
    pub(crate) fn in_row(mut self, row: usize) -> Self {
        self.row = Some(row);
        self
    }

    /// The same fault in a column.
    pub(crate) fn in_column(mut self, column: &str) -> Self {
        self.column = Some(column.to_owned());
        self
    }

    /// The same fault with the value that was found.
    pub(crate) fn with_value(mut self, value: &str) -> Self {
        self.value = Some(value.to_owned());
        self
    }
}

/// A name or value that came from outside as it may be shown: what breaks a line, commands a terminal or turns the direction
/// of writing is marked as such.
pub(crate) fn one_line(text: &str) -> String {
    let odd = |letter: char| {
        letter.is_control()
            || matches!(letter, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    text.chars().map(|letter| if odd(letter) { '\u{fffd}' } else { letter }).collect()
}

/// A value in quotes on one line, cut where it is long.
pub(crate) fn quoted(value: &str) -> String {
    let mut shown: String = one_line(value).chars().take(SHOWN_CHARACTERS).collect();
    if value.chars().nth(SHOWN_CHARACTERS).is_some() {
        shown.push('…');
    }
    format!("\"{shown}\"")
}

impl fmt::Display for Fault {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(&self.file)?;
        if let Some(row) = self.row {
            write!(formatter, ", row {row}")?;
        }
        if let Some(column) = &self.column {
            write!(formatter, ", column {column}")?;
        }
        formatter.write_str(": ")?;
        if let Some(value) = &self.value {
            write!(formatter, "{} ", quoted(value))?;
        }
        write!(formatter, "{}; {}", self.problem, self.remedy)
    }
}

/// What is wrong with a value and what would be right, before it is known where it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Problem {
    pub(crate) problem: String,
    pub(crate) remedy: String,
}

impl Problem {
    pub(crate) fn new(problem: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { problem: problem.into(), remedy: remedy.into() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_is_one_line() {
        let fault = Fault::of_file("offers.csv", "is not an amount", "write one").in_row(14).in_column("pack");
        assert_eq!(
            fault.with_value("5\nkgs").to_string(),
            "offers.csv, row 14, column pack: \"5\u{fffd}kgs\" is not an amount; write one"
        );
        assert_eq!(quoted(&"x".repeat(61)), format!("\"{}…\"", "x".repeat(60)));
    }
}
