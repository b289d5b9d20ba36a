//! The next step of a workshop that is not yet filled in: without it, reports have nothing to say, and that is no good news.

use crate::plan::model::Snapshot;

/// What is missing before anything can run short, and how it comes in; nothing where there is a plan.
pub fn way_on(snapshot: &Snapshot) -> Option<&'static str> {
    step(snapshot.items.is_empty(), snapshot.products.is_empty(), snapshot.entries.is_empty())
}

/// The same, of what is missing.
pub fn step(no_materials: bool, no_products: bool, no_entries: bool) -> Option<&'static str> {
    if no_materials {
        return Some(
            "There are no materials yet. `stillroom import --map FILE` reads a spreadsheet of your own, `stillroom init --sheets` \
             writes empty sheets to fill in.",
        );
    }
    if no_products {
        return Some(
            "There is no product yet: what is made to which formula, how much of it is in a piece, what it is packed in. Fill in the \
             sheets `products` and `packaging` (`stillroom init --sheets`), or a list of your own (`stillroom import --map FILE`).",
        );
    }
    no_entries.then_some(
        "Nothing is planned, so nothing can run short. `stillroom plan add PRODUCT \"24 pcs\" --make-on DATE` plans a batch.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_thing_that_is_missing_is_named() {
        let check = |missing: [bool; 3], words: &str| {
            let step = step(missing[0], missing[1], missing[2]).unwrap_or_default();
            assert!(if words.is_empty() { step.is_empty() } else { step.contains(words) }, "{missing:?}: {step}");
        };
        check([true, true, true], "stillroom import --map FILE");
        check([false, true, true], "no product yet");
        check([false, false, true], "stillroom plan add");
        check([false, false, false], "");
    }
}
