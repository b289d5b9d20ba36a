//! A cell of a maker's spreadsheet to the text that our own files would have: numbers in her style, units in her words,
//! money with signs, dates in her order. What is not understood stays as it is, so that the fault shows her own words.

use super::raw::Cell;
use crate::book::fold::fold;
use chrono::NaiveDate;

/// Which mark stands before the decimals; the other one, spaces and apostrophes then mark thousands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum DecimalSign {
    /// 1,234.5
    Point,
    /// 1.234,5
    Comma,
}

/// In which order a date is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum DateOrder {
    /// 9.3.2027 is the 9th of March.
    DayMonthYear,
    /// 3/9/2027 is the 9th of March.
    MonthDayYear,
    /// 2027-03-09.
    YearMonthDay,
}

/// What a number may mean.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NumberRead {
    /// With this mark only.
    Only(DecimalSign, String),
    /// The same with either.
    Either(String),
    /// One thing with a point, another with a comma.
    Unclear {
        /// With the point as its decimal mark.
        point: String,
        /// With the comma.
        comma: String,
    },
}

fn is_space(letter: char) -> bool {
    matches!(letter, ' ' | '\u{a0}' | '\u{202f}' | '\u{2009}')
}

fn is_apostrophe(letter: char) -> bool {
    matches!(letter, '\'' | '’')
}

/// Reads a number with this decimal mark: `1.234,5` with the comma becomes `1234.5`.
fn number_with(text: &str, sign: DecimalSign) -> Option<String> {
    let (point, group) = match sign {
        DecimalSign::Point => ('.', ','),
        DecimalSign::Comma => (',', '.'),
    };
    let (minus, digits) = match text.strip_prefix(['-', '−']) {
        Some(rest) => ("-", rest),
        None => ("", text.strip_prefix('+').unwrap_or(text)),
    };
    let (whole, fraction) = digits.split_once(point).unwrap_or((digits, ""));
    let all_digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    if !all_digits(fraction) || whole.is_empty() && fraction.is_empty() {
        return None;
    }
    let separates = |letter: char| letter == group || is_space(letter) || is_apostrophe(letter);
    let whole = match whole.find(separates) {
        None => Some(whole.to_owned()).filter(|whole| all_digits(whole)),
        Some(place) => {
            // One kind of mark only, and three digits behind each.
            let mark = whole[place..].chars().next()?;
            let mut groups = whole.split(mark);
            let first = groups.next().filter(|first| (1..=3).contains(&first.len()) && *first != "0")?;
            let rest: Vec<&str> = groups.collect();
            let sound = all_digits(first) && rest.iter().all(|group| group.len() == 3 && all_digits(group));
            sound.then(|| format!("{first}{}", rest.concat()))
        }
    }?;
    let whole = if whole.is_empty() { "0" } else { &whole };
    Some(if fraction.is_empty() { format!("{minus}{whole}") } else { format!("{minus}{whole}.{fraction}") })
}

/// What a number may mean, before its style is known; `None` where it is no number.
#[must_use]
pub fn read_number(text: &str) -> Option<NumberRead> {
    let text = text.trim();
    match (number_with(text, DecimalSign::Point), number_with(text, DecimalSign::Comma)) {
        (None, None) => None,
        (Some(point), None) => Some(NumberRead::Only(DecimalSign::Point, point)),
        (None, Some(comma)) => Some(NumberRead::Only(DecimalSign::Comma, comma)),
        (Some(point), Some(comma)) if point == comma => Some(NumberRead::Either(point)),
        (Some(point), Some(comma)) => Some(NumberRead::Unclear { point, comma }),
    }
}

/// A number in her style, with a decimal point; a number that only the other style can read is not taken.
#[must_use]
pub fn number(text: &str, sign: Option<DecimalSign>) -> Option<String> {
    match (read_number(text)?, sign) {
        (NumberRead::Either(number), _) => Some(number),
        (NumberRead::Only(own, number), sign) => sign.is_none_or(|sign| sign == own).then_some(number),
        (NumberRead::Unclear { point, .. }, Some(DecimalSign::Point)) => Some(point),
        (NumberRead::Unclear { comma, .. }, Some(DecimalSign::Comma)) => Some(comma),
        (NumberRead::Unclear { .. }, None) => None,
    }
}

