//! What arrives, read by another parser: headers, parts, CSV, and the line lengths that the standards ask for.

use super::example::{composed, envelope, letter_of, view};
use mail_parser::decoders::base64::base64_decode;
use mail_parser::decoders::quoted_printable::quoted_printable_decode;
use mail_parser::{Message, MessageParser, MimeHeaders};
use stillroom::post::address::Mailbox;
use stillroom::post::letter::{Letter, compose};

const ANY_SCRIPT: &str = include_str!("../checks/mime_ical_text.json");
const STANDARDS: &str = include_str!("../checks/standards_examples.json");

fn json(text: &str) -> serde_json::Value {
    serde_json::from_str(text).unwrap()
}

fn read(message: &[u8]) -> Message<'_> {
    MessageParser::default().parse(message).unwrap()
}

fn kind(part: &mail_parser::MessagePart<'_>) -> String {
    let kind = part.content_type().unwrap();
    format!("{}/{}", kind.ctype(), kind.subtype().unwrap_or_default())
}

/// The message's header lines, unfolded lines kept apart: as they stand on the wire, those of its parts too.
fn header_lines(message: &[u8]) -> Vec<String> {
    let text = std::str::from_utf8(message).unwrap();
    let mut lines = Vec::new();
    let mut in_header = true;
    for line in text.split("\r\n") {
        if line.is_empty() {
            in_header = false;
        } else if line.starts_with("--=_stillroom") {
            in_header = !line.ends_with("--");
        } else if in_header {
            lines.push(line.to_owned());
        }
    }
    lines
}

/// RFC 5322 2.1.1 (lines of at most 998 octets, headers of at most 78 where they can be folded) and RFC 2047 2 (encoded
/// words of at most 75, alone in ASCII); every encoded word decodes by itself (RFC 2047 5: no character is cut).
fn assert_well_formed(message: &[u8]) {
    assert!(message.is_ascii());
    let text = std::str::from_utf8(message).unwrap();
    assert_eq!(text.matches('\n').count(), text.matches("\r\n").count(), "no bare line feeds");
    assert_eq!(text.matches('\r').count(), text.matches("\r\n").count(), "no bare carriage returns");
    let rules = json(STANDARDS)["rfc5322"]["rules"].clone();
    let longest = rules["line_max"].as_u64().unwrap() as usize;
    let header_longest = rules["line_should"].as_u64().unwrap() as usize;
    assert!(text.split("\r\n").all(|line| line.len() <= longest));
    let lines = header_lines(message);
    assert!(lines.len() > 10, "{lines:?}");
    for line in &lines {
        let value = line.split_once(": ").map_or(line.as_str(), |(_, value)| value).trim();
        assert!(line.len() <= header_longest || !value.contains(' '), "{} octets: {line}", line.len());
        for word in line.split_whitespace().filter(|word| word.starts_with("=?") && word.ends_with("?=")) {
            assert!(word.len() <= 75, "{word}");
            let parts: Vec<&str> = word.split('?').collect();
            let decoded = match parts[2].to_ascii_lowercase().as_str() {
                "b" => base64_decode(parts[3].as_bytes()).unwrap(),
                _ => quoted_printable_decode(parts[3].replace('_', " ").as_bytes()).unwrap(),
            };
            assert!(String::from_utf8(decoded).is_ok(), "a character is cut in {word}");
        }
    }
}

fn with_subject(subject: &str) -> Letter {
    Letter { subject: subject.to_owned(), ..letter_of(&view()) }
}

#[test]
fn the_letter_says_who_and_when_and_what() {
    let composed = composed();
    assert_well_formed(&composed.message);
    let message = read(&composed.message);
    assert_eq!(message.subject(), Some("1 order to place by Thursday; 1 late"));
    let sender = message.from().unwrap().first().unwrap();
    assert_eq!((sender.name(), sender.address()), (Some("Möwe & Co., Seifen"), Some("workshop@example.org")));
    let to: Vec<_> = message.to().unwrap().iter().map(|to| (to.name(), to.address().unwrap())).collect();
    assert_eq!(to, [(Some("Mara Vale"), "mara@example.org"), (None, "jo@example.net")]);
    assert_eq!(message.message_id(), Some("2027-03-01.reorder.1@example.org"));
    assert_eq!(message.date().unwrap().to_rfc3339(), "2027-03-01T06:30:00Z");
    assert_eq!(composed.file_stem, "2027-03-01-reorder");
}

