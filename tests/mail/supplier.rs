//! Letters to suppliers: drafts that a mail program opens for writing, sent by themselves only where the settings say so.

use assert_cmd::Command;
use mail_parser::{Message, MessageParser};
use std::path::Path;
use tempfile::TempDir;

struct Workshop(TempDir);

impl Workshop {
    fn new(more: &str) -> Self {
        let workshop = Self(tempfile::tempdir().unwrap());
        let settings = format!(
            "store = \"workshop.sqlite\"\ntime_zone = \"Europe/Lisbon\"\n[mail]\nfrom = \"Ilse Marlow <ilse@example.net>\"\n{more}"
        );
        std::fs::write(workshop.0.path().join("config.toml"), settings).unwrap();
        let files = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/workshop");
        workshop.done(&["import", files.to_str().unwrap()]);
        workshop
    }

    fn done(&self, arguments: &[&str]) -> String {
        let output = Command::cargo_bin("stillroom")
            .unwrap()
            .env_clear()
            .env("HOME", self.0.path())
            .current_dir(self.0.path())
            .args(["--config", "config.toml", "--as-of", "2027-03-01"])
            .args(arguments)
            .output()
            .unwrap();
        let (out, err) = (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap());
        assert!(output.status.success(), "{arguments:?}: {out}{err}");
        out
    }

    fn file(&self, name: &str) -> Vec<u8> {
        std::fs::read(self.0.path().join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
    }

    fn files(&self, folder: &str) -> Vec<String> {
        let Ok(entries) = std::fs::read_dir(self.0.path().join(folder)) else { return Vec::new() };
        let files = entries.map(|entry| entry.unwrap()).filter(|entry| entry.path().is_file());
        let mut names: Vec<String> = files.map(|entry| entry.file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

fn to(message: &Message<'_>) -> String {
    message.to().unwrap().first().unwrap().address().unwrap().to_owned()
}

#[test]
fn an_order_that_is_placed_leaves_a_draft_and_nothing_is_sent() {
    let workshop = Workshop::new("");
    let said = workshop.done(&["order", "place"]);
    let name = "2027-03-01-order-o-2027-0001.eml";
    assert!(
        said.contains(&format!("The letter to Bushel and Pound lies in outbox/drafts/{name}: look it over")),
        "{said}"
    );
    let bytes = workshop.file(&format!("outbox/drafts/{name}"));
    let message = MessageParser::default().parse(&bytes).unwrap();
    // suppliers.csv and offers.csv: the address, and the numbers under which they sell.
    assert_eq!(to(&message), "trade@bushelandpound.example");
    assert_eq!(message.subject(), Some("Order O-2027-0001 of 1 March 2027"));
    assert_eq!(message.header_raw("X-Unsent").map(str::trim), Some("1"));
    let text = message.body_text(0).unwrap();
    for words in ["BP-114    Mango butter  1 lb      2", "BP-107    Shea butter   5 lb      2"] {
        assert!(text.contains(words), "{text}");
    }
    assert!(text.contains("With kind regards, Ilse Marlow") && !text.contains("GBP"), "{text}");
    assert!(message.body_html(0).unwrap().contains("BP-114"));
    assert!(workshop.files("outbox").is_empty());
    assert!(workshop.done(&["outbox", "list", "--all", "--json"]).contains("\"letters\":[]"));
    // With prices where they are wanted: 44.20 GBP as on the reorder list.
    workshop.done(&["order", "letter", "o-2027-0001", "--prices"]);
    let bytes = workshop.file("outbox/drafts/2027-03-01-order-o-2027-0001-2.eml");
    let message = MessageParser::default().parse(&bytes).unwrap();
    assert!(message.body_text(0).unwrap().contains("Goods in all: 44.20 GBP."));
}

#[test]
fn every_order_of_the_plan_or_one_supplier_s_next() {
    let workshop = Workshop::new("");
    workshop.done(&["order", "letter"]);
    let suppliers = ["bushel-and-pound", "dunmarch", "greyfell", "pillowby", "saltmarrow"];
    assert_eq!(workshop.files("outbox/drafts"), suppliers.map(|code| format!("2027-03-01-order-{code}.eml")));
    let other = Workshop::new("");
    other.done(&["order", "letter", "greyfell"]);
    assert_eq!(other.files("outbox/drafts"), ["2027-03-01-order-greyfell.eml"]);
    let refused = Command::cargo_bin("stillroom")
        .unwrap()
        .current_dir(other.0.path())
        .args(["--config", "config.toml", "--as-of", "2027-03-01", "order", "letter", "nobody"])
        .output()
        .unwrap();
    assert_eq!(refused.status.code(), Some(2));
    assert!(String::from_utf8(refused.stderr).unwrap().contains("there is no order or supplier \"nobody\""));
}

#[test]
fn it_goes_out_by_itself_where_the_settings_name_the_supplier() {
    let workshop = Workshop::new("send_orders_to = [\"bushel-and-pound\"]\n");
    let said = workshop.done(&["order", "place"]);
    assert!(
        said.contains("The letter to Bushel and Pound is letter 1 of the outbox; `stillroom post` sends it."),
        "{said}"
    );
    assert!(workshop.files("outbox/drafts").is_empty() && workshop.files("outbox").is_empty());
    workshop.done(&["post"]);
    workshop.done(&["post"]);
    assert_eq!(workshop.files("outbox"), ["2027-03-01-order-o-2027-0001.eml"]);
    let bytes = workshop.file("outbox/2027-03-01-order-o-2027-0001.eml");
    let message = MessageParser::default().parse(&bytes).unwrap();
    assert_eq!(to(&message), "trade@bushelandpound.example");
    assert!(message.header_raw("X-Unsent").is_none());
}
