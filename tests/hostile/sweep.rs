//! Names that are meant to do harm, in every field that takes words, through every output. The reports are those of the list
//! that `commands::report::by_name` answers to, so that a new one is swept with the others.

use super::program::{FIRST_DAY, Workshop};
use html5gum::{Token, Tokenizer};
use mail_parser::{MessageParser, MimeHeaders};
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;
use stillroom::post::report_name::ReportName;

const NAMES: [&str; 18] = [
    "Honest name",
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "</style></title><svg onload=alert(1)>",
    "=cmd|' /C calc'!A0",
    "+1",
    "@x",
    "-2+3",
    "../../x",
    "{{ config.password }}",
    "{% include 'secret.html' %}",
    "ab\u{202e}cd\u{2066}ef",
    "https://evil.example/?a=b&c=d",
    "javascript:alert(1)",
    "'=1+1",
    "'; DROP TABLE lots; --",
    "Bcc: a@b.example",
    "DTSTART:20270101;X=1,2\\n",
];

/// A name as it may be shown: what turns the direction of writing is left out.
fn shown(name: &str) -> String {
    name.chars().filter(|letter| !matches!(letter, '\u{202e}' | '\u{2066}')).collect()
}

fn table(workshop: &Workshop, name: &str, columns: &str, row: impl Fn(usize, &str) -> Vec<String>) {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(columns.split(',')).unwrap();
    for (place, name) in NAMES.into_iter().enumerate() {
        // In a file, an apostrophe of the name itself stands after the one that guards it.
        let guarded = |cell: String| if cell.starts_with('\'') { format!("'{cell}") } else { cell };
        writer.write_record(row(place, name).into_iter().map(guarded)).unwrap();
    }
    let text = String::from_utf8(writer.into_inner().unwrap()).unwrap();
    workshop.file(&format!("in/{name}.csv"), &text);
}

/// A workshop in which every name is a material, a supplier, a lot, a place, a product, a plan entry and whatever else.
fn hostile() -> Workshop {
    let workshop = Workshop::empty();
    let words = |words: &[&str]| words.iter().map(|&word| word.to_owned()).collect::<Vec<String>>();
    let item = |name: &str| format!("m {name}");
    table(&workshop, "materials", "code,name,inci,storage,caution,safety_stock", |_, n| {
        words(&[&item(n), n, n, n, n, "1 kg"])
    });
    table(&workshop, "suppliers", "code,name,email,currency,lead_time_days", |p, n| {
        words(&[n, n, &format!("s{p}@b.example"), "EUR", "2"])
    });
    table(&workshop, "offers", "supplier,material,pack,price,item_no", |_, n| words(&[n, &item(n), "1 kg", "9.50", n]));
    table(&workshop, "formulas", "formula,ingredient,percent,version,phase", |_, n| words(&[n, &item(n), "100", n, n]));
    table(&workshop, "products", "code,name,formula,net_mass,shelf_life", |_, n| {
        words(&[n, n, n, "100 g", "12 months"])
    });
    table(&workshop, "lots", "lot,material,amount,supplier,supplier_lot,received,cost,best_before,place", |p, n| {
        let lot = if p == 0 { "" } else { n };
        words(&[
            if lot.is_empty() { "Honest lot" } else { lot },
            &item(n),
            "900 g",
            n,
            n,
            "2027-01-02",
            "7.77",
            "2027-04-01",
            n,
        ])
    });
    table(&workshop, "orders", "order,supplier,material,pack,packs,placed,expected,price", |_, n| {
        words(&[n, n, &item(n), "1 kg", "1", "2027-02-20", "2027-03-03", "9.50"])
    });
    table(&workshop, "plan", "entry,product,amount,make_on", |p, n| {
        words(&[n, n, if p % 2 == 0 { "5 pcs" } else { "40 pcs" }, if p < 4 { FIRST_DAY } else { "2027-03-09" }])
    });
    workshop.done(&["import", "in"]);
    workshop.file("config.toml", "[mail]\nfrom = 'ilse@tansy-quay.example'\n");
    workshop
}

