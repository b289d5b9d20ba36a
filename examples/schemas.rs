//! Writes the JSON Schemas of all answers: `cargo run --example schemas` puts them into `docs/schemas`; another folder can be
//! named.

use std::path::{Path, PathBuf};
use stillroom::view::schemas::answers;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args()
        .nth(1)
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/schemas"), PathBuf::from);
    std::fs::create_dir_all(&folder)?;
    for answer in answers() {
        let text = serde_json::to_string_pretty(&answer.schema())? + "\n";
        std::fs::write(folder.join(answer.name() + ".json"), text)?;
    }
    println!("{} schemas in {}", answers().len(), folder.display());
    Ok(())
}
