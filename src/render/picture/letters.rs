//! How wide words are, and which of them the font of the pictures can draw.

/// Advance widths of the letters from space to tilde in thousandths of the size: those of Noto Sans, which is wider than
/// most fonts that a browser puts in its place.
const WIDTHS: [u16; 95] = [
    260, 269, 408, 646, 572, 831, 732, 225, 300, 300, 551, 572, 268, 322, 268, 372, 572, 572, 572, 572, 572, 572, 572,
    572, 572, 572, 268, 268, 572, 572, 572, 434, 899, 639, 650, 632, 730, 556, 519, 728, 741, 339, 273, 619, 524, 907,
    760, 781, 605, 781, 622, 549, 556, 731, 600, 930, 586, 566, 572, 329, 372, 329, 572, 444, 281, 561, 615, 480, 615,
    564, 344, 615, 618, 258, 258, 534, 258, 935, 618, 605, 615, 615, 413, 479, 361, 618, 508, 786, 529, 510, 470, 380,
    551, 380, 572,
];

/// The width of words at a size, with a little to spare.
pub fn width(words: &str, size: f64) -> f64 {
    let of = |letter: char| {
        let place = u32::from(letter).checked_sub(32).and_then(|place| usize::try_from(place).ok());
        f64::from(place.and_then(|place| WIDTHS.get(place)).copied().unwrap_or(700))
    };
    words.chars().map(of).sum::<f64>() * size / 1_000.0 * 1.03
}

/// The words, shortened with three dots where they are wider than `room`.
pub fn fitted(words: &str, size: f64, room: f64) -> String {
    if width(words, size) <= room {
        return words.to_owned();
    }
    let mut short = String::new();
    for letter in words.chars() {
        if width(&short, size) + width(&letter.to_string(), size) + width("...", size) > room {
            break;
        }
        short.push(letter);
    }
    format!("{}...", short.trim_end())
}

/// The name where the font has all its letters (Latin, Greek, Cyrillic), else the code: a picture of empty boxes says
/// nothing, and the table beside it has the name.
pub fn drawable<'a>(name: &'a str, code: &'a str) -> &'a str {
    let known = |letter: char| {
        matches!(
            u32::from(letter),
            0x20..=0x7E | 0xA0..=0x24F | 0x370..=0x3FF | 0x400..=0x45F | 0x490..=0x491 | 0x1E00..=0x1EFF
                | 0x2010..=0x2015 | 0x2018..=0x201E | 0x2020..=0x2022 | 0x2026 | 0x2030 | 0x2032..=0x2033
                | 0x2039..=0x203A | 0x20AC | 0x2116 | 0x2122 | 0x2212
        )
    };
    if name.is_empty() || !name.chars().all(known) { code } else { name }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_cut_to_their_room() {
        assert_eq!(fitted("Shea butter", 12.0, 200.0), "Shea butter");
        let short = fitted("Shea butter, unrefined", 12.0, 60.0);
        assert!(short.ends_with("...") && width(&short, 12.0) <= 60.0, "{short}");
    }

    #[test]
    fn a_name_in_another_script_gives_way_to_its_code() {
        assert_eq!(drawable("Ölmühle ñandú", "X"), "Ölmühle ñandú");
        assert_eq!(drawable("масло ши", "X"), "масло ши");
        assert_eq!(drawable("乳木果油", "SHEA"), "SHEA");
    }
}