fn is_odd(letter: char) -> bool {
    letter.is_control() && letter != '\n' || matches!(letter, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

fn assert_plain(what: &str, text: &str) {
    let odd: BTreeSet<char> = text.chars().filter(|&letter| is_odd(letter)).collect();
    assert!(odd.is_empty(), "{what}: {odd:?}");
    assert!(!text.contains("the secret"), "{what} reached a file");
}

/// Elements and attributes that our pages are made of; whatever is not among them came from a name.
const ELEMENTS: &str = "html head meta title style body main header footer section h1 h2 h3 h4 p ul ol li table caption thead \
    tbody tfoot tr th td div span strong em b i small br hr a details summary dl dt dd figure figcaption img col colgroup input label \
    svg g path rect circle line polyline polygon text tspan desc defs clippath use title abbr time nav article aside kbd code pre";
const LOADING: &str = "href src xlink:href srcset action formaction data poster background";

/// Reads a page as a browser does and looks at every element; returns its words.
fn assert_harmless_page(what: &str, html: &str, is_page: bool) -> String {
    let mut words = String::new();
    let mut policy = 0;
    for token in Tokenizer::new(html) {
        match token.unwrap() {
            Token::StartTag(tag) => {
                let name = String::from_utf8_lossy(&tag.name).to_lowercase();
                assert!(ELEMENTS.split_whitespace().any(|known| known == name), "{what}: <{name}>");
                for (attribute, value) in &tag.attributes {
                    let attribute = String::from_utf8_lossy(attribute).to_lowercase();
                    let value = String::from_utf8_lossy(value).into_owned();
                    assert!(!attribute.starts_with("on"), "{what}: <{name} {attribute}={value:?}>");
                    assert!(!attribute.contains(['<', '"', '\'', '=']), "{what}: <{name} {attribute}>");
                    if LOADING.split(' ').any(|loads| loads == attribute) {
                        assert!(
                            value.starts_with("cid:") || value.starts_with('#'),
                            "{what}: <{name} {attribute}={value:?}>"
                        );
                    }
                    assert!(attribute != "style" || !value.contains("url("), "{what}: {value:?}");
                    policy += usize::from(attribute == "content" && value.starts_with("default-src 'none'"));
                    words.push_str(&value);
                }
            }
            Token::String(text) => words.push_str(&String::from_utf8_lossy(&text)),
            Token::Error(error) => panic!("{what}: {error:?}"),
            _ => {}
        }
    }
    assert_eq!(policy, usize::from(is_page), "{what}: the content policy");
    assert_plain(what, html);
    words
}

/// Every cell, its guard taken off where it has one; none that a spreadsheet would run.
fn assert_harmless_table(what: &str, text: &str) -> BTreeSet<String> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut cells = BTreeSet::new();
    for row in csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes()).records() {
        for cell in &row.unwrap() {
            let is_number = cell.parse::<stillroom::plan::decimal::Decimal>().is_ok();
            assert!(
                is_number || !cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']),
                "{what}: {cell:?} would run"
            );
            // The guard is one apostrophe before what would run, or before what looks guarded.
            let plain = cell.strip_prefix('\'').filter(|rest| rest.starts_with(['=', '+', '-', '@', '\'']));
            cells.insert(plain.unwrap_or(cell).to_owned());
        }
    }
    cells
}

/// Every file of the folder bears a name that is only a name.
fn assert_safe_names(folder: &Path) -> usize {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut count = 0;
    for path in entries {
        let name = path.file_name().unwrap().to_str().unwrap();
        let is_safe = |letter: char| letter.is_ascii_alphanumeric() || matches!(letter, '-' | '_' | '.');
        assert!(name.chars().all(is_safe) && !name.starts_with('.') && !name.contains(".."), "{}", path.display());
        count += 1;
        if path.is_dir() {
            count += assert_safe_names(&path);
        }
    }
    count
}

/// The words of each report's command; a report without its line here is asked for by its name alone.
fn command_of(name: ReportName) -> Vec<Vec<&'static str>> {
    match name {
        // One sheet each; the letter carries those of today.
        ReportName::Weigh => {
            NAMES.iter().filter(|name| !name.starts_with('-')).map(|entry| vec!["weigh", entry]).collect()
        }
        name => vec![vec![name.word()]],
    }
}