/// The number at the beginning of a text, and what follows it.
#[must_use]
pub fn split_number(text: &str) -> Option<(&str, &str)> {
    let in_number = |letter: char| {
        letter.is_ascii_digit()
            || matches!(letter, '.' | ',' | '-' | '+' | '−')
            || is_space(letter)
            || is_apostrophe(letter)
    };
    let text = text.trim();
    let end = text.find(|letter| !in_number(letter)).unwrap_or(text.len());
    let (number, rest) = text.split_at(end);
    number.bytes().any(|byte| byte.is_ascii_digit()).then(|| (number.trim(), rest.trim()))
}

/// Units in the words of spreadsheets, and ours.
const UNITS: [(&str, &str); 13] = [
    ("mg", "mg|milligram|milligrams|milligramm|milligramme|milligrammes|milligrammi|miligramos"),
    ("g", "g|gr|grs|gm|gms|gram|grams|gramm|gramme|grammes|grammi|grammo|gramo|gramos"),
    ("kg", "kg|kgs|kilo|kilos|kilogram|kilograms|kilogramm|kilogramme|kilogrammes|chilo|chili|chilogrammi|kilogramos"),
    ("oz", "oz|ounce|ounces|oz wt|wt oz"),
    ("lb", "lb|lbs|pound|pounds"),
    ("ml", "ml|milliliter|milliliters|millilitre|millilitres|millilitri|mililitros|cc"),
    ("l", "l|lt|ltr|liter|liters|litre|litres|litro|litri|litros"),
    ("fl oz", "fl oz|floz|fluid ounce|fluid ounces"),
    ("tbsp", "tbsp|tablespoon|tablespoons|el"),
    ("tsp", "tsp|teaspoon|teaspoons|tl"),
    (
        "pcs",
        "pcs|pc|piece|pieces|unit|units|each|ea|count|ct|\
         st|stk|stck|stuck|piece s|unite|unites|unita|einheit|einheiten|unidades|pz|pezzi|pezzo|ud|uds|unidad|piezas|\
             bars|tins|jars",
    ),
    ("moulds", "mould|moulds|mold|molds|form|formen|moule|moules|stampo|stampi|molde|moldes"),
    ("%", "%|percent|prozent|pct|pourcent|percento"),
];

/// Our unit for her word; `None` where it is none.
#[must_use]
pub fn unit(word: &str) -> Option<&'static str> {
    let word = word.trim().trim_end_matches('.');
    // The signs of the tonne and of a million litres.
    if word == "Mg" || word == "Ml" {
        return None;
    }
    if word == "%" {
        return Some("%");
    }
    let folded = fold(word);
    UNITS.into_iter().find(|(_, words)| words.split('|').any(|known| known == folded)).map(|(unit, _)| unit)
}

/// Signs of money and the currencies that they stand for; the first is the usual one, several make it unclear.
const SIGNS: [(&str, &[&str]); 7] = [
    ("€", &["EUR"]),
    ("£", &["GBP"]),
    ("$", &["USD", "CAD", "AUD", "NZD"]),
    ("¥", &["JPY", "CNY"]),
    ("zł", &["PLN"]),
    ("kr", &["SEK", "NOK", "DKK", "ISK"]),
    ("Fr", &["CHF"]),
];

/// What a sign or code of money may stand for; empty where it is none.
#[must_use]
pub fn currencies(word: &str) -> Vec<String> {
    let word = word.trim().trim_end_matches('.');
    let signs = SIGNS.into_iter().find(|(sign, _)| sign.eq_ignore_ascii_case(word));
    if let Some((_, codes)) = signs {
        return codes.iter().map(|code| (*code).to_owned()).collect();
    }
    let words = [("euro", "EUR"), ("euros", "EUR"), ("pound sterling", "GBP"), ("sfr", "CHF"), ("us$", "USD")];
    if let Some((_, code)) = words.into_iter().find(|(known, _)| known.eq_ignore_ascii_case(word)) {
        return vec![code.to_owned()];
    }
    let code = word.to_ascii_uppercase();
    let is_code = code.len() == 3 && crate::plan::money::Currency::from_code(&code).is_some();
    if is_code { vec![code] } else { Vec::new() }
}

/// An amount of money: its number as it is written, and the sign or code beside it.
#[must_use]
pub fn split_money(text: &str) -> Option<(&str, &str)> {
    let text = text.trim();
    let first = text.find(|letter: char| letter.is_ascii_digit())?;
    let start = text[..first]
        .rfind(|letter: char| !matches!(letter, '-' | '−' | '+' | '.' | ','))
        .map_or(0, |place| place + text[place..].chars().next().map_or(0, char::len_utf8));
    let before = text[..start].trim();
    let (number, after) = split_number(&text[start..])?;
    match (before.is_empty(), after.is_empty()) {
        (true, _) => Some((number, after)),
        (false, true) => Some((number, before)),
        (false, false) => None,
    }
}

