//! Settings that nobody would write.

use proptest::prelude::*;
use std::path::Path;
use stillroom::config::{ConfigError, Folders, parse};

fn said(text: &str) -> String {
    parse(text, Path::new("/w/config.toml"), &Folders::default())
        .map_or_else(|error: ConfigError| error.to_string(), |_| String::new())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn any_text_is_a_config_or_a_fault(text in prop_oneof![".{0,200}", "(\\[{1,3}[a-z.]{0,9}\\]{0,3}\n|[a-z_]{1,12} *= *[-0-9.eE\"'\\[\\]{}a-z]{0,12}\n){0,12}"]) {
        let said = said(&text);
        prop_assert!(said.is_empty() || said.starts_with("/w/config.toml, line "), "{said}");
    }

    #[test]
    fn the_example_with_something_bad_in_it(
        harm in prop::collection::vec((any::<prop::sample::Index>(), "[\\[\\]{}\"'=#.\n\\-0-9a-z\u{0}\u{202e}]{0,4}"), 1..5)
    ) {
        let mut text = include_str!("../../config.example.toml").to_owned();
        for (place, trouble) in harm {
            let places: Vec<usize> = text.char_indices().map(|(place, _)| place).collect();
            text.insert_str(places[place.index(places.len())], &trouble);
        }
        let _ = said(&text);
    }
}

#[test]
fn depth_and_size_end_in_a_message() {
    for text in
        ["[".repeat(100_000), format!("store = {}", "[".repeat(100_000)), "a = {".repeat(100_000), "a.".repeat(100_000)]
    {
        assert!(said(&text).starts_with("/w/config.toml, line 1: "), "{}", &text[..20]);
    }
    for number in ["1e308", "nan", "inf", "-inf", "9223372036854775807", "9223372036854775808"] {
        assert!(said(&format!("[bench]\ntolerance_percent = {number}\n")).contains("line 2"), "{number}");
    }
}

#[test]
fn a_password_in_the_wrong_place_is_not_repeated() {
    for line in [
        "password = 'canary-1'",
        "password = 815",
        "password_command = 'canary-1'",
        "password_command = [['canary-1']]",
        "password_env = ['canary-1']",
        "password_env = 'canary-1 = x'",
        "password_file = { a = 'canary-1' }",
        "password_file = 815",
    ] {
        let said = said(&format!("[mail]\nhost = 'h.example'\nfrom = 'a@b.example'\nuser = 'me'\n{line}\n"));
        assert!(!said.is_empty() && !said.contains("canary") && !said.contains("815"), "{line}: {said}");
        assert!(said.contains("line 5"), "{line}: {said}");
    }
}