#[test]
fn every_report_in_every_form() {
    let workshop = hostile();
    workshop.file("secret.html", "the secret");
    for name in NAMES.iter().skip(1).take(3) {
        workshop.done(&["lot", "write-off", name, "--amount", "10 g", "--reason", name]);
    }
    let mut written = 0;
    for name in ReportName::ALL {
        for words in command_of(name) {
            written += 1;
            let [page, text, rows] = ["html", "txt", "csv"].map(|end| format!("{written}.{end}"));
            let said = workshop.done(&[&words[..], &["--html", &page, "--text", &text, "--csv", &rows]].concat());
            assert_plain(&format!("{words:?}"), &said);
            let read = |name: &str| std::fs::read_to_string(workshop.path(name)).unwrap();
            let on_page = assert_harmless_page(&format!("{words:?} as a page"), &read(&page), true);
            assert_plain(&format!("{words:?} as text"), &read(&text));
            let cells = assert_harmless_table(&format!("{words:?} as a table"), &read(&rows));
            let json: Value = serde_json::from_str(&workshop.done(&[&words[..], &["--json"]].concat())).unwrap();
            assert!(json.is_object());
            // Not made harmless by leaving it out: the names are there, as words.
            if matches!(name, ReportName::Stock) {
                for name in NAMES {
                    assert!(on_page.contains(&shown(name)), "the page leaves out {name:?}");
                    assert!(cells.contains(name), "the table leaves out {name:?}: {cells:?}");
                }
            }
        }
    }
    assert!(written > ReportName::ALL.len());
}

#[test]
fn every_other_answer() {
    let workshop = hostile();
    let honest = "m Honest name";
    let mut lines: Vec<Vec<&str>> = vec![
        vec!["forecast", "--why", honest],
        vec!["reorder", "--why", honest],
        vec!["allocate"],
        vec!["plan", "list"],
        vec!["order", "list"],
        vec!["supplier", "list"],
        vec!["wish", "list"],
        vec!["act", "list"],
        vec!["pieces", "list"],
        vec!["use-up"],
        vec!["stock", "--value"],
        vec!["expiring", "--use-up"],
        vec!["outbox", "list"],
        vec!["batch", "list"],
        vec!["doctor"],
        vec!["import", "in", "--dry-run"],
        vec!["stocktake", "sheet", "--html", "count.html", "--csv", "count.csv"],
    ];
    for name in NAMES.iter().filter(|name| !name.starts_with('-')) {
        lines.extend([
            vec!["formula", "check", name],
            vec!["trace", name],
            vec!["make", name, "--pieces", "5"],
            vec!["lot", "open", name],
        ]);
        lines.push(vec!["expiring", "--why", name]);
    }
    lines.extend([
        vec!["batch", "list"],
        vec!["act", "list"],
        vec!["pieces", "list"],
        vec!["batch", "show", "B-2027-0001"],
    ]);
    let mut done = 0;
    for words in &lines {
        let answer = workshop.run_on(FIRST_DAY, words);
        assert!(!answer.err.contains("panicked") && (0..=2).contains(&answer.status), "{words:?}: {}", answer.err);
        assert_plain(&format!("{words:?}"), &answer.out);
        assert_plain(&format!("{words:?} on standard error"), &answer.err);
        done += usize::from(answer.status == 0);
    }
    assert!(done > lines.len() / 2, "only {done} of {} were done", lines.len());
    workshop.done(&["trace", "Honest lot", "--html", "recall.html"]);
    for page in ["count.html", "recall.html"] {
        assert_harmless_page(page, &std::fs::read_to_string(workshop.path(page)).unwrap(), true);
    }
    let cells = assert_harmless_table("count.csv", &std::fs::read_to_string(workshop.path("count.csv")).unwrap());
    assert!(NAMES.iter().skip(1).all(|name| cells.contains(*name)), "{cells:?}");
}

#[test]
fn every_letter() {
    let workshop = hostile();
    workshop.file("secret.html", "the secret");
    let words: Vec<&str> = ReportName::ALL.iter().map(|name| name.word()).collect();
    let mut letters = 0;
    for reports in words.iter().map(|name| vec![*name]).chain([words.clone()]) {
        let arguments =
            [&["--config", "config.toml", "mail"], &reports[..], &["--to", "ilse@tansy-quay.example"]].concat();
        let answer = workshop.json(&arguments);
        assert_harmless_letter(
            &std::fs::read(workshop.path(answer["file"].as_str().unwrap())).unwrap(),
            "ilse@tansy-quay.example",
        );
        letters += 1;
    }
    for letter in workshop.json(&["--config", "config.toml", "order", "letter"])["letters"].as_array().unwrap() {
        let to = letter["letter"]["email"].as_str().unwrap_or_default().to_owned();
        assert_harmless_letter(&std::fs::read(workshop.path(letter["file"].as_str().unwrap())).unwrap(), &to);
        letters += 1;
    }
    assert!(letters > ReportName::ALL.len() + 5, "only {letters} letters");
    assert!(assert_safe_names(&workshop.path("outbox")) >= letters);
}

