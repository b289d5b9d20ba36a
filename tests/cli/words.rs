//! What people read is said as they say it, and what a machine reads stays as it was.

use crate::workshop::Workshop;

#[test]
fn acts_days_and_names_are_said_as_people_say_them() {
    let workshop = Workshop::example();
    let said = workshop.done(&["plan", "add", "lip-balm-plain", "24 pcs", "--make-on", "2027-05-03"]);
    assert!(said.starts_with("P-0001 Lip balm, plain, made on Mon 3 May\n"), "{said}");
    let said = workshop.done(&["act", "list"]);
    assert!(said.contains("plan entry added") && said.contains("files imported"), "{said}");
    assert_eq!(workshop.json(&["act", "list"])["acts"][0]["kind"], "plan-add");
    let said = workshop.done(&["act", "undo"]);
    assert_eq!(said, "Act 2 (plan entry added P-0001) is taken back. `stillroom act undo 3` undoes that.\n");
    let said = workshop.done(&["act", "list"]);
    assert!(said.contains("act 2 taken back") && said.contains("plan entry added; taken back since"), "{said}");
}

#[test]
fn pieces_that_still_cure_may_leave_but_it_is_said() {
    let workshop = Workshop::example();
    workshop.done(&["make", "E06", "--as-planned"]);
    let said = workshop.done(&["pieces", "leave", "B-2027-0001", "2", "--as", "gift"]);
    assert!(said.contains("note: they still set or cure, and are ready on Wed 3 March at the earliest.\n"), "{said}");
    let said = workshop.done_on("2027-03-03", &["pieces", "leave", "B-2027-0001", "2", "--as", "gift"]);
    assert!(!said.contains("note:"), "{said}");
}

#[test]
fn nothing_happens_to_a_lot_before_it_came() {
    let workshop = Workshop::example();
    let error = workshop.refused_on("2027-01-01", 2, &["count", "L2702-15", "40 g", "--reason", "weighed"]);
    assert!(
        error.contains("lot L2702-15 came on Mon 22 February, and this would be on Fri 1 January, before it"),
        "{error}"
    );
    workshop.refused_on("2027-01-01", 2, &["lot", "move", "L2702-15", "shelf"]);
    let error = workshop.refused(2, &["count", "L2702-15", "-5 g", "--reason", "weighed"]);
    assert!(error.starts_with("error: \"-5 g\" "), "{error}");
}

#[test]
fn an_order_that_is_overdue_is_told_as_the_plan_reckons_with_it() {
    let workshop = Workshop::example();
    let said = workshop.done(&["month"]).replace("\n  ", " ");
    let expected = "Order B2027-07 from Pillowby Packaging is overdue since Fri 26 February; the plan reckons with it from \
                    tomorrow on: Paper band for soap.";
    assert!(said.contains(expected), "{said}");
    // An entry whose day has passed is no premix.
    let said = workshop.done_on("2027-03-03", &["month"]);
    assert!(said.contains("Lavender bath salt, planned for Mon 1 March"), "{said}");
    assert!(!said.contains("premix for Lavender bath salt of Mon 1 March"), "{said}");
}
