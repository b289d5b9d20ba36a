//! The only two ways in which Stillroom rounds: half up, and largest remainder.

/// `numerator / denominator` to the nearest integer, halves up (towards positive infinity).
///
/// # Panics
/// Never for a positive `denominator`, which every caller's types guarantee.
#[must_use]
pub fn half_up(numerator: i128, denominator: i128) -> i128 {
    debug_assert!(denominator > 0);
    // Nothing is doubled, and what wraps on the way comes back: any two numbers have their nearest whole one.
    let whole = numerator.div_euclid(denominator);
    let rest = numerator.wrapping_sub(whole.wrapping_mul(denominator));
    whole + i128::from(rest >= denominator - rest)
}

/// As [`half_up`], held to what an `i64` can keep.
#[must_use]
pub fn half_up_i64(numerator: i128, denominator: i128) -> i64 {
    clamp(half_up(numerator, denominator))
}

/// The nearest `i64`: amounts are bounded on entry, so this only keeps a hostile workshop from wrapping round.
#[must_use]
pub fn clamp(value: i128) -> i64 {
    i64::try_from(value).unwrap_or(if value < 0 { i64::MIN } else { i64::MAX })
}

/// Shares `total` out in proportion to `weights` so that the shares add up to it exactly: each gets the whole part of
/// its quota, and what is left goes to the largest remainders, the earlier line first where two are equal.
///
/// All weights and the total are at least 0. Weights that add up to 0 leave everything with the first line.
/// Source: the largest-remainder method (Hamilton), common in apportionment.
#[must_use]
pub fn largest_remainder(total: i64, weights: &[i64]) -> Vec<i64> {
    let sum: i128 = weights.iter().map(|&weight| i128::from(weight)).sum();
    if sum == 0 {
        return (0..weights.len()).map(|line| if line == 0 { total } else { 0 }).collect();
    }
    let quota = |&weight: &i64| i128::from(total) * i128::from(weight);
    let mut shares: Vec<i64> = Vec::with_capacity(weights.len());
    let mut by_remainder: Vec<(std::cmp::Reverse<i128>, usize)> = Vec::with_capacity(weights.len());
    for (line, quota) in weights.iter().map(quota).enumerate() {
        let share = quota.div_euclid(sum);
        by_remainder.push((std::cmp::Reverse(quota - share * sum), line));
        shares.push(clamp(share));
    }
    let left = total - shares.iter().sum::<i64>();
    by_remainder.sort_unstable();
    for &(_, line) in by_remainder.iter().take(usize::try_from(left).unwrap_or(0)) {
        shares[line] += 1;
    }
    shares
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_go_up() {
        for (numerator, denominator, expected) in [(5, 2, 3), (-5, 2, -2), (4, 3, 1), (5, 3, 2), (0, 7, 0), (-7, 3, -2)]
        {
            assert_eq!(half_up(numerator, denominator), expected, "{numerator}/{denominator}");
        }
    }

    #[test]
    fn shares_add_up_and_ties_go_to_the_earlier_line() {
        assert_eq!(largest_remainder(100, &[1, 1, 1]), vec![34, 33, 33]);
        assert_eq!(largest_remainder(10, &[0, 5, 5]), vec![0, 5, 5]);
        assert_eq!(largest_remainder(1, &[1, 2, 2]), vec![0, 1, 0]);
        assert_eq!(largest_remainder(7, &[0, 0]), vec![7, 0]);
    }
}