/// The first letters of the months, without accents, in five languages.
const MONTHS: [&str; 12] = [
    "jan|ene|gen",
    "feb|fev",
    "mar|mrz",
    "apr|avr|abr",
    "may|mai|mag",
    "jun|juin|giu",
    "jul|juil|lug",
    "aug|aou|ago",
    "sep|set",
    "oct|okt|ott",
    "nov",
    "dec|dez|dic",
];

fn month_of(word: &str) -> Option<u32> {
    let word = fold(word);
    if word.len() < 3 || !word.bytes().all(|byte| byte.is_ascii_lowercase()) {
        return None;
    }
    let is_month = |names: &str| names.split('|').any(|name| word.starts_with(name));
    let place = MONTHS.iter().position(|names| is_month(names))?;
    u32::try_from(place + 1).ok()
}

/// The parts of a date: numbers, and a month that is written out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DateParts {
    /// Three numbers, in the order of the text.
    Numbers([u32; 3]),
    /// With a month in words: day, month, year.
    Named(u32, u32, u32),
    /// Only month and year.
    MonthYear(u32, u32),
}

/// Takes a date apart.
#[must_use]
pub fn date_parts(text: &str) -> Option<DateParts> {
    let separates = |letter: char| letter.is_whitespace() || matches!(letter, '.' | '/' | '-' | ',' | '\u{a0}');
    let words: Vec<&str> = text.trim().split(separates).filter(|word| !word.is_empty()).collect();
    let numeric = |word: &str| -> Option<u32> {
        let digits = word.trim_end_matches(|letter: char| letter.is_ascii_alphabetic());
        let ending = &word[digits.len()..];
        let is_plain = matches!(ending, "" | "st" | "nd" | "rd" | "th" | "er");
        (is_plain && (1..=4).contains(&digits.len())).then(|| digits.parse().ok())?
    };
    match words.as_slice() {
        [one, two, three] => {
            if let Some(month) = month_of(two) {
                return Some(DateParts::Named(numeric(one)?, month, full_year(three)?));
            }
            if let Some(month) = month_of(one) {
                return Some(DateParts::Named(numeric(two)?, month, full_year(three)?));
            }
            let plain = |word: &&str| word.bytes().all(|byte| byte.is_ascii_digit());
            let sound = words.iter().all(plain);
            sound.then(|| Some(DateParts::Numbers([numeric(one)?, numeric(two)?, numeric(three)?])))?
        }
        [one, two] => {
            if let Some(month) = month_of(one) {
                return Some(DateParts::MonthYear(month, full_year(two)?));
            }
            match (numeric(one)?, numeric(two)?) {
                (month @ 1..=12, year @ 1900..) => Some(DateParts::MonthYear(month, year)),
                (year @ 1900.., month @ 1..=12) => Some(DateParts::MonthYear(month, year)),
                (month @ 1..=12, year @ 13..=99) if text.contains('/') => {
                    Some(DateParts::MonthYear(month, 2000 + year))
                }
                _ => None,
            }
        }
        _ => None,
    }
}

/// A year of two digits is one of this century.
fn full_year(word: &str) -> Option<u32> {
    let year: u32 = word.parse().ok()?;
    match word.len() {
        2 => Some(2000 + year),
        4 => Some(year),
        _ => None,
    }
}

fn day(year: u32, month: u32, day: u32) -> Option<NaiveDate> {
    let year = if year < 100 { 2000 + year } else { year };
    NaiveDate::from_ymd_opt(i32::try_from(year).ok()?, month, day).filter(|_| (1900..=9999).contains(&year))
}

/// Three numbers as a date in this order; the year has two or four digits.
#[must_use]
pub fn in_order([one, two, three]: [u32; 3], order: DateOrder) -> Option<NaiveDate> {
    match order {
        DateOrder::DayMonthYear => day(three, two, one),
        DateOrder::MonthDayYear => day(three, one, two),
        DateOrder::YearMonthDay => Some(one).filter(|year| *year > 31).and_then(|year| day(year, two, three)),
    }
}

