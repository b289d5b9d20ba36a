//! Amounts, money and days as a person reads them. For reading, not for weighing: masses are rounded.

use crate::plan::calendar::day_in_words;
use crate::plan::decimal::shortest;
use crate::plan::rounding::half_up_i64;
use chrono::NaiveDate;

/// An amount in the JSON contract's unit, `mg` or `pcs`: `350 mg`, `8.5 g`, `1.2 kg`, `24 pcs`, `1 pc`.
#[must_use]
pub fn amount(value: i64, unit: &str) -> String {
    match (unit, value) {
        ("mg", _) => mass(value),
        ("pcs", 1) => "1 pc".to_owned(),
        _ => format!("{value} {unit}"),
    }
}

/// A mass in milligrams: below 1 g in mg; to 0.01 g below 100 g, to 0.1 g below 1 kg, to 1 g from there on; half up.
#[must_use]
pub fn mass(mg: i64) -> String {
    if mg < 0 {
        return format!("-{}", mass(mg.saturating_neg()));
    }
    let rounded = |step: i64| half_up_i64(i128::from(mg), i128::from(step));
    match mg.unsigned_abs() {
        0 => "0 g".to_owned(),
        1..1_000 => format!("{mg} mg"),
        1_000..99_995 => format!("{} g", shortest(rounded(10), 2)),
        99_995..999_950 => format!("{} g", shortest(rounded(100), 1)),
        _ => format!("{} kg", shortest(rounded(1_000), 3)),
    }
}

/// Money: `12.50 EUR`.
#[must_use]
pub fn money(decimal: &str, currency: &str) -> String {
    format!("{decimal} {currency}")
}

/// A day near `today`: `Thu 4 March`, with its year where that is another one.
#[must_use]
pub fn day(date: NaiveDate, today: NaiveDate) -> String {
    day_in_words(date, today)
}

/// So many of something: `1 order`, `2 orders`.
#[must_use]
pub fn count(number: usize, singular: &str, plural: &str) -> String {
    format!("{number} {}", if number == 1 { singular } else { plural })
}

/// Kinds of material whose plural is known, for counting several of a kind.
const KINDS: [(&str, &str); 10] = [
    ("oil", "oils"),
    ("butter", "butters"),
    ("wax", "waxes"),
    ("extract", "extracts"),
    ("powder", "powders"),
    ("clay", "clays"),
    ("flour", "flours"),
    ("water", "waters"),
    ("label", "labels"),
    ("tin", "tins"),
];

/// Things with these names, counted: `Rosehip oil` for one, `2 oils` where all names end in the same known word, else
/// `3 lots` of a regular noun.
#[must_use]
pub fn several(names: &[&str], noun: &str) -> String {
    if let [only] = names {
        return super::one_line(only);
    }
    let last = |name: &str| name.split_whitespace().next_back().unwrap_or_default().to_lowercase();
    let kind = KINDS.iter().find(|(one, _)| names.iter().all(|name| last(name) == *one));
    match kind {
        Some((_, many)) => format!("{} {many}", names.len()),
        None => format!("{} {noun}s", names.len()),
    }
}

/// Names in a row: `A`, `A and B`, `A, B and C`.
#[must_use]
pub fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [only] => only.clone(),
        [front @ .., last] => format!("{} and {last}", front.join(", ")),
    }
}

/// So many products have their names beside the codes of their plan entries; where there are more, codes have to do.
const MOST_NAMED: usize = 3;