#[test]
fn the_parts_stand_as_the_standard_orders_them() {
    let composed = composed();
    let message = read(&composed.message);
    let kinds: Vec<String> = message.parts.iter().map(kind).collect();
    assert_eq!(
        kinds,
        ["multipart/mixed", "multipart/alternative", "text/plain", "text/html", "text/csv", "text/calendar"]
    );
    let letter = letter_of(&view());
    assert_eq!(message.body_text(0).unwrap().replace("\r\n", "\n"), letter.text);
    assert_eq!(message.body_html(0).unwrap().replace("\r\n", "\n"), letter.html);
    assert_eq!(message.attachment_count(), 2);
    let attachment = message.attachment(0).unwrap();
    assert_eq!(attachment.attachment_name(), Some("reorder-2027-03-01.csv"));
    // The parser takes the mark at the beginning of a text as its encoding and leaves it out.
    let marked = letter.attachments[0].content.strip_prefix(b"\xEF\xBB\xBF").unwrap();
    let arrived = attachment.contents();
    assert_eq!(arrived.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(arrived), marked);
}

#[test]
fn the_attached_lines_are_the_lists() {
    let view = view();
    let composed = composed();
    let message = read(&composed.message);
    let mut reader = csv::Reader::from_reader(message.attachment(0).unwrap().contents());
    let header = reader.headers().unwrap().clone();
    assert_eq!(header.iter().collect::<Vec<_>>(), stillroom::render::csv::REORDER_COLUMNS);
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let lines: Vec<_> =
        view.orders.iter().flat_map(|order| order.lines.iter().map(move |line| (order, line))).collect();
    assert_eq!((rows.len(), lines.len()), (7, 7));
    for (row, (order, line)) in rows.iter().zip(lines) {
        let cell = |title: &str| row[header.iter().position(|other| other == title).unwrap()].to_owned();
        assert_eq!(cell("order_on"), order.order_on.to_string());
        assert_eq!(cell("supplier_name"), order.supplier_name);
        assert_eq!(cell("name"), line.name);
        assert_eq!(cell("item_no"), line.item_no);
        assert_eq!((cell("pack"), cell("packs")), (line.pack.clone(), line.packs.to_string()));
        assert_eq!((cell("price"), cell("currency")), (line.price.clone(), order.currency.clone()));
        assert_eq!((cell("amount"), cell("unit")), (line.amount.to_string(), line.unit.clone()));
    }
    assert_eq!(&rows[0][14], "P07 P09 safety-stock");
}

#[test]
fn text_and_page_both_tell_everything_late_first() {
    let letter = letter_of(&view());
    let page = letter.html.replace("&amp;", "&").replace("&#x2f;", "/");
    for told in [&letter.text, &page] {
        let words = told.split_whitespace().collect::<Vec<_>>().join(" ");
        let order = [
            "Cannot come in time",
            "Sodium hydroxide",
            "6 days late; from Fernhollow Chemicals: 1 x 500 g for 7.40 EUR",
            "P05 (Lavender soap) and P06 (Oat soap) have to wait, and could be made: P05 on Tue 9 March",
            "P05 Lavender soap: from Wed 3 March to Tue 9 March",
            "If these 2 entries move, everything can come in time",
            "Ostrel Oils & Butters",
            "Tue 9 March",
            "orders@ostrel.example",
            "Shea butter, unrefined",
            "2 x 1 kg at 14.20 EUR",
            "OS-114",
            "1.06 kg on Tue 9 March for P07 and P09 (Shea balm)",
            "300 g on Fri 12 March for the safety stock",
            "640 g left over",
            "18.2 g on Thu 11 March for P07 (Shea balm), and P10 and P12 (Bath oil), and the safety stock",
            "69.30 EUR",
            "5.90 EUR",
            "75.20 EUR",
            "the last day to order in time for Shea butter",
            "Without Ostrel Oils & Butters the list would cost at most 12.30 EUR more",
            "Goods for 10.70 EUR more would make postage free",
            "What waits for the order of Thu 18 March: Cocoa butter, chips",
            "Kettlewick Tin Works",
            "72 pcs on Mon 22 March for P15 and P17 (Salve), and P16 (Wax polish)",
            "2.19 GBP",
            "61.44 GBP",
            "71.00 EUR",
            "All together",
            "146.20 EUR",
            "171.35 EUR",
            "at most 0.8 % above the cheapest possible plan",
            "As wished (W-0002): nothing from Ferrow & Daughter.",
            "The last list stays as it is: a new one would save only 0.34 EUR.",
            "No supplier offers Calendula petals",
            "This list is a proposal. Nothing has been ordered.",
        ];
        let mut rest = words.as_str();
        for what in order {
            rest = rest.split_once(what).unwrap_or_else(|| panic!("{what} does not follow in\n{rest}")).1;
        }
        assert!(words.contains("28.40 EUR"), "the line's sum");
    }
    assert!(letter.text.lines().all(|line| line.chars().count() <= 72), "{}", letter.text);
}

