//! Makes the gallery: every page of the example workshop, its pictures, and a letter with them, all on the example's first
//! day. `cargo run --example gallery` writes them to `docs/gallery`; another folder can be named.

use clap::Parser;
use mail_parser::{MessageParser, MimeHeaders};
use std::error::Error;
use std::fs;
use std::path::{Path, PathBuf};
use stillroom::cli::Cli;
use stillroom::commands;
use stillroom::render::table::Screen;

/// File and the words of the command that makes it.
const PAGES: [(&str, &str, &[&str]); 16] = [
    ("today.html", "What the day asks for", &["today"]),
    ("month.html", "The month ahead", &["month"]),
    ("forecast.html", "What runs short, and every material's balance", &["forecast"]),
    ("forecast-rosehip-oil.html", "What is behind a material's figures", &["forecast", "--why", "rosehip-oil"]),
    ("reorder.html", "What to order", &["reorder"]),
    ("expiring.html", "What is at risk, and what could be made of it", &["expiring", "--use-up"]),
    ("use-up.html", "What to make so that less expires", &["use-up"]),
    ("stock.html", "The stock, lot by lot", &["stock"]),
    ("stock-value.html", "What the stock is worth", &["stock", "--value"]),
    ("weigh-E04.html", "A weighing sheet", &["weigh", "E04"]),
    ("batch.html", "A batch and what it cost", &["batch", "show", "B-2027-0001"]),
    ("write-offs.html", "What was written off", &["write-offs"]),
    ("prices.html", "Which prices have changed", &["prices"]),
    ("prices-shea-butter.html", "What a material has cost", &["prices", "shea-butter"]),
    ("recall-L2605-1.html", "A recall sheet", &["trace", "L2605-1"]),
    ("counting.html", "A counting sheet", &["stocktake", "sheet"]),
];

/// What is done first, so that there is a batch and something was thrown away.
const DONE: [&[&str]; 2] = [
    &["make", "E01", "--pieces", "98"],
    &["lot", "write-off", "L2606-1", "--amount", "120 g", "--reason", "smells of paint"],
];

/// How much larger than this the gallery may not grow, in octets.
const LARGEST: u64 = 2_000_000;

fn main() -> Result<(), Box<dyn Error>> {
    let gallery = std::env::args()
        .nth(1)
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/gallery"), PathBuf::from);
    fs::create_dir_all(&gallery)?;
    let workshop = tempfile::tempdir()?;
    let run = |words: &[&str]| run(workshop.path(), words);
    let files = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/workshop");
    run(&["import", &files.display().to_string(), "--currency", "EUR"])?;
    for words in DONE {
        run(words)?;
    }
    let mut index = String::from(
        "# Gallery\n\nPages, pictures and a letter of the example workshop on its first day, 1 March 2027. Made by \
         `cargo run --example gallery`;\nnothing here is written by hand.\n\n",
    );
    for (file, title, words) in PAGES {
        let path = gallery.join(file).display().to_string();
        run(&[words, &["--html", &path]].concat())?;
        index.push_str(&format!("- [{title}]({file}): `stillroom {}`\n", words.join(" ")));
    }
    run(&["mail", "today", "reorder", "expiring", "month", "forecast", "--to", "ilse@tansy-quay.example"])?;
    letter(&workshop.path().join("outbox/2027-03-01-reports.eml"), &gallery, &mut index)?;
    fs::write(gallery.join("README.md"), index)?;
    let mut size = 0;
    for entry in fs::read_dir(&gallery)?.chain(fs::read_dir(gallery.join("letter"))?) {
        let facts = entry?.metadata()?;
        size += if facts.is_file() { facts.len() } else { 0 };
    }
    println!("{}: {size} octets", gallery.display());
    if size > LARGEST { Err(format!("the gallery has more than {LARGEST} octets").into()) } else { Ok(()) }
}

/// Runs a command as it would be typed.
fn run(workshop: &Path, words: &[&str]) -> Result<String, Box<dyn Error>> {
    let config = workshop.join("config.toml");
    fs::write(&config, "")?;
    let store = workshop.join("workshop.sqlite");
    let common =
        ["--as-of", "2027-03-01", "--store", &store.display().to_string(), "--config", &config.display().to_string()]
            .map(str::to_owned);
    let typed = std::iter::once("stillroom".to_owned()).chain(words.iter().map(|&word| word.to_owned())).chain(common);
    Ok(commands::run(Cli::try_parse_from(typed)?, Screen::default())?)
}

/// The letter's HTML with its pictures beside it, its text, and its calendar.
fn letter(file: &Path, gallery: &Path, index: &mut String) -> Result<(), Box<dyn Error>> {
    let bytes = fs::read(file)?;
    let message = MessageParser::default().parse(&bytes).ok_or("the letter is none")?;
    let mut html = message.body_html(0).ok_or("the letter has no HTML")?.into_owned();
    index.push_str(&format!(
        "\nA letter, \"{}\": [as HTML](letter/letter.html), [as text](letter/letter.txt).\n\nPictures:\n\n",
        message.subject().unwrap_or_default()
    ));
    let folder = gallery.join("letter");
    fs::create_dir_all(&folder)?;
    for part in &message.parts {
        let (Some(id), Some(name)) = (part.content_id(), part.attachment_name()) else { continue };
        html = html.replace(&format!("cid:{id}"), name);
        fs::write(folder.join(name), part.contents())?;
        index.push_str(&format!("![{name}](letter/{name})\n"));
    }
    fs::write(folder.join("letter.html"), html)?;
    fs::write(folder.join("letter.txt"), message.body_text(0).ok_or("the letter has no text")?.as_bytes())?;
    Ok(())
}
