//! A CSV file of the workshop: the first byte says which, the rest is the file. Faults have to be single lines.
#![no_main]

use libfuzzer_sys::fuzz_target;
use stillroom::book::{Book, Journal};
use stillroom::intake::{SheetKind, Sheets, check};
use stillroom::plan::money::Currency;

fuzz_target!(|data: &[u8]| {
    let Some((&first, bytes)) = data.split_first() else { return };
    let kind = SheetKind::ALL[usize::from(first) % SheetKind::ALL.len()];
    let mut sheets = Sheets::default();
    sheets.add_csv(kind, "file.csv", bytes);
    if let Err(faults) = check(&sheets, Currency::EUR, &Book::default(), &[], &Journal::default()) {
        assert!(!faults.is_empty());
        assert!(faults.iter().all(|fault| !fault.to_string().chars().any(char::is_control)));
    }
});