/// A date in her order; of a month without a day its last day, and then true.
#[must_use]
pub fn date(cell: &Cell, order: Option<DateOrder>) -> Option<(NaiveDate, bool)> {
    if let Cell::Date(text) = cell {
        return text.parse().ok().map(|date| (date, false));
    }
    match date_parts(cell.text())? {
        DateParts::Named(of_month, month, year) => Some((day(year, month, of_month)?, false)),
        DateParts::MonthYear(month, year) => {
            let next = if month == 12 { day(year + 1, 1, 1) } else { day(year, month + 1, 1) };
            Some((next?.pred_opt()?, true))
        }
        // A year of four digits in front leaves no doubt.
        DateParts::Numbers(parts) if parts[0] > 31 => Some((in_order(parts, DateOrder::YearMonthDay)?, false)),
        DateParts::Numbers(parts) => Some((in_order(parts, order?)?, false)),
    }
}

/// Lengths of time in the words of spreadsheets.
const SPANS: [(&str, &str); 4] = [
    ("days", "d|day|days|tag|tage|tagen|j|jour|jours|giorno|giorni|gg|dia|dias"),
    ("weeks", "w|wk|wks|week|weeks|woche|wochen|semaine|semaines|settimana|settimane|semana|semanas"),
    ("months", "m|mo|mos|mth|mths|month|months|monat|monate|monaten|mon|mois|mese|mesi|mes|meses"),
    ("years", "y|yr|yrs|year|years|jahr|jahre|jahren|an|ans|annee|annees|anno|anni|ano|anos"),
];

/// Our word for a length of time.
#[must_use]
pub fn span_unit(word: &str) -> Option<&'static str> {
    let folded = fold(word);
    SPANS.into_iter().find(|(_, words)| words.split('|').any(|known| known == folded)).map(|(unit, _)| unit)
}

/// Yes or no in words.
#[must_use]
pub fn yes_or_no(text: &str) -> Option<&'static str> {
    match text.trim() {
        "✓" | "✔" | "x" | "X" => return Some("yes"),
        "-" | "–" | "—" => return Some("no"),
        _ => {}
    }
    match fold(text).as_str() {
        "yes" | "y" | "true" | "1" | "ja" | "j" | "wahr" | "oui" | "o" | "vrai" | "si" | "s" | "vero" | "verdadero" => {
            Some("yes")
        }
        "no" | "n" | "false" | "0" | "nein" | "falsch" | "non" | "faux" | "falso" => Some("no"),
        _ => None,
    }
}

/// Words that stand for one of ours.
const WORDS: [(&str, &str); 7] = [
    ("raw", "raw|raw material|ingredient|rohstoff|zutat|matiere premiere|materia prima|ingrediente"),
    ("packaging", "packaging|pack|verpackung|emballage|imballaggio|envase|container|packaging material"),
    ("leave-on", "leave on|leaveon|stays on|verbleibt|sans rincage|senza risciacquo|sin aclarado"),
    ("rinse-off", "rinse off|rinseoff|wash off|abwaschbar|a rincer|da risciacquo|con aclarado"),
    ("released", "released|ok|good|frei|freigegeben|libere|rilasciato|liberado"),
    ("quarantine", "quarantine|hold|on hold|gesperrt|quarantane|quarantaine|quarantena|cuarentena"),
    ("rejected", "rejected|abgelehnt|rejete|respinto|rechazado"),
];

/// The one of `allowed` that a word stands for.
#[must_use]
pub fn word(text: &str, allowed: &[&str]) -> Option<&'static str> {
    let folded = fold(text);
    let known = WORDS.into_iter().filter(|(own, _)| allowed.contains(own));
    known.into_iter().find(|(_, words)| words.split('|').any(|known| known == folded)).map(|(own, _)| own)
}