fn assert_harmless_letter(bytes: &[u8], to: &str) {
    const HEADERS: &str = "From To Subject Date Message-ID MIME-Version Content-Type Content-Transfer-Encoding Content-Disposition \
        Content-ID Auto-Submitted X-Unsent";
    let message = MessageParser::default().parse(bytes).unwrap();
    for part in &message.parts {
        for header in &part.headers {
            let known = HEADERS.split_whitespace().any(|known| known.eq_ignore_ascii_case(header.name()));
            assert!(known, "a header of its own: {:?}", header.name());
        }
    }
    assert!(message.bcc().is_none() && message.cc().is_none());
    let addresses: Vec<_> = message.to().unwrap().iter().filter_map(|address| address.address()).collect();
    assert!(addresses.len() == 1 && (to.is_empty() || addresses == [to]), "{addresses:?}");
    assert_plain("a subject", message.subject().unwrap());
    if let Some(html) = message.body_html(0) {
        assert_harmless_page("a letter", &html.replace("\r\n", "\n"), false);
    }
    assert_plain("the text of a letter", &message.body_text(0).unwrap().replace("\r\n", "\n"));
    for part in message.attachments() {
        let Some(name) = part.attachment_name() else { continue };
        let is_safe = |letter: char| letter.is_ascii_alphanumeric() || matches!(letter, '-' | '_' | '.');
        assert!(name.chars().all(is_safe) && !name.starts_with('.') && !name.contains(".."), "attached as {name:?}");
        let text = || String::from_utf8(part.contents().to_vec()).unwrap();
        match name.rsplit('.').next() {
            Some("csv") => assert!(!assert_harmless_table(name, &text()).is_empty()),
            Some("html") => assert!(!assert_harmless_page(name, &text().replace("\r\n", "\n"), true).is_empty()),
            Some("ics") => assert_harmless_calendar(&text()),
            Some("png") => assert!(part.contents().starts_with(b"\x89PNG\r\n\x1a\n")),
            _ => panic!("attached as {name:?}"),
        }
    }
}

/// RFC 5545: unfolded, every line is a property that we write, and events are as many as their ids.
fn assert_harmless_calendar(text: &str) {
    const PROPERTIES: &str =
        "BEGIN END VERSION PRODID CALSCALE METHOD UID DTSTAMP DTSTART SEQUENCE SUMMARY DESCRIPTION TRANSP STATUS";
    let unfolded = text.replace("\r\n ", "").replace("\r\n\t", "");
    assert_plain("a calendar", &unfolded.replace("\r\n", "\n"));
    let lines: Vec<&str> = unfolded.lines().collect();
    for line in &lines {
        let name = line.split([':', ';']).next().unwrap();
        assert!(PROPERTIES.split(' ').any(|known| known == name), "{line:?}");
    }
    let count = |start: &str| lines.iter().filter(|line| line.starts_with(start)).count();
    assert_eq!(count("BEGIN:VEVENT"), count("DTSTART"));
    assert_eq!(count("BEGIN:VEVENT"), count("UID:"));
}

#[test]
fn what_is_exported_comes_back_the_same() {
    let workshop = hostile();
    workshop.done(&["export", "out"]);
    assert!(assert_safe_names(&workshop.path("out")) > 10);
    for entry in std::fs::read_dir(workshop.path("out")).unwrap() {
        let path = entry.unwrap().path();
        assert_harmless_table(&path.display().to_string(), &std::fs::read_to_string(&path).unwrap());
    }
    let back = Workshop::empty();
    back.done(&["import", workshop.path("out").to_str().unwrap()]);
    back.done(&["export", "again"]);
    for entry in std::fs::read_dir(workshop.path("out")).unwrap() {
        let name = entry.unwrap().file_name();
        let [there, here] = [workshop.path("out"), back.path("again")]
            .map(|folder| std::fs::read_to_string(folder.join(&name)).unwrap());
        assert_eq!(there, here, "{name:?}");
    }
    let said = back.done(&["import", workshop.path("out").to_str().unwrap()]);
    assert!(said.contains("Nothing to change"), "{said}");
    workshop.done(&["backup"]);
    assert!(assert_safe_names(&workshop.path("backups")) > 0);
}
