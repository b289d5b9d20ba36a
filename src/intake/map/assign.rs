//! One cell of a mapped line to the text of one of our cells, by what the column of ours holds.

use super::cells::{
    DateOrder, DecimalSign, currencies, date, is_balance, number, span_unit, split_money, split_number, unit, word,
    yes_or_no,
};
use super::raw::{Cell, Line};
use super::{ColumnUse, MappedSheet, Meaning};
use crate::intake::columns::SheetKind;
use crate::intake::describe::Shape;
use crate::plan::decimal::Decimal;

/// What a cell became.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Value {
    /// The text for our cell; her own where it was not understood.
    pub(super) text: String,
    /// Of money: the currencies that it may be in, by its sign or code.
    pub(super) currencies: Vec<String>,
    /// The date was a month without a day.
    pub(super) is_month: bool,
}

/// A mapped line, with what its own cells say about the others.
pub(super) struct MappedLine<'a> {
    sheet: &'a MappedSheet,
    titles: &'a [String],
    /// The line as it stands.
    pub(super) line: &'a Line,
    decimal: Option<DecimalSign>,
    dates: Option<DateOrder>,
}

impl<'a> MappedLine<'a> {
    pub(super) fn new(sheet: &'a MappedSheet, titles: &'a [String], line: &'a Line) -> Self {
        Self { sheet, titles, line, decimal: sheet.decimal.get(), dates: sheet.dates.get() }
    }

    /// The title and use of the column that means this.
    pub(super) fn column(&self, kind: SheetKind, column: &str) -> Option<(&'a str, &'a ColumnUse)> {
        self.by_meaning(|meaning| matches!(meaning, Meaning::Column(own, name) if *own == kind && *name == column))
    }

    fn by_meaning(&self, fits: impl Fn(&Meaning) -> bool) -> Option<(&'a str, &'a ColumnUse)> {
        let found = self.sheet.columns.iter().find(|(_, column_use)| fits(&column_use.meaning));
        found.map(|(title, column_use)| (title.as_str(), column_use))
    }

    /// The cell under a title.
    pub(super) fn cell(&self, title: &str) -> &'a Cell {
        let place = self.titles.iter().position(|own| own == title);
        place.map_or(&Cell::Empty, |place| self.line.cell(place))
    }

    /// The words of the cell that means this, empty where there is none.
    pub(super) fn words(&self, kind: SheetKind, column: &str) -> &'a str {
        self.column(kind, column).map_or("", |(title, _)| self.cell(title).text())
    }

    /// The unit of a bare number: its column's, the line's, the sheet's.
    fn unit_of(&self, column_use: &ColumnUse) -> Option<String> {
        let of_line = || {
            let (title, _) = self.by_meaning(|meaning| *meaning == Meaning::Unit)?;
            let cell = self.cell(title).text();
            unit(cell).map(str::to_owned)
        };
        column_use.unit.clone().or_else(of_line).or_else(|| self.sheet.unit.get())
    }

    /// The currency of bare money: its column's, the line's, the sheet's.
    pub(super) fn currency_of(&self, column_use: &ColumnUse) -> Option<String> {
        let of_line = || {
            let (title, _) = self.by_meaning(|meaning| *meaning == Meaning::Currency)?;
            currencies(self.cell(title).text()).into_iter().next()
        };
        column_use.currency.clone().or_else(of_line).or_else(|| self.sheet.currency.get())
    }

    /// The number of a cell: a workbook's own number is taken as it is.
    fn number(&self, cell: &Cell, written: &str) -> Option<String> {
        match cell {
            Cell::Number(number) => Some(number.clone()),
            _ => number(written, self.decimal),
        }
    }

    /// Our text for a cell of hers.
    pub(super) fn value(&self, cell: &Cell, column_use: &ColumnUse, shape: Shape) -> Value {
        let as_it_is = || Value { text: cell.text().to_owned(), ..Value::default() };
        if cell.is_empty() {
            return Value::default();
        }
        let plain = |text: Option<String>| text.map_or_else(as_it_is, |text| Value { text, ..Value::default() });
        match shape {
            Shape::Amount | Shape::Mass | Shape::PlanAmount => plain(self.amount(cell, column_use)),
            Shape::Money => self.money(cell).unwrap_or_else(as_it_is),
            Shape::Share if is_balance(cell.text()) => plain(Some("balance".to_owned())),
            Shape::Percent | Shape::Share => plain(self.percent(cell, column_use)),
            Shape::Number | Shape::Whole => plain(self.number(cell, cell.text())),
            Shape::Days => plain(self.days(cell, column_use)),
            Shape::Span => plain(self.span(cell, column_use)),
            Shape::Date => date(cell, self.dates).map_or_else(as_it_is, |(day, is_month)| Value {
                text: day.to_string(),
                is_month,
                ..Value::default()
            }),
            Shape::YesNo => plain(yes_or_no(cell.text()).map(str::to_owned)),
            Shape::Currency => {
                let known = currencies(cell.text());
                plain(if known.len() == 1 { known.into_iter().next() } else { None })
            }
            Shape::Kind => plain(word(cell.text(), &["raw", "packaging"]).map(str::to_owned)),
            Shape::Use => plain(word(cell.text(), &["leave-on", "rinse-off"]).map(str::to_owned)),
            Shape::State => plain(word(cell.text(), &["released", "quarantine", "rejected"]).map(str::to_owned)),
            Shape::Text
            | Shape::Code
            | Shape::Name
            | Shape::Material
            | Shape::Item
            | Shape::Supplier
            | Shape::Formula
            | Shape::Product => as_it_is(),
        }
    }

    /// `2,5 kg`, or a bare number with the unit that is known for it.
    pub(super) fn amount(&self, cell: &Cell, column_use: &ColumnUse) -> Option<String> {
        let (written, rest) = split_number(cell.text())?;
        let number = self.number(cell, written)?;
        let unit = if rest.is_empty() { self.unit_of(column_use)? } else { unit(rest)?.to_owned() };
        Some(format!("{number} {unit}"))
    }

    fn money(&self, cell: &Cell) -> Option<Value> {
        let (written, sign) = split_money(cell.text())?;
        let currencies = currencies(sign);
        if !sign.is_empty() && currencies.is_empty() {
            return None;
        }
        Some(Value { text: self.number(cell, written)?, currencies, ..Value::default() })
    }

    fn percent(&self, cell: &Cell, column_use: &ColumnUse) -> Option<String> {
        let (written, rest) = split_number(cell.text())?;
        if !rest.is_empty() && unit(rest) != Some("%") {
            return None;
        }
        let number = self.number(cell, written)?;
        if column_use.fractions && rest.is_empty() { hundredfold(&number) } else { Some(number) }
    }

    fn days(&self, cell: &Cell, column_use: &ColumnUse) -> Option<String> {
        let (written, rest) = split_number(cell.text())?;
        let number = self.number(cell, written)?;
        let word = if rest.is_empty() { column_use.unit.as_deref().unwrap_or("days") } else { rest };
        match span_unit(word)? {
            "days" => Some(number),
            "weeks" => number.parse::<u32>().ok()?.checked_mul(7).map(|days| days.to_string()),
            _ => None,
        }
    }

    fn span(&self, cell: &Cell, column_use: &ColumnUse) -> Option<String> {
        let (written, rest) = split_number(cell.text())?;
        let number = self.number(cell, written)?;
        let word = if rest.is_empty() { column_use.unit.as_deref()? } else { rest };
        Some(format!("{number} {}", span_unit(word)?))
    }
}

