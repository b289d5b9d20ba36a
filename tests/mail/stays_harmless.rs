//! Names that are meant to do harm: they end up as words, in headers, text, page and attachment alike.

use super::example::{envelope, letter_of, view};
use mail_parser::{HeaderName, MessageParser};
use stillroom::post::address::Mailbox;
use stillroom::post::letter::{Attachment, Letter, compose};
use stillroom::render::reorder::document;
use stillroom::render::table::Screen;
use stillroom::render::text::terminal;
use stillroom::view::reorder::ReorderView;

const HOSTILE: [&str; 9] = [
    "=?utf-8?q?=0D=0ABcc=3A_x=40evil.example?=",
    "Oils\r\nBcc: x@evil.example",
    "Oils\nSubject: changed\n\nbody",
    "<script>alert(1)</script>",
    "\"><img src=http://evil.example/x onerror=alert(1)>",
    "=cmd|' /C calc'!A0",
    "{{ 7*7 }}{% include 'x' %}",
    "@SUM(1+1)\u{0}\u{1b}[2J\u{202e}txt",
    "-2+3+cmd\r\n.\r\nMAIL FROM:<x@evil.example>",
];

/// The name in every place of the list that holds the workshop's words.
fn everywhere(name: &str) -> ReorderView {
    let mut view = view();
    let words = || name.to_owned();
    for order in &mut view.orders {
        (order.supplier, order.supplier_name, order.supplier_email) = (words(), words(), words());
        for line in &mut order.lines {
            (line.material, line.name, line.item_no, line.pack) = (words(), words(), words(), words());
            for cover in &mut line.covers {
                cover.entries = vec![words()];
            }
        }
    }
    for late in &mut view.late {
        (late.material, late.name, late.entries) = (words(), words(), vec![words()]);
    }
    for finding in &mut view.findings {
        (finding.subject, finding.message) = (words(), words());
    }
    view
}

#[test]
fn hostile_names_are_words_and_nothing_else() {
    let usual = MessageParser::default().parse(&super::example::composed().message).unwrap().into_owned();
    let headers = |message: &mail_parser::Message<'_>| -> Vec<Vec<String>> {
        let names =
            |part: &mail_parser::MessagePart<'_>| part.headers.iter().map(|header| header.name().to_owned()).collect();
        message.parts.iter().map(names).collect()
    };
    for name in HOSTILE {
        let mut letter = letter_of(&everywhere(name));
        letter.subject = name.to_owned();
        letter.from = Mailbox::named(name, "workshop@example.org").unwrap();
        letter.to = vec![Mailbox::named(name, "mara@example.org").unwrap()];
        letter.attachments[0].name = name.to_owned();
        let composed = compose(&letter).unwrap();
        let message = MessageParser::default().parse(&composed.message).unwrap();
        assert_eq!(headers(&message), headers(&usual), "{name:?} changed the headers or parts");
        assert!(message.header(HeaderName::Bcc).is_none());
        assert_eq!(message.from().unwrap().first().unwrap().address(), Some("workshop@example.org"));
        assert_eq!(composed.to.len(), 1);
        for shown in [message.subject(), message.from().unwrap().first().unwrap().name()] {
            assert!(!shown.unwrap_or_default().contains(['\r', '\n']), "{name:?} became {shown:?}");
        }

        let html = message.body_html(0).unwrap();
        let tags = html.matches('<').count();
        assert_eq!(tags, tags_of_an_honest_page(), "{name:?} made tags of its own");
        assert!(!html.contains("<script") && !html.contains("<img"), "{name:?}");
        let text = message.body_text(0).unwrap();
        assert!(!text.contains("49") || name.contains("49"), "{name:?} was run as a template");
        assert!(!text.lines().any(|line| line.starts_with("Bcc:") || line.starts_with("MAIL FROM")), "{name:?}");

        let mut reader = csv::Reader::from_reader(message.attachment(0).unwrap().contents());
        for row in reader.records() {
            for cell in &row.unwrap() {
                assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r']), "{cell:?} would run in a spreadsheet");
            }
        }
    }
}

/// What the page of the same list with honest names has.
fn tags_of_an_honest_page() -> usize {
    letter_of(&everywhere("Honest name")).html.matches('<').count()
}

#[test]
fn the_terminal_gets_no_commands() {
    for name in HOSTILE {
        let text = terminal(&document(&everywhere(name)), Screen { width: Some(100), colour: false });
        let odd: Vec<char> = text.chars().filter(|&letter| letter.is_control() && letter != '\n').collect();
        assert!(odd.is_empty(), "{name:?}: {odd:?}");
        assert!(!text.contains('\u{202e}'));
    }
}

#[test]
fn an_id_or_media_type_cannot_break_out_of_its_header() {
    let with_id = |message_id: &str| Letter { message_id: message_id.to_owned(), ..letter_of(&view()) };
    for id in ["a@b>\r\nBcc: x@y", "a b@c", ""] {
        assert!(compose(&with_id(id)).is_err(), "{id:?}");
    }
    for media_type in ["text/csv\r\nBcc: x@y", "csv", ""] {
        let attachment = Attachment { name: "x".into(), media_type: media_type.into(), content: Vec::new() };
        let letter = Letter { attachments: vec![attachment], ..letter_of(&view()) };
        match compose(&letter) {
            Err(_) => {}
            Ok(composed) => {
                let message = MessageParser::default().parse(&composed.message).unwrap();
                assert!(message.header(HeaderName::Bcc).is_none(), "{media_type:?}");
                assert!(message.attachments().all(|part| part.headers.len() == 3), "{media_type:?}");
            }
        }
    }
    assert_eq!(envelope().message_id, "2027-03-01.reorder.1@example.org");
}