#[test]
fn the_whole_list_as_text_and_on_the_terminal() {
    let page = stillroom::render::reorder::document(&view());
    insta::assert_snapshot!("letter", stillroom::render::text::letter(&page));
    let screen = stillroom::render::table::Screen { width: Some(100), colour: false };
    insta::assert_snapshot!("terminal", stillroom::render::text::terminal(&page, screen));
}

#[test]
fn the_page_needs_nothing_from_outside() {
    let html = letter_of(&view()).html;
    for outside in ["http:", "https:", "src=", "url(", "@import", "<link", "<img", "<script", "<iframe"] {
        assert!(!html.contains(outside), "{outside}");
    }
}

#[test]
fn same_letter_same_bytes() {
    assert!(composed() == composed());
}

/// Source: tests/checks/mime_ical_text.json (Python's email.header) and RFC 2047 section 8.
#[test]
fn a_subject_of_any_script_arrives_as_it_was() {
    let mut subjects: Vec<String> = Vec::new();
    for case in json(ANY_SCRIPT)["cases"].as_array().unwrap() {
        let python = format!("Subject: {}\r\n\r\n", case["python_encoded_subject"].as_str().unwrap());
        assert_eq!(read(python.as_bytes()).subject(), case["must_decode_to"].as_str(), "the reading parser itself");
        subjects.push(case["text"].as_str().unwrap().to_owned());
    }
    for case in json(STANDARDS)["rfc2047"]["cases"].as_array().unwrap() {
        subjects.push(case["display"].as_str().unwrap().to_owned());
    }
    assert_eq!(subjects.len(), 33);
    subjects.extend(
        [
            "",
            "ü",
            "a  b",
            "=?utf-8?q?x?=",
            "see =?ISO-8859-1?Q?a?= here",
            "=?",
            "?=",
            "🧼 soap",
            "x".repeat(199).as_str(),
            "乳".repeat(199).as_str(),
        ]
        .map(str::to_owned),
    );
    subjects.extend(["שלום שמן זית", "мыло «Лаванда» – 12 шт.", "زيت الزيتون"].map(str::to_owned));
    for subject in &subjects {
        let composed = compose(&with_subject(subject)).unwrap();
        assert_well_formed(&composed.message);
        // What looks like an encoded word would be decoded by every reader: its beginning is pulled apart.
        assert_eq!(read(&composed.message).subject().unwrap_or_default(), subject.replace("=?", "= ?"));
    }
}

/// Source: RFC 5322 appendix A.1.1 and A.1.2.
#[test]
fn names_and_dates_of_the_standard_arrive() {
    let examples = json(STANDARDS)["rfc5322"].clone();
    let first = &examples["example_A_1_1"];
    let text = |key: &str| first[key].as_str().unwrap();
    let mut to: Vec<Mailbox> = vec![text("To").parse().unwrap()];
    for example in examples["example_A_1_2"].as_array().unwrap() {
        to.push(example.as_str().unwrap().parse().unwrap());
    }
    let letter = Letter {
        from: text("From").parse().unwrap(),
        to: to.clone(),
        subject: text("Subject").to_owned(),
        written: chrono::DateTime::parse_from_rfc2822(text("Date")).unwrap().to_utc(),
        message_id: text("Message_ID").trim_matches(['<', '>']).to_owned(),
        ..letter_of(&view())
    };
    let composed = compose(&letter).unwrap();
    assert_well_formed(&composed.message);
    let message = read(&composed.message);
    assert_eq!(message.subject(), Some("Saying Hello"));
    assert_eq!(message.message_id(), Some("1234@local.machine.example"));
    assert_eq!(message.date().unwrap().to_timestamp(), letter.written.timestamp());
    let arrived: Vec<_> =
        message.to().unwrap().iter().map(|to| (to.name().unwrap_or_default(), to.address().unwrap())).collect();
    let sent: Vec<_> = to.iter().map(|to| (to.name(), to.address())).collect();
    assert_eq!(arrived, sent);
}

#[test]
fn many_recipients_are_folded() {
    let name = |number: usize| format!("Recipient Number {number} of the Ölmühle <r{number}@example.org>");
    let to: Vec<Mailbox> = (0..60).map(|number| name(number).parse().unwrap()).collect();
    let composed = compose(&Letter { to, ..letter_of(&view()) }).unwrap();
    assert_well_formed(&composed.message);
    assert_eq!(read(&composed.message).to().unwrap().iter().count(), 60);
    assert!(compose(&Letter { to: Vec::new(), ..letter_of(&view()) }).is_err());
    assert_eq!(envelope().to.len(), 2);
}
