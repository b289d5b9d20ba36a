//! The style of a sheet: whether its decimals stand behind a point or a comma, and in which order its dates are written.
//! One cell that can be read in one way only decides; where none does, the maker is asked.

use super::Decision;
use super::cells::{DateOrder, DateParts, DecimalSign, NumberRead, date_parts, in_order, read_number, split_money};
use super::raw::Cell;

/// What was decided, and by what.
pub(super) struct Decided<T> {
    pub(super) decision: Decision<T>,
    pub(super) why: String,
}

/// The decimal mark of cells that hold numbers; each comes with its line's number.
pub(super) fn decimal<'a>(cells: impl Iterator<Item = (usize, &'a Cell)>) -> Decided<DecimalSign> {
    let mut point = None;
    let mut comma = None;
    let mut unclear = None;
    for (line, cell) in cells {
        // A number of a workbook has no style.
        let Cell::Text(text) = cell else { continue };
        let Some((number, _)) = split_money(text) else { continue };
        let shown = || format!("line {line}, \"{text}\"");
        match read_number(number) {
            Some(NumberRead::Only(DecimalSign::Point, _)) => drop(point.get_or_insert_with(shown)),
            Some(NumberRead::Only(DecimalSign::Comma, _)) => drop(comma.get_or_insert_with(shown)),
            Some(NumberRead::Unclear { .. }) => drop(unclear.get_or_insert_with(shown)),
            Some(NumberRead::Either(_)) | None => {}
        }
    }
    let (decision, why) = match (point, comma, unclear) {
        (Some(point), None, _) => (Decision::Is(DecimalSign::Point), format!("decided by {point}")),
        (None, Some(comma), _) => (Decision::Is(DecimalSign::Comma), format!("decided by {comma}")),
        (Some(point), Some(comma), _) => (Decision::Open, format!("{point} has a point, {comma} a comma")),
        (None, None, Some(unclear)) => (Decision::Open, format!("{unclear} can be read in two ways")),
        (None, None, None) => (Decision::NotNeeded, "no number needs it".to_owned()),
    };
    Decided { decision, why }
}

/// The order of cells that hold dates.
pub(super) fn dates<'a>(cells: impl Iterator<Item = (usize, &'a Cell)>) -> Decided<DateOrder> {
    let mut day_first = None;
    let mut month_first = None;
    let mut unclear = None;
    for (line, cell) in cells {
        let Cell::Text(text) = cell else { continue };
        let Some(DateParts::Numbers(parts)) = date_parts(text) else { continue };
        if parts[0] > 31 {
            continue;
        }
        let shown = || format!("line {line}, \"{text}\"");
        let fits = |order| in_order(parts, order).is_some();
        match (fits(DateOrder::DayMonthYear), fits(DateOrder::MonthDayYear)) {
            (true, false) => drop(day_first.get_or_insert_with(shown)),
            (false, true) => drop(month_first.get_or_insert_with(shown)),
            // The 5th of May is the same either way.
            (true, true) if parts[0] != parts[1] => drop(unclear.get_or_insert_with(shown)),
            (true, true) | (false, false) => {}
        }
    }
    let (decision, why) = match (day_first, month_first, unclear) {
        (Some(day), None, _) => (Decision::Is(DateOrder::DayMonthYear), format!("decided by {day}")),
        (None, Some(month), _) => (Decision::Is(DateOrder::MonthDayYear), format!("decided by {month}")),
        (Some(day), Some(month), _) => (Decision::Open, format!("{day} has the day first, {month} the month")),
        (None, None, Some(unclear)) => (Decision::Open, format!("{unclear} can be read in two ways")),
        (None, None, None) => (Decision::NotNeeded, "no date needs it".to_owned()),
    };
    Decided { decision, why }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_clear_cell_decides() {
        let cells = |texts: &[&str]| texts.iter().map(|text| Cell::Text((*text).to_owned())).collect::<Vec<_>>();
        let check_decimal = |texts: &[&str], expected: Decision<DecimalSign>| {
            let cells = cells(texts);
            assert_eq!(decimal(cells.iter().enumerate()).decision, expected, "{texts:?}");
        };
        check_decimal(&["1,250 g", "2,5 g"], Decision::Is(DecimalSign::Comma));
        check_decimal(&["1,250", "€ 3.50"], Decision::Is(DecimalSign::Point));
        check_decimal(&["1,250", "500"], Decision::Open);
        check_decimal(&["2,5", "2.5"], Decision::Open);
        check_decimal(&["500", "1 000", "none"], Decision::NotNeeded);
        let check_dates = |texts: &[&str], expected: Decision<DateOrder>| {
            let cells = cells(texts);
            assert_eq!(dates(cells.iter().enumerate()).decision, expected, "{texts:?}");
        };
        check_dates(&["03/09/2027", "13/09/2027"], Decision::Is(DateOrder::DayMonthYear));
        check_dates(&["03/09/2027", "03/31/2027"], Decision::Is(DateOrder::MonthDayYear));
        check_dates(&["03/09/2027", "5/5/2027"], Decision::Open);
        check_dates(&["31/01/2027", "01/31/2027"], Decision::Open);
        check_dates(&["2027-03-09", "9 Mar 2027", "5/5/2027"], Decision::NotNeeded);
    }
}
