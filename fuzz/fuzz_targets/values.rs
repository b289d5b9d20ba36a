//! Every parser of a single value: amounts, percentages, lengths of time, days, schedules, addresses.
#![no_main]

use libfuzzer_sys::fuzz_target;
use stillroom::clock::AsOf;
use stillroom::plan::decimal::Decimal;
use stillroom::plan::measure::{DecimalMark, Measure, canonical, span};
use stillroom::plan::money::Currency;
use stillroom::plan::quantity::{Density, Percent, Quantity, Unit};
use stillroom::plan::schedule::DaySet;
use stillroom::post::address::Mailbox;

fuzz_target!(|text: &str| {
    let density = Some(Density { micrograms_per_ml: 920_001 });
    for mark in [DecimalMark::Point, DecimalMark::PointOrComma, DecimalMark::PointOrClearComma] {
        let Ok(measure) = Measure::parse(text, mark) else { continue };
        for unit in [Unit::Milligram, Unit::Piece] {
            let Ok(quantity) = measure.quantity(unit, density) else { continue };
            assert!((0..=Quantity::MAX_ENTERED.0).contains(&quantity.0));
            let again = Measure::parse(&canonical(quantity, unit), DecimalMark::Point).unwrap();
            assert_eq!(again.quantity(unit, None).unwrap(), quantity);
        }
    }
    if let Ok(percent) = text.parse::<Decimal>().and_then(Percent::from_decimal) {
        assert_eq!(percent.to_string().parse().and_then(Percent::from_decimal), Ok(percent));
    }
    if let Ok(length) = span(text) {
        assert_eq!(span(&length.to_string()), Ok(length));
    }
    if let Ok(days) = text.parse::<DaySet>() {
        assert_eq!(days.to_string().parse::<DaySet>().unwrap(), days);
    }
    if let Ok(mailbox) = text.parse::<Mailbox>() {
        assert!(!mailbox.address().chars().any(char::is_control));
    }
    let _ = (text.parse::<AsOf>(), Currency::from_code(text));
});
