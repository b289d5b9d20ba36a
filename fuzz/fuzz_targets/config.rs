//! The settings.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::path::Path;
use stillroom::config::{Folders, parse};

fuzz_target!(|text: &str| {
    if let Err(error) = parse(text, Path::new("/w/config.toml"), &Folders::default()) {
        assert!(error.to_string().starts_with("/w/config.toml, line "));
    }
});
