//! The command line: one argument a line.
#![no_main]

use clap::Parser;
use libfuzzer_sys::fuzz_target;
use stillroom::cli::Cli;

fuzz_target!(|text: &str| {
    let words = std::iter::once("stillroom").chain(text.lines());
    if let Err(error) = Cli::try_parse_from(words) {
        let _ = error.to_string();
    }
});
