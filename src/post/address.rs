//! Mail addresses as people write them: `mara@example.org`, or `Mara Vale <mara@example.org>`.

use super::header_text;
use lettre::Address;
use std::fmt;
use std::str::FromStr;

/// Somebody's address, with a name where there is one. Neither can hold a line break.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mailbox {
    name: String,
    address: Address,
}

/// Why a text is no address.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AddressError {
    /// A line break or another control character: somebody may be trying to slip in a header.
    #[error("{0:?} holds a line break or another control character, which no address may")]
    Control(String),
    /// Not `name@domain`.
    #[error("{0:?} is no mail address; write mara@example.org or Mara Vale <mara@example.org>")]
    NoAddress(String),
    /// Letters beyond ASCII in the address itself, which many servers refuse.
    #[error("the address in {0:?} holds letters beyond ASCII; write its domain in the xn-- form")]
    NotAscii(String),
}

impl Mailbox {
    /// An address with a name. Line breaks and other control characters in the name become spaces.
    ///
    /// # Errors
    /// [`AddressError`] where `address` is none.
    pub fn named(name: &str, address: &str) -> Result<Self, AddressError> {
        if address.chars().any(char::is_control) {
            return Err(AddressError::Control(address.to_owned()));
        }
        if !address.is_ascii() {
            return Err(AddressError::NotAscii(address.to_owned()));
        }
        // A quoted local part may hold spaces and brackets (RFC 5322 3.4.1); no workshop needs one, and an address
        // without them cannot be misread by any server.
        let odd = |letter: char| letter.is_whitespace() || "<>\"(),;:\\[]".contains(letter);
        let parsed = (!address.contains(odd)).then(|| address.parse::<Address>().ok()).flatten();
        match parsed {
            Some(parsed) => Ok(Self { name: header_text(name), address: parsed }),
            None => Err(AddressError::NoAddress(address.to_owned())),
        }
    }

    /// The address without the name.
    #[must_use]
    pub fn address(&self) -> &str {
        self.address.as_ref()
    }

    /// The name; may be empty.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// As lettre takes it.
    pub(super) fn to_lettre(&self) -> lettre::message::Mailbox {
        let name = Some(self.name.clone()).filter(|name| !name.is_empty());
        lettre::message::Mailbox::new(name, self.address.clone())
    }
}

impl FromStr for Mailbox {
    type Err = AddressError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if text.chars().any(char::is_control) {
            return Err(AddressError::Control(text.to_owned()));
        }
        let text = text.trim();
        let Some(rest) = text.strip_suffix('>') else {
            return Self::named("", text);
        };
        let Some((name, address)) = rest.rsplit_once('<') else {
            return Err(AddressError::NoAddress(text.to_owned()));
        };
        let name = name.trim();
        let quoted = name.strip_prefix('"').and_then(|name| name.strip_suffix('"'));
        let name = quoted.map_or_else(|| name.to_owned(), unescaped);
        Self::named(&name, address)
    }
}

/// A quoted string's content (RFC 5322 3.2.4): a backslash stands before what is meant as it is.
fn unescaped(quoted: &str) -> String {
    let mut letters = quoted.chars();
    let mut plain = String::new();
    while let Some(letter) = letters.next() {
        plain.push(if letter == '\\' { letters.next().unwrap_or(letter) } else { letter });
    }
    plain
}

impl fmt::Display for Mailbox {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.name.is_empty() {
            formatter.write_str(self.address())
        } else {
            write!(formatter, "{} <{}>", self.name, self.address)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parts(text: &str) -> Result<(String, String), AddressError> {
        text.parse::<Mailbox>().map(|mailbox| (mailbox.name().to_owned(), mailbox.address().to_owned()))
    }

    #[test]
    fn reads_what_people_write() {
        let check = |text: &str, name: &str, address: &str| {
            assert_eq!(parts(text), Ok((name.to_owned(), address.to_owned())), "{text}");
        };
        check(" mara@example.org ", "", "mara@example.org");
        check("Mara Vale <mara@example.org>", "Mara Vale", "mara@example.org");
        check("Ölmühle, Zoë & Co. <zoe@example.org>", "Ölmühle, Zoë & Co.", "zoe@example.org");
        check("<mara@localhost>", "", "mara@localhost");
        check("mara+list@example.org", "", "mara+list@example.org");
    }

    /// Source: RFC 5322 appendix A.1.2, by way of tests/checks/standards_examples.json.
    #[test]
    fn reads_the_examples_of_the_standard() {
        let file: serde_json::Value =
            serde_json::from_str(include_str!("../../tests/checks/standards_examples.json")).unwrap();
        let examples: Vec<String> = serde_json::from_value(file["rfc5322"]["example_A_1_2"].clone()).unwrap();
        let names: Vec<String> = examples.iter().map(|example| parts(example).unwrap().0).collect();
        assert_eq!(names, ["Joe Q. Public", "Giant; \"Big\" Box", "Who?"]);
    }

    #[test]
    fn refuses_what_is_no_address_and_says_so() {
        for text in
            ["", "mara", "mara@", "@example.org", "a b@example.org", "Mara <mara>", "mara@example.org>", "a@b, c@d"]
        {
            assert!(matches!(parts(text), Err(AddressError::NoAddress(_))), "{text:?}: {:?}", parts(text));
        }
        assert!(matches!(parts("Mara <m@example.org>\r\nBcc: x@y"), Err(AddressError::Control(_))));
        assert!(matches!(parts("Mara\nBcc: x@y <m@example.org>"), Err(AddressError::Control(_))));
        assert!(matches!(parts("zoë@example.org"), Err(AddressError::NotAscii(_))));
        let message = parts("mara").unwrap_err().to_string();
        assert_eq!(message, "\"mara\" is no mail address; write mara@example.org or Mara Vale <mara@example.org>");
    }

    #[test]
    fn a_name_loses_its_line_breaks() {
        let mailbox = Mailbox::named("Mara\r\nBcc: x@y", "mara@example.org").unwrap();
        assert_eq!(mailbox.to_string(), "Mara  Bcc: x@y <mara@example.org>");
        assert!(Mailbox::named("Mara", "m@example.org\r\nBcc: x@y").is_err());
    }
}
