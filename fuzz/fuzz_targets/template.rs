//! A template of the workshop's own: there is always a page, the built-in one where this one fails.
#![no_main]

use libfuzzer_sys::fuzz_target;
use stillroom::render::document::{Block, Document};
use stillroom::render::html::report;

fuzz_target!(|text: &str| {
    let folder = std::env::temp_dir().join(format!("stillroom-fuzz-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("stock.html"), text).unwrap();
    let document = Document::new("stock", "Stock").section("Part", vec![Block::paragraph("a & b")]);
    let rendered = report(&document, Some(&folder)).unwrap();
    assert!(rendered.warnings.is_empty() || rendered.html.starts_with("<!DOCTYPE html>"));
});