/// A number times a hundred, exactly: the point goes two places on.
pub(super) fn hundredfold(number: &str) -> Option<String> {
    let decimal = number.parse::<Decimal>().ok()?;
    let scaled = decimal.scaled(decimal.places.max(2)).ok()?;
    Some(crate::plan::decimal::shortest(scaled, decimal.places.max(2) - 2))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::map::Decision;
    use crate::intake::map::raw::text_cell;

    #[test]
    fn cells_become_our_cells() {
        let mut sheet = MappedSheet::new("");
        sheet.decimal = Decision::Is(DecimalSign::Comma);
        sheet.dates = Decision::Is(DateOrder::DayMonthYear);
        let line = Line { number: 2, cells: Vec::new() };
        let mapped = MappedLine::new(&sheet, &[], &line);
        let check = |text: &str, shape, unit: Option<&str>, expected: &str| {
            let column_use = ColumnUse { unit: unit.map(str::to_owned), ..ColumnUse::default() };
            assert_eq!(mapped.value(&text_cell(text), &column_use, shape).text, expected, "{text}");
        };
        check("2,5", Shape::Amount, Some("kg"), "2.5 kg");
        check("2,5 Gramm", Shape::Amount, Some("kg"), "2.5 g");
        check("1.250", Shape::Amount, Some("g"), "1250 g");
        check("12 Stück", Shape::Amount, None, "12 pcs");
        check("ca. 500", Shape::Amount, Some("g"), "ca. 500");
        check("500", Shape::Amount, None, "500");
        check("€ 1.234,50", Shape::Money, None, "1234.50");
        check("12,50 pro kg", Shape::Money, None, "12,50 pro kg");
        check("2,5 %", Shape::Percent, None, "2.5");
        check("q.s. to 100", Shape::Share, None, "balance");
        check("5 Tage", Shape::Days, None, "5");
        check("6", Shape::Days, Some("weeks"), "42");
        check("5-7 days", Shape::Days, None, "5-7 days");
        check("24 M", Shape::Span, None, "24 months");
        check("24", Shape::Span, Some("months"), "24 months");
        check("P18M", Shape::Span, None, "P18M");
        check("9.3.2027", Shape::Date, None, "2027-03-09");
        check("ja", Shape::YesNo, None, "yes");
        check("Verpackung", Shape::Kind, None, "packaging");
        check("$", Shape::Currency, None, "$");
        check("€", Shape::Currency, None, "EUR");
        let number = Cell::Number("1.25".to_owned());
        let column_use = ColumnUse { fractions: true, ..ColumnUse::default() };
        assert_eq!(mapped.value(&number, &column_use, Shape::Share).text, "125");
        assert_eq!(hundredfold("0.0525").as_deref(), Some("5.25"));
        assert_eq!(hundredfold("0.05").as_deref(), Some("5"));
    }
}
