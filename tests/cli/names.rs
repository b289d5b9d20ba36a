//! Things are called as the maker remembers them.

use crate::workshop::Workshop;

#[test]
fn what_is_meant_is_found_by_code_name_or_part_in_any_case() {
    let workshop = Workshop::example();
    let by_code = workshop.done(&["prices", "mango-butter"]);
    for name in ["Mango butter", "MANGO BUTTER", "mángo", "Mango-Butter"] {
        assert_eq!(workshop.done(&["prices", name]), by_code, "{name}");
    }
    let why = workshop.done(&["forecast", "--why", "mango"]);
    assert!(why.starts_with("Mango butter: "), "{why}");
    // Lots by their own code or a part of the supplier's number; an entry by what is made, where it is planned once.
    let lot = workshop.done(&["lot", "show", "L2606-1"]);
    assert_eq!(workshop.done(&["lot", "show", "l2606 1"]), lot);
    let several = workshop.refused(2, &["weigh", "soap"]);
    assert!(several.contains("\"soap\" could be more than one plan entry that is still to be made:\n  E"), "{several}");
    assert!(several.ends_with("next: give its code, or more of its name\n"), "{several}");
    // A number is never taken for the beginning of another.
    workshop.done(&["plan", "drop", "E05"]);
    workshop.refused(2, &["plan", "drop", "E5"]);
    assert!(workshop.done(&["plan", "drop", "e55"]).contains("E55"));
}

#[test]
fn nobody_is_guessed() {
    let workshop = Workshop::example();
    let check =
        |arguments: &[&str], expected: &str| assert_eq!(workshop.refused(2, arguments), expected, "{arguments:?}");
    check(
        &["plan", "drop", "X99"],
        "error: there is no plan entry that is still to be made \"X99\"\n\
         next: `stillroom plan list` shows what is planned, `stillroom batch list` what was made\n",
    );
    check(
        &["order", "place", "dunmarsh"],
        "error: there is no supplier \"dunmarsh\"\nnext: did you mean dunmarch (Dunmarch Oils and Butters)?\n",
    );
}