/// Plan entries with what they make: `E12 (Hand cream) and E18 (Bath salt)`; `E12 and E14 (Hand cream), and E18 (Bath salt)`.
/// `products` are those of the entries, place by place.
#[must_use]
pub fn entries_named(entries: &[String], products: &[String]) -> String {
    let mut groups: Vec<(&str, Vec<String>)> = Vec::new();
    for (entry, product) in entries.iter().zip(products) {
        let entry = super::one_line(entry);
        match groups.iter_mut().find(|(known, _)| known == product) {
            Some((_, codes)) => codes.push(entry),
            None => groups.push((product, vec![entry])),
        }
    }
    if products.len() != entries.len() || groups.len() > MOST_NAMED {
        return listed(&entries.iter().map(|entry| super::one_line(entry)).collect::<Vec<_>>());
    }
    let named = |(product, codes): &(&str, Vec<String>)| format!("{} ({})", listed(codes), super::one_line(product));
    let named: Vec<String> = groups.iter().map(named).collect();
    match named.as_slice() {
        // An `and` within a name asks for a comma before the one between names.
        [front @ .., last] if !front.is_empty() && groups.iter().any(|(_, codes)| codes.len() > 1) => {
            format!("{}, and {last}", front.join(", "))
        }
        named => listed(named),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn masses_read_as_a_maker_says_them() {
        let check = |mg: i64, expected: &str| assert_eq!(mass(mg), expected, "{mg} mg");
        check(0, "0 g");
        check(1, "1 mg");
        check(999, "999 mg");
        check(1_000, "1 g");
        check(8_500, "8.5 g");
        check(8_505, "8.51 g");
        check(99_994, "99.99 g");
        check(99_995, "100 g");
        check(250_040, "250 g");
        check(999_949, "999.9 g");
        check(999_950, "1 kg");
        check(1_200_000, "1.2 kg");
        check(1_234_567, "1.235 kg");
        check(-8_500, "-8.5 g");
        check(i64::MAX, "9223372036854.776 kg");
        assert_eq!((amount(24, "pcs"), amount(1, "pcs")), ("24 pcs".to_owned(), "1 pc".to_owned()));
        assert_eq!(amount(8_500, "mg"), "8.5 g");
    }

    #[test]
    fn days_name_their_year_only_where_it_is_another() {
        let date = |text: &str| text.parse::<NaiveDate>().unwrap();
        assert_eq!(day(date("2027-03-04"), date("2027-03-01")), "Thu 4 March");
        assert_eq!(day(date("2028-01-03"), date("2027-12-30")), "Mon 3 January 2028");
    }

    #[test]
    fn names_are_listed_as_a_sentence_would() {
        let names = |list: &[&str]| listed(&list.iter().map(|&name| name.to_owned()).collect::<Vec<_>>());
        assert_eq!(names(&[]), "");
        assert_eq!(names(&["E1"]), "E1");
        assert_eq!(names(&["E1", "E2"]), "E1 and E2");
        assert_eq!(names(&["E1", "E2", "E3"]), "E1, E2 and E3");
        assert_eq!(count(1, "order", "orders"), "1 order");
        assert_eq!(several(&["Rosehip oil"], "lot"), "Rosehip oil");
        assert_eq!(several(&["Rosehip oil", "Hemp Oil"], "lot"), "2 oils");
        assert_eq!(several(&["Rosehip oil", "Beeswax", "Lye"], "lot"), "3 lots");
    }

    #[test]
    fn entries_have_their_products_beside_them_where_these_are_few() {
        let check = |entries: &[&str], products: &[&str], expected: &str| {
            let owned = |list: &[&str]| list.iter().map(|&word| word.to_owned()).collect::<Vec<_>>();
            assert_eq!(entries_named(&owned(entries), &owned(products)), expected);
        };
        check(&[], &[], "");
        check(&["E1"], &["Salve"], "E1 (Salve)");
        check(&["E1", "E2"], &["Salve", "Balm"], "E1 (Salve) and E2 (Balm)");
        check(&["E1", "E2", "E3"], &["Salve", "Balm", "Salve"], "E1 and E3 (Salve), and E2 (Balm)");
        check(&["E1", "E2", "E3", "E4"], &["Salve", "Balm", "Soap", "Salt"], "E1, E2, E3 and E4");
        check(&["E1", "E2"], &[], "E1 and E2");
    }
}
