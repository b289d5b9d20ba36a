//! Letters: composed, and sent by SMTP or laid into an outbox folder. Nothing here knows the store or a plan.

pub mod address;
pub mod folder;
pub mod letter;
pub mod password;
pub mod report;
pub mod report_name;
pub mod send;
pub mod smtp;

/// A text for a header: one line, and no beginning of an encoded word (RFC 2047), which the mail library would let
/// through as it is and every reader would decode into something else.
fn header_text(text: &str) -> String {
    crate::render::one_line(text).replace("=?", "= ?")
}