/// True for the words that fill a formula up to 100 %.
#[must_use]
pub fn is_balance(text: &str) -> bool {
    let words = [
        "balance",
        "q s",
        "qs",
        "q s to 100",
        "qs to 100",
        "q s 100",
        "to 100",
        "ad 100",
        "auf 100",
        "rest",
        "remainder",
        "remaining",
        "reste",
        "resto",
        "qsp",
        "q s p",
        "qsp 100",
        "q b",
        "qb",
        "q b a 100",
        "a 100",
        "up to 100",
    ];
    let folded = fold(text.trim_end_matches('%'));
    words.contains(&folded.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn numbers_are_read_in_their_style() {
        let check = |text: &str, point: Option<&str>, comma: Option<&str>| {
            assert_eq!(number(text, Some(DecimalSign::Point)).as_deref(), point, "{text} with a point");
            assert_eq!(number(text, Some(DecimalSign::Comma)).as_deref(), comma, "{text} with a comma");
        };
        check("1,234.5", Some("1234.5"), None);
        check("1.234,5", None, Some("1234.5"));
        check("1 234,5", None, Some("1234.5"));
        check("1\u{a0}234,5", None, Some("1234.5"));
        check("1\u{202f}234.5", Some("1234.5"), None);
        check("1'234.50", Some("1234.50"), None);
        check("1’234’567.50", Some("1234567.50"), None);
        check("12", Some("12"), Some("12"));
        check("1,250", Some("1250"), Some("1.250"));
        check("1.250", Some("1.250"), Some("1250"));
        check("0,250", None, Some("0.250"));
        check("0.250", Some("0.250"), None);
        check(",5", None, Some("0.5"));
        check("-3.5", Some("-3.5"), None);
        check("1.234.567", None, Some("1234567"));
        for text in ["", "1,23,4", "12,34.5", "1 23", "1 234.567,8", "five", "1.2.3", "1''000", "--1", "0,000,1"] {
            check(text, None, None);
        }
        assert_eq!(number("1,250", None), None);
        assert_eq!(number("1,25", None).as_deref(), Some("1.25"));
    }

    #[test]
    fn money_and_units_are_taken_apart() {
        let check = |text: &str, expected: Option<(&str, &str)>| assert_eq!(split_money(text), expected, "{text}");
        check("€ 12,50", Some(("12,50", "€")));
        check("€12,50", Some(("12,50", "€")));
        check("12.50 EUR", Some(("12.50", "EUR")));
        check("12,50€", Some(("12,50", "€")));
        check("12.50", Some(("12.50", "")));
        check("-3", Some(("-3", "")));
        check("EUR 1 234,50", Some(("1 234,50", "EUR")));
        check("free", None);
        check("EUR 12 each", None);
        assert_eq!(currencies("€"), ["EUR"]);
        assert_eq!(currencies("gbp"), ["GBP"]);
        assert_eq!(currencies("$").len(), 4);
        assert!(currencies("kg").is_empty());
        let check = |word: &str, expected: Option<&str>| assert_eq!(unit(word), expected, "{word}");
        check("gr.", Some("g"));
        check("Stück", Some("pcs"));
        check("Fl. Oz.", Some("fl oz"));
        check("LBS", Some("lb"));
        check("Mg", None);
        check("spoons", None);
        assert_eq!(split_number("ca. 500 g"), None);
        assert_eq!(split_number("1 234,5kg"), Some(("1 234,5", "kg")));
    }

    #[test]
    fn dates_are_read_in_their_order() {
        let read = |text: &str, order| date(&Cell::Text(text.to_owned()), order).map(|(date, _)| date.to_string());
        let check = |text: &str, day_first: Option<&str>, month_first: Option<&str>| {
            assert_eq!(read(text, Some(DateOrder::DayMonthYear)).as_deref(), day_first, "{text} day first");
            assert_eq!(read(text, Some(DateOrder::MonthDayYear)).as_deref(), month_first, "{text} month first");
        };
        check("9.3.2027", Some("2027-03-09"), Some("2027-09-03"));
        check("03/09/27", Some("2027-09-03"), Some("2027-03-09"));
        check("31/12/2027", Some("2027-12-31"), None);
        for text in [
            "9 Mar 2027",
            "9. März 2027",
            "9 mars 2027",
            "Mar 9, 2027",
            "9-mar-27",
            "2027-03-09",
            "2027/3/9",
            "9th March 2027",
        ] {
            check(text, Some("2027-03-09"), Some("2027-03-09"));
        }
        check("9 juin 2027", Some("2027-06-09"), Some("2027-06-09"));
        check("9 juil. 2027", Some("2027-07-09"), Some("2027-07-09"));
        check("Feb 2028", Some("2028-02-29"), Some("2028-02-29"));
        check("12/2028", Some("2028-12-31"), Some("2028-12-31"));
        for text in ["soon", "30.2.2027", "2027", "1.2", "12/05", "9.3.", "99/99/9999"] {
            check(text, None, None);
        }
        assert_eq!(read("9.3.2027", None), None);
        assert_eq!(date(&Cell::Date("2027-03-09".to_owned()), None).map(|(_, month_only)| month_only), Some(false));
    }

    proptest! {
        #[test]
        fn no_text_makes_it_panic(text in "\\PC{0,20}", odd in "[0-9.,' €kg/-]{0,16}") {
            for text in [text, odd] {
                let _ = (read_number(&text), split_money(&text), split_number(&text), date_parts(&text), unit(&text));
                for order in [None, Some(DateOrder::DayMonthYear), Some(DateOrder::YearMonthDay)] {
                    let _ = date(&Cell::Text(text.clone()), order);
                }
            }
        }
    }
}
