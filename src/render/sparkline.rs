//! A balance over time as one line of blocks: small enough for a table's cell.

const BLOCKS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// At most `width` characters, each the lowest value of its stretch of days: `·` where that is 0 or less, else a block
/// whose height is its share of the largest value.
#[must_use]
pub fn lowest(values: &[i64], width: usize) -> String {
    if values.is_empty() || width == 0 {
        return String::new();
    }
    let stretch = values.len().div_ceil(width);
    let largest = values.iter().copied().max().unwrap_or(0);
    let symbol = |days: &[i64]| match days.iter().copied().min() {
        Some(lowest) if lowest > 0 => {
            let eighth = (i128::from(lowest) * 8 + i128::from(largest) - 1) / i128::from(largest);
            BLOCKS[usize::try_from(eighth - 1).unwrap_or(0).min(7)]
        }
        _ => '·',
    };
    values.chunks(stretch).map(symbol).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shows_the_lowest_of_each_stretch() {
        assert_eq!(lowest(&[800, 700, 400, 100, 0], 5), "█▇▄▁·");
        assert_eq!(lowest(&[8, 1, 8, 8], 2), "▁█");
        assert_eq!(lowest(&[0, 0], 2), "··");
        assert_eq!(lowest(&[], 9), "");
    }
}
