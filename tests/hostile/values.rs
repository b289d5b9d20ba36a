//! Every parser of a single value: whatever is typed, it answers; what it takes, it can write and read back.

use chrono::{Datelike, NaiveDate};
use proptest::prelude::*;
use stillroom::clock::AsOf;
use stillroom::plan::decimal::{Decimal, shortest};
use stillroom::plan::measure::{DecimalMark, Measure, canonical, span};
use stillroom::plan::money::{Currency, Price, Rate};
use stillroom::plan::quantity::{Density, Mass, Percent, Quantity, Unit};
use stillroom::plan::rounding::{half_up, largest_remainder};
use stillroom::plan::schedule::DaySet;
use stillroom::post::address::Mailbox;
use stillroom::post::report_name::ReportName;

const MARKS: [DecimalMark; 3] = [DecimalMark::Point, DecimalMark::PointOrComma, DecimalMark::PointOrClearComma];

/// Text of every kind: any letters at all, what looks like a number, and numbers at the edges.
fn text() -> impl Strategy<Value = String> {
    let edges = prop::sample::select(vec![
        "9223372036854775807",
        "-9223372036854775808",
        "9223372036854775808",
        "1e308",
        "-1e308",
        "NaN",
        "inf",
        "-0",
        "1_000",
        "0x10",
        "٣",
        "１２",
        "1\u{202e}2",
        "1\0",
        "\u{200f}5",
        "5\u{200f}",
        "999999999999999999",
        "0.000000000000000001",
        "170141183460469231731687303715884105727",
        "1/2",
        "½",
        "1.2.3",
        "--1",
        "+-1",
        ".",
        ",",
        "-",
        "+",
    ]);
    let units = prop::sample::select(vec![
        "", " g", "kg", " mg", " lb", " oz", " fl oz", "ml", " l", " tsp", " pcs", " %", " K", " ſ",
    ]);
    prop_oneof![
        ".{0,40}",
        "[-+]?[0-9]{0,25}[.,]?[0-9]{0,25} ?[a-zA-Z%µ ]{0,6}",
        (edges, units.clone()).prop_map(|(number, unit)| format!("{number}{unit}")),
        ("[0-9]{1,19}([.,][0-9]{1,19})?", units).prop_map(|(number, unit)| format!("{number}{unit}")),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn amounts(text in text(), micrograms in 1_i64..=25_000_000) {
        let density = Some(Density { micrograms_per_ml: micrograms });
        for mark in MARKS {
            let Ok(measure) = Measure::parse(&text, mark) else { continue };
            for unit in [Unit::Milligram, Unit::Piece] {
                let Ok(quantity) = measure.quantity(unit, density) else { continue };
                prop_assert!((0..=Quantity::MAX_ENTERED.0).contains(&quantity.0), "{text:?} became {quantity:?}");
                let again = Measure::parse(&canonical(quantity, unit), DecimalMark::Point).unwrap();
                prop_assert_eq!(again.quantity(unit, None).unwrap(), quantity, "{:?}", text);
            }
        }
    }

    #[test]
    fn decimals_and_percentages(text in text(), places in 0_u32..=18) {
        for point in ['.', ','] {
            let Ok(decimal) = Decimal::parse(&text, point) else { continue };
            if let Ok(scaled) = decimal.scaled(places) {
                let again: Decimal = shortest(scaled, places).parse().unwrap();
                prop_assert_eq!(again.scaled(places), Ok(scaled));
            }
            if let Ok(percent) = Percent::from_decimal(decimal) {
                let again = percent.to_string().parse().and_then(Percent::from_decimal);
                prop_assert_eq!(again, Ok(percent));
            }
        }
    }

    #[test]
    fn lengths_of_time(text in prop_oneof![text(), "[Pp]?([0-9]{0,12}[yYmMwWdD]){0,5}", "[0-9]{0,12} ?(day|week|month|year)s?"]) {
        if let Ok(length) = span(&text) {
            prop_assert_eq!(span(&length.to_string()), Ok(length), "{:?}", text);
            for date in [NaiveDate::MIN, NaiveDate::MAX, NaiveDate::from_ymd_opt(2028, 2, 29).unwrap()] {
                prop_assert!(length.after(date) >= date);
            }
        }
    }

    #[test]
    fn days_and_moments(text in prop_oneof![text(), "[0-9]{4}-[0-9]{2}-[0-9]{2}(T[0-9]{2}:[0-9]{2}(:[0-9]{2})?(Z|[+-][0-9]{2}:[0-9]{2})?)?"]) {
        if let Ok(AsOf::Day(day)) = text.parse::<AsOf>() {
            prop_assert!((1_000..=9_999).contains(&day.year()));
            prop_assert_eq!(day.to_string(), text.trim());
        }
    }

    #[test]
    fn schedules(text in prop_oneof![text(), "((every day|first|second|third|fourth|last|Mon|TUE|friday|1|15|31|32|0|,|;) ?){0,6}"]) {
        if let Ok(days) = text.parse::<DaySet>() {
            let again: DaySet = days.to_string().parse().unwrap();
            prop_assert_eq!(again, days, "{:?}", text);
        }
    }

    #[test]
    fn addresses_and_names_of_reports(text in prop_oneof![text(), "[ -~]{0,20}<?[ -~]{0,20}@[ -~]{0,20}>?", "\\PC{0,20}[\r\n\0]{0,2}\\PC{0,20}@b\\.example"]) {
        if let Ok(mailbox) = text.parse::<Mailbox>() {
            prop_assert!(!mailbox.address().chars().any(|letter| letter.is_control() || letter.is_whitespace()), "{:?}", text);
        }
        if let Ok(name) = text.parse::<ReportName>() {
            prop_assert_eq!(name.word().parse::<ReportName>(), Ok(name));
        }
        if let Some(currency) = Currency::from_code(&text) {
            prop_assert_eq!(currency.code(), text);
        }
    }

    #[test]
    fn sums_of_money_and_mass_never_wrap(minor in any::<i64>(), count in any::<i64>(), billionths in 1_i64..=i64::MAX, part in any::<i64>(), loss in 0_i64..100_000_000) {
        let price = Price { minor };
        prop_assert_eq!(price.times(count).minor, clamped(i128::from(minor) * i128::from(count)));
        let (dinar, yen) = (Currency::from_code("KWD").unwrap(), Currency::from_code("JPY").unwrap());
        let home = Rate { billionths }.to_home(price, yen, dinar);
        // 1 yen is 1,000 of the dinar's minor units times the rate.
        let exact = half_up(i128::from(minor) * i128::from(billionths), 1_000_000);
        prop_assert_eq!(home.minor, clamped(exact));
        prop_assert_eq!((Quantity(minor) + Quantity(part)).0, minor.saturating_add(part));
        let percent = Percent { millionths: loss };
        let net = part.saturating_abs();
        let gross = percent.gross_of(Mass { mg: net });
        prop_assert!(gross.mg >= net);
        prop_assert_eq!(percent.of(part), clamped(half_up(i128::from(part) * i128::from(loss), 100_000_000)));
    }

    #[test]
    fn shares_add_up_at_the_edge(total in 0_i64..=i64::MAX, weights in prop::collection::vec(0_i64..=i64::MAX, 1..8)) {
        let shares = largest_remainder(total, &weights);
        prop_assert_eq!(shares.iter().map(|share| i128::from(*share)).sum::<i128>(), i128::from(total));
        prop_assert!(shares.iter().all(|share| *share >= 0));
    }
}

/// Held to what 64 bits keep: cut off, but of the right sign and never small.
fn clamped(value: i128) -> i64 {
    value.clamp(i128::from(i64::MIN), i128::from(i64::MAX)) as i64
}
