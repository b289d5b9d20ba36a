//! A letter: what it holds, and how it becomes a MIME message (RFC 5322, 2045 to 2047). Same letter, same bytes.

use super::address::Mailbox;
use super::header_text;
use chrono::{DateTime, NaiveDate, Utc};
use lettre::message::header::{
    ContentDisposition, ContentId, ContentTransferEncoding, ContentType, Header, HeaderName, HeaderValue,
};
use lettre::message::{Body, Message, MultiPart, SinglePart};
use std::time::{Duration, SystemTime};

/// Longest subject, in characters; what is beyond is cut. Keeps a header line without a space under 998 octets.
const LONGEST_SUBJECT: usize = 200;

/// Octets of a header line, the line break not counted (RFC 5322 2.1.1).
const LONGEST_HEADER_LINE: usize = 78;

/// A letter.
#[derive(Clone, Debug)]
pub struct Letter {
    /// From whom.
    pub from: Mailbox,
    /// To whom; at least one.
    pub to: Vec<Mailbox>,
    /// What it is about; one line.
    pub subject: String,
    /// The text part.
    pub text: String,
    /// The HTML part.
    pub html: String,
    /// Pictures that the HTML part shows.
    pub pictures: Vec<InlinePicture>,
    /// Files, in order.
    pub attachments: Vec<Attachment>,
    /// When it was written: the `Date` header.
    pub written: DateTime<Utc>,
    /// `local@domain`, without brackets: one for all tries of a letter.
    pub message_id: String,
    /// The day of the report; the beginning of a file name.
    pub day: NaiveDate,
    /// A short name for files: letters, digits and hyphens.
    pub slug: String,
    /// True where it is to be looked over and sent by hand: mail programs open it for writing.
    pub is_draft: bool,
}

/// A file that goes with a letter.
#[derive(Clone, Debug)]
pub struct Attachment {
    /// Its name.
    pub name: String,
    /// Its media type: `text/csv; charset=utf-8`.
    pub media_type: String,
    /// What is in it.
    pub content: Vec<u8>,
}

/// A picture within the HTML part, which names it as `cid:` and its id (RFC 2392).
#[derive(Clone, Debug)]
pub struct InlinePicture {
    /// `left@right`, without brackets.
    pub content_id: String,
    /// The name of its file.
    pub name: String,
    /// What is in it.
    pub png: Vec<u8>,
}

/// A letter that is ready to be sent, now or later.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Composed {
    /// From whom, for the envelope.
    pub from: Mailbox,
    /// To whom, for the envelope.
    pub to: Vec<Mailbox>,
    /// The message, lines ended by CR LF.
    pub message: Vec<u8>,
    /// Name of the file that it becomes in an outbox folder, without its ending: `2027-03-01-reorder`.
    pub file_stem: String,
}

/// Why a letter cannot be composed.
#[derive(Debug, thiserror::Error)]
pub enum LetterError {
    /// Nobody to send it to.
    #[error("the letter has no recipient; name one with --to, or with `to` under [mail] in the settings")]
    NoRecipient,
    /// A message id that could break out of its header, or that the standard does not allow.
    #[error("{0:?} is no message id; it should look like 2027-03-01.reorder@example.org")]
    MessageId(String),
    /// A date that no `Date` header can hold.
    #[error("{0} is no date that a letter can bear")]
    Date(DateTime<Utc>),
    /// A media type that is none.
    #[error("{0:?} is no media type; it should look like text/csv")]
    MediaType(String),
    /// What the mail library says.
    #[error("the letter cannot be composed: {0}")]
    Compose(#[from] lettre::error::Error),
}

/// `X-Unsent: 1`, by which mail programs tell a letter that is yet to be sent (common practice, no source).
#[derive(Clone)]
struct Unsent;

impl Header for Unsent {
    fn name() -> HeaderName {
        HeaderName::new_from_ascii_str("X-Unsent")
    }

    fn parse(_: &str) -> Result<Self, Box<dyn std::error::Error + Send + Sync>> {
        Ok(Self)
    }

