//! Pictures for who would rather look than read: drawn as SVG from views, turned into PNG for letters. Each has a text that
//! says the same. They are 360 units wide, so that they can be read on a phone, and need no colour.

pub mod balance;
pub mod dates;
mod letters;
pub mod month;
pub mod png;
mod scale;
mod svg;

use serde::Serialize;

/// Width of every picture, in units of which a phone shows about one for a pixel.
pub const WIDTH: u32 = 360;

/// A picture. The fields are what templates in `reports/` may use.
#[derive(Clone, Debug, Serialize)]
pub struct Picture {
    /// A name of its own on the page: `balance-mango-butter`.
    pub id: String,
    /// What it shows, in words: for who cannot see it.
    pub text: String,
    /// What stands below it for all to read; empty where a table beside it says the same.
    pub caption: String,
    /// The picture as an SVG element of a page, everything in it escaped.
    pub svg: String,
    /// Its width, in units.
    pub width: u32,
    /// Its height, in units.
    pub height: u32,
}

/// Letters, digits and hyphens of a code, for ids; what else it holds is written as numbers, so that two codes stay two.
#[must_use]
pub(super) fn id_of(kind: &str, code: &str) -> String {
    let mut id = format!("{kind}-");
    for letter in code.chars() {
        if letter.is_ascii_alphanumeric() || letter == '-' {
            id.push(letter);
        } else {
            id.push_str(&format!("_{:x}", u32::from(letter)));
        }
    }
    id
}
