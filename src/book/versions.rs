//! Which of two formula versions is the newer.

use std::cmp::Ordering;

/// Orders versions as people count them: numbers inside are compared as numbers, so that `1.10` is newer than `1.9`
/// and `v2` older than `v10`. Two texts that differ are never equal: leading zeros, then the plain text decide.
#[must_use]
pub fn version_order(left: &str, right: &str) -> Ordering {
    let (mut left_rest, mut right_rest) = (left, right);
    while !left_rest.is_empty() && !right_rest.is_empty() {
        let (left_part, left_after) = first_part(left_rest);
        let (right_part, right_after) = first_part(right_rest);
        let order = match (is_number(left_part), is_number(right_part)) {
            (true, true) => number_order(left_part, right_part),
            _ => left_part.cmp(right_part),
        };
        if order != Ordering::Equal {
            return order;
        }
        (left_rest, right_rest) = (left_after, right_after);
    }
    left_rest.len().cmp(&right_rest.len()).then_with(|| left.cmp(right))
}

/// The run of digits, or of anything else, with which a text that is not empty starts.
fn first_part(text: &str) -> (&str, &str) {
    let digits = is_number(text);
    let end = text.find(|letter: char| letter.is_ascii_digit() != digits).unwrap_or(text.len());
    text.split_at(end)
}

fn is_number(text: &str) -> bool {
    text.starts_with(|letter: char| letter.is_ascii_digit())
}

/// Compares runs of digits of any length.
fn number_order(left: &str, right: &str) -> Ordering {
    let (left, right) = (left.trim_start_matches('0'), right.trim_start_matches('0'));
    left.len().cmp(&right.len()).then_with(|| left.cmp(right))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn numbers_inside_are_numbers() {
        for (older, newer) in
            [("1", "2"), ("2", "10"), ("1.9", "1.10"), ("v2", "v10"), ("1", "1a"), ("", "1"), ("1.2", "1.2.0")]
        {
            assert_eq!(version_order(older, newer), Ordering::Less, "{older} {newer}");
            assert_eq!(version_order(newer, older), Ordering::Greater, "{newer} {older}");
        }
        assert_eq!(version_order("3", "3"), Ordering::Equal);
        assert_eq!(version_order("99999999999999999999999", "100000000000000000000000"), Ordering::Less);
    }

    proptest! {
        #[test]
        fn it_is_an_order(a in "[0-9a.ä]{0,5}", b in "[0-9a.ä]{0,5}", c in "[0-9a.ä]{0,5}") {
            prop_assert_eq!(version_order(&a, &b), version_order(&b, &a).reverse());
            prop_assert_eq!(version_order(&a, &b) == Ordering::Equal, a == b);
            if version_order(&a, &b).is_le() && version_order(&b, &c).is_le() {
                prop_assert!(version_order(&a, &c).is_le());
            }
        }
    }
}