    fn display(&self) -> HeaderValue {
        HeaderValue::new(Self::name(), "1".to_owned())
    }
}

/// Turns the letter into a message: `multipart/mixed` of `multipart/alternative` (text, then HTML) and the attachments. HTML
/// with pictures is `multipart/related` (RFC 2387).
///
/// # Errors
/// [`LetterError`] where a part of the letter cannot stand in a message.
pub fn compose(letter: &Letter) -> Result<Composed, LetterError> {
    if letter.to.is_empty() {
        return Err(LetterError::NoRecipient);
    }
    let mut builder = Message::builder()
        .date(system_time(letter.written)?)
        .from(letter.from.to_lettre())
        .subject(subject(&letter.subject))
        .message_id(Some(format!("<{}>", checked_message_id(&letter.message_id)?)));
    if letter.is_draft {
        builder = builder.header(Unsent);
    }
    for mailbox in &letter.to {
        builder = builder.to(mailbox.to_lettre());
    }
    // In quoted-printable and base64 "=_" cannot occur (RFC 2045 6.7), so no content can be taken for a boundary.
    let readable = MultiPart::alternative()
        .boundary("=_stillroom_readable")
        .singlepart(text_part(&letter.text, ContentType::TEXT_PLAIN));
    let html = text_part(&letter.html, ContentType::TEXT_HTML);
    let readable = if letter.pictures.is_empty() {
        readable.singlepart(html)
    } else {
        readable.multipart(with_pictures(html, letter)?)
    };
    let mut parts = MultiPart::mixed().boundary("=_stillroom_letter").multipart(readable);
    for attachment in &letter.attachments {
        parts = parts.singlepart(attached(attachment)?);
    }
    let message = folded(&builder.multipart(parts)?.formatted());
    let file_stem = format!("{}-{}", letter.day, slug(&letter.slug));
    Ok(Composed { from: letter.from.clone(), to: letter.to.clone(), message, file_stem })
}

/// The message with every header line of more than 78 octets folded before a space, where it has one (RFC 5322 2.1.1
/// and 2.2.3): the mail library folds between words, but lets some lines of addresses grow to 82.
fn folded(message: &[u8]) -> Vec<u8> {
    let header_end = message.windows(4).position(|octets| octets == b"\r\n\r\n").unwrap_or(message.len());
    let (header, rest) = message.split_at(header_end);
    let mut folded = Vec::with_capacity(message.len() + 64);
    for (number, line) in header.split(|&octet| octet == b'\n').enumerate() {
        if number > 0 {
            folded.push(b'\n');
        }
        let mut line = line;
        while let Some(place) = fold_place(line) {
            folded.extend_from_slice(&line[..place]);
            folded.extend_from_slice(b"\r\n");
            line = &line[place..];
        }
        folded.extend_from_slice(line);
    }
    folded.extend_from_slice(rest);
    folded
}

/// The last space that leaves at most 78 octets before it; not one among those that the line begins with, nor the one
/// after the header's name. `None` where the line is short enough, or has no such space.
fn fold_place(line: &[u8]) -> Option<usize> {
    let content = line.strip_suffix(b"\r").unwrap_or(line);
    if content.len() <= LONGEST_HEADER_LINE {
        return None;
    }
    let start = content.iter().position(|&octet| octet != b' ')?;
    let space = |place: &usize| content[*place] == b' ' && !content[..*place].ends_with(b":");
    (start..=LONGEST_HEADER_LINE).rev().find(space)
}

fn subject(text: &str) -> String {
    let line = header_text(text);
    if line.chars().count() <= LONGEST_SUBJECT {
        return line;
    }
    line.chars().take(LONGEST_SUBJECT - 3).chain("...".chars()).collect()
}

fn system_time(written: DateTime<Utc>) -> Result<SystemTime, LetterError> {
    // The year 9999 is where the format of the header ends.
    let seconds = u64::try_from(written.timestamp()).ok().filter(|&seconds| seconds < 253_402_300_800);
    let seconds = seconds.ok_or(LetterError::Date(written))?;
    Ok(SystemTime::UNIX_EPOCH + Duration::from_secs(seconds))
}

/// Atoms with dots, an `@`, atoms with dots (RFC 5322 3.6.4), short enough for one line.
fn checked_message_id(id: &str) -> Result<&str, LetterError> {
    let plain = |letter: char| letter.is_ascii_alphanumeric() || "!#$%&'*+-/=?^_`{|}~".contains(letter);
    let dotted = |part: &str| part.split('.').all(|atom| !atom.is_empty() && atom.chars().all(plain));
    let fits = id.len() <= 200 && id.split_once('@').is_some_and(|(left, right)| dotted(left) && dotted(right));
    if fits { Ok(id) } else { Err(LetterError::MessageId(id.to_owned())) }
}

fn text_part(text: &str, kind: ContentType) -> SinglePart {
    let lines = text.replace("\r\n", "\n").replace('\r', "\n").replace('\n', "\r\n");
    SinglePart::builder().header(kind).header(ContentTransferEncoding::QuotedPrintable).body(lines)
}

fn with_pictures(html: SinglePart, letter: &Letter) -> Result<MultiPart, LetterError> {
    let mut related = MultiPart::related().boundary("=_stillroom_pictures").singlepart(html);
    for picture in &letter.pictures {
        let id = format!("<{}>", checked_message_id(&picture.content_id)?);
        let kind = ContentType::parse("image/png").map_err(|_| LetterError::MediaType("image/png".to_owned()))?;
        let part = SinglePart::builder()
            .header(kind)
            .header(ContentId::from(id))
            .header(ContentDisposition::inline_with_name(&picture.name))
            .body(base64(&picture.png));
        related = related.singlepart(part);
    }
    Ok(related)
}

/// An empty body with a chosen encoding cannot be refused, and base64 takes every octet.
fn base64(content: &[u8]) -> Body {
    Body::new_with_encoding(content.to_vec(), ContentTransferEncoding::Base64).unwrap_or_else(Body::new)
}

fn attached(attachment: &Attachment) -> Result<SinglePart, LetterError> {
    let refuse = || LetterError::MediaType(attachment.media_type.clone());
    let kind = ContentType::parse(&attachment.media_type).map_err(|_| refuse())?;
    let name: String = header_text(&attachment.name)
        .chars()
        .map(|letter| if "/\\\"".contains(letter) { '_' } else { letter })
        .collect();
    let disposition = ContentDisposition::attachment(&name);
    Ok(SinglePart::builder().header(kind).header(disposition).body(base64(&attachment.content)))
}

/// Lower-case letters, digits and single hyphens, at most 60; `letter` where nothing is left.
fn slug(text: &str) -> String {
    let mut slug = String::new();
    for letter in text.chars().take(60) {
        if letter.is_ascii_alphanumeric() {
            slug.push(letter.to_ascii_lowercase());
        } else if !slug.is_empty() && !slug.ends_with('-') {
            slug.push('-');
        }
    }
    let slug = slug.trim_end_matches('-');
    if slug.is_empty() { "letter".to_owned() } else { slug.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn file_names_hold_only_harmless_letters() {
        for (text, expected) in [
            ("reorder", "reorder"),
            ("../../etc/passwd", "etc-passwd"),
            ("Öl  & Fett", "l-fett"),
            ("", "letter"),
            ("..", "letter"),
        ] {
            assert_eq!(slug(text), expected, "{text}");
        }
    }

    #[test]
    fn long_header_lines_are_folded_and_unfold_to_the_same() {
        let long = format!(
            "To: \"{}\" <a@b>,\r\n {} <c@d>\r\nX: {}\r\n\r\n{}",
            "word ".repeat(30),
            "x".repeat(90),
            "y".repeat(90),
            "z ".repeat(90)
        );
        let folded = String::from_utf8(folded(long.as_bytes())).unwrap();
        assert_eq!(
            folded.replace("\r\n ", " "),
            long.replace("\r\n ", " "),
            "RFC 5322 2.2.3: unfolding takes the line breaks out"
        );
        let over: Vec<&str> = folded.split("\r\n").filter(|line| line.len() > 78).collect();
        assert_eq!(over.len(), 3, "a word, a word and the body are left: {over:?}");
    }

    #[test]
    fn a_message_id_cannot_break_out() {
        assert!(checked_message_id("2027-03-01.reorder@example.org").is_ok());
        for id in ["", "a", "a@", "@b", "a@b@c", "a b@c", "a>\r\nBcc: x@y", "a@b>", "a..b@c", "\u{e4}@b", "a@[1]"] {
            assert!(checked_message_id(id).is_err(), "{id:?}");
        }
    }

    #[test]
    fn a_subject_is_one_line_of_bearable_length() {
        assert_eq!(subject("a\r\nBcc: x@y"), "a  Bcc: x@y");
        assert_eq!(subject(&"ü".repeat(5_000)).chars().count(), LONGEST_SUBJECT);
    }
}
