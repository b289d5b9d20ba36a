//! Letters with several reports, read by a parser that is not ours: pictures that the HTML part shows, what is cut and
//! attached whole, the calendar, and names that are meant to do harm.

use super::program::Workshop;
use mail_parser::{Message, MessageParser, MimeHeaders};

fn letter(workshop: &Workshop, reports: &[&str]) -> Vec<u8> {
    let words = [&["mail"], reports, &["--to", "ilse@tansy-quay.example"]].concat();
    std::fs::read(workshop.path(workshop.json(&words)["file"].as_str().unwrap())).unwrap()
}

fn read(bytes: &[u8]) -> Message<'_> {
    MessageParser::default().parse(bytes).unwrap()
}

fn names(message: &Message<'_>) -> Vec<String> {
    let files = message.attachments().filter(|part| part.content_id().is_none());
    files.filter_map(|part| part.attachment_name()).map(str::to_owned).collect()
}

#[test]
fn the_subject_says_the_news() {
    let workshop = Workshop::example();
    let subject = |reports: &[&str]| read(&letter(&workshop, reports)).subject().unwrap().to_owned();
    assert_eq!(subject(&["reorder", "expiring"]), "1 order to place today; 1 late; 5 lots at risk");
    assert_eq!(subject(&["weigh"]), "4 to weigh today");
    assert_eq!(subject(&["write-offs"]), "Nothing was written off from Wed 1 April 2026 through Mon 1 March");
}

#[test]
fn pictures_stand_in_the_html_and_nowhere_else() {
    let workshop = Workshop::example();
    let bytes = letter(&workshop, &["month", "expiring", "forecast"]);
    assert!(bytes.split(|&octet| octet == b'\n').all(|line| line.len() <= 998), "RFC 5322 2.1.1");
    let message = read(&bytes);
    let html = message.body_html(0).unwrap();
    let pictures: Vec<_> = message.parts.iter().filter(|part| part.content_id().is_some()).collect();
    assert_eq!(pictures.len(), 8, "the calendar, the dates, six balances");
    for picture in &pictures {
        let id = picture.content_id().unwrap();
        assert_eq!(html.matches(&format!("src=\"cid:{id}\"")).count(), 1, "{id}");
        assert!(picture.contents().starts_with(b"\x89PNG\r\n\x1a\n"), "{id}");
    }
    assert_eq!(html.matches("<img ").count(), pictures.len());
    assert_eq!(html.matches("alt=\"").count(), pictures.len());
    assert!(!html.contains("<svg") && !html.contains("http:") && !html.contains("Content-Security-Policy"));
    let kinds: Vec<String> = message
        .parts
        .iter()
        .filter_map(|part| part.content_type())
        .map(|kind| format!("{}/{}", kind.ctype(), kind.subtype().unwrap_or_default()))
        .collect();
    assert_eq!(
        kinds[..5],
        ["multipart/mixed", "multipart/alternative", "text/plain", "multipart/related", "text/html"]
    );
}

#[test]
fn what_is_cut_is_attached_whole() {
    let workshop = Workshop::example();
    let bytes = letter(&workshop, &["stock"]);
    let message = read(&bytes);
    assert_eq!(names(&message), ["stock-2027-03-01.html", "stock-2027-03-01.csv"]);
    let lots: Vec<String> = workshop.json(&["stock"])["lots"]
        .as_array()
        .unwrap()
        .iter()
        .map(|lot| lot["lot"].as_str().unwrap().to_owned())
        .collect();
    assert!(lots.len() > 60);
    let (text, html) = (message.body_text(0).unwrap(), message.body_html(0).unwrap());
    let shown = |words: &str| lots.iter().filter(|lot| words.contains(lot.as_str())).count();
    assert!(shown(&text) < 20 && shown(&html) < 20);
    let more = format!("and {} more in the attached file", lots.len() - 15);
    assert!(text.contains(&more) && html.contains(&more), "{text}");
    for attachment in message.attachments() {
        let words = String::from_utf8_lossy(attachment.contents()).into_owned();
        assert_eq!(shown(&words), lots.len(), "{:?}", attachment.attachment_name());
    }
}

#[test]
fn the_calendar_holds_order_days_and_last_days() {
    let workshop = Workshop::example();
    let bytes = letter(&workshop, &["reorder", "expiring"]);
    let message = read(&bytes);
    assert_eq!(names(&message), ["reorder-2027-03-01.csv", "dates-2027-03-01.ics"]);
    let file = message.attachments().last().unwrap();
    let kind = file.content_type().unwrap();
    assert_eq!((kind.ctype(), kind.subtype()), ("text", Some("calendar")));
    let text = String::from_utf8(file.contents().to_vec()).unwrap().replace("\r\n ", "");
    let orders = workshop.json(&["reorder"])["orders"].as_array().unwrap().len();
    assert_eq!(text.matches("UID:order.").count(), orders);
    assert_eq!(text.matches("UID:best-before.").count(), 5);
    assert!(text.contains("UID:best-before.L2606-1@tansy-quay.example"), "{text}");
    // The same entries a day later: known by the same names.
    let uids = |text: &str| text.lines().filter(|line| line.starts_with("UID")).map(str::to_owned).collect::<Vec<_>>();
    let later =
        workshop.done_on("2027-03-02", &["mail", "reorder", "expiring", "--to", "ilse@tansy-quay.example", "--json"]);
    let later: serde_json::Value = serde_json::from_str(&later).unwrap();
    let later = std::fs::read(workshop.path(later["file"].as_str().unwrap())).unwrap();
    let later = read(&later);
    let later =
        String::from_utf8(later.attachments().last().unwrap().contents().to_vec()).unwrap().replace("\r\n ", "");
    assert_eq!(uids(&text), uids(&later));
}

#[test]
fn hostile_names_stay_words_in_pictures_and_pages() {
    let workshop = Workshop::example();
    let name = "\"><script>alert(1)</script>{{ 7*7 }}";
    let materials = std::fs::read_to_string(
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/workshop/materials.csv"),
    )
    .unwrap();
    let changed = materials
        .replacen("mango-butter,Mango butter,", &format!("mango-butter,\"{}\",", name.replace('"', "\"\"")), 1)
        .replacen("sunflower-oil,Sunflower oil,", &format!("sunflower-oil,\"{}\",", name.replace('"', "\"\"")), 1);
    assert_ne!(changed, materials);
    workshop.done(&["import", &workshop.file("materials.csv", &changed)]);
    for report in ["month", "forecast", "expiring", "reorder", "stock", "prices"] {
        workshop.done(&[report, "--html", "page.html"]);
        let page = std::fs::read_to_string(workshop.path("page.html")).unwrap();
        assert!(!page.contains("<script") && page.contains("{{ 7*7 }}"), "{report}");
        assert!(page.contains("&lt;script&gt;"), "{report} shows the name");
        let bytes = letter(&workshop, &[report]);
        let message = read(&bytes);
        assert!(!message.body_html(0).unwrap().contains("<script"), "{report}");
    }
}
