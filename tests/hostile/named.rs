//! The attacks that have names, each through the real program with little memory: refused with a message, or done.

use super::program::Workshop;
use super::workbook::{cell, header, workbook, workbook_of, workbook_sharing};
use std::fs::File;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

/// What the program may take of the computer's memory. It starts with a tenth of it.
const MOST_KILOBYTES: u64 = 400_000;

/// Runs the program with `ulimit -v` and within two minutes: its status and all that it said.
fn held(workshop: &Workshop, arguments: &[&str]) -> (i32, String) {
    let mut words = vec![
        format!("ulimit -v {MOST_KILOBYTES}; exec \"$@\""),
        "sh".to_owned(),
        env!("CARGO_BIN_EXE_stillroom").to_owned(),
    ];
    words.extend(["--store", "workshop.sqlite", "--as-of", "2027-03-01"].map(str::to_owned));
    words.extend(arguments.iter().map(|&word| word.to_owned()));
    let mut command = Command::new("sh");
    command.arg("-c").args(words).env_clear().env("HOME", workshop.path("")).current_dir(workshop.path(""));
    let said = |name: &str| File::create(workshop.path(name)).unwrap();
    command.stdin(Stdio::null()).stdout(said("said-out")).stderr(said("said-err"));
    let mut child = command.spawn().unwrap();
    for _ in 0..1_200 {
        if let Some(status) = child.try_wait().unwrap() {
            let said = ["said-out", "said-err"].map(|name| std::fs::read_to_string(workshop.path(name)).unwrap());
            return (status.code().unwrap_or(-1), said.concat());
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    child.kill().unwrap();
    panic!("{arguments:?} does not end");
}

fn refused(workshop: &Workshop, arguments: &[&str], words: &str) {
    let (status, said) = held(workshop, arguments);
    assert!(status == 2 && said.contains(words), "{arguments:?} ended with {status}: {}", &said[..said.len().min(900)]);
    assert!(said.len() < 5_000, "{} bytes are no message", said.len());
}

#[test]
fn a_zip_bomb() {
    let workshop = Workshop::empty();
    let megabyte = " ".repeat(1 << 20);
    let bomb = workbook_of("materials", "", |part| {
        for _ in 0..65 {
            part.write_all(megabyte.as_bytes()).unwrap();
        }
    });
    assert!(bomb.len() < 200_000);
    std::fs::write(workshop.path("bomb.xlsx"), &bomb).unwrap();
    refused(&workshop, &["import", "bomb.xlsx"], "bomb.xlsx: unpacks to more than 64 MB; save its sheets as CSV files");
    // One that says that it is small.
    let mut lie = bomb;
    let mut place = 0;
    let mut changed = 0;
    while let Some(found) = lie[place..].windows(4).position(|window| window == b"PK\x01\x02") {
        place += found + 4;
        let size = place + 20;
        if u32::from_le_bytes(lie[size..size + 4].try_into().unwrap()) > 1 << 20 {
            lie[size..size + 4].copy_from_slice(&1_000_u32.to_le_bytes());
            changed += 1;
        }
    }
    assert_eq!(changed, 1);
    std::fs::write(workshop.path("lie.xlsx"), &lie).unwrap();
    refused(&workshop, &["import", "lie.xlsx"], "larger than its declared uncompressed size");
    assert!(!workshop.path("workshop.sqlite").exists());
}

/// 2,000 times 150 cells that share one text of 30,000 letters: 9 GB out of a file of a few kilobytes.
#[test]
fn cells_that_share_a_long_text() {
    let workshop = Workshop::empty();
    let row = format!("<row>{}</row>", r#"<c t="s"><v>0</v></c>"#.repeat(150));
    let book = workbook_sharing(&"x".repeat(30_000), "materials", "", |part| {
        (0..2_000).for_each(|_| part.write_all(row.as_bytes()).unwrap());
    });
    assert!(book.len() < 100_000, "{}", book.len());
    std::fs::write(workshop.path("shared.xlsx"), &book).unwrap();
    let words = "unpacks to more than 64 MB; save its sheets as CSV files";
    refused(&workshop, &["import", "shared.xlsx"], words);
    refused(&workshop, &["import", "--map", "shared.xlsx"], words);
}

#[test]
fn a_line_of_a_gigabyte() {
    let workshop = Workshop::example();
    // A file with a hole in it takes no room on the disk.
    let mut file = File::create(workshop.path("materials.csv")).unwrap();
    file.write_all(b"code,name\nx,\"").unwrap();
    file.set_len(1 << 30).unwrap();
    refused(
        &workshop,
        &["import", "materials.csv"],
        "materials.csv: is larger than 64 MB; split it into several files",
    );
    std::fs::rename(workshop.path("materials.csv"), workshop.path("counts.csv")).unwrap();
    refused(&workshop, &["stocktake", "enter", "counts.csv", "--reason", "x"], "counts.csv: is larger than 64 MB");
    std::fs::rename(workshop.path("counts.csv"), workshop.path("book.xlsx")).unwrap();
    refused(&workshop, &["import", "book.xlsx"], "book.xlsx: is larger than 64 MB");
    std::fs::rename(workshop.path("book.xlsx"), workshop.path("config.toml")).unwrap();
    let (status, said) = held(&workshop, &["--config", "config.toml", "stock"]);
    assert!(status == 2 && said.contains("config.toml"), "{said}");
    let (status, said) = held(&workshop, &["restore", "config.toml"]);
    assert!(status != 0 && said.contains("config.toml"), "{said}");
    workshop.done(&["doctor"]);
}

#[test]
fn a_file_without_an_end() {
    let workshop = Workshop::example();
    std::os::unix::fs::symlink("/dev/zero", workshop.path("materials.csv")).unwrap();
    refused(&workshop, &["import", "materials.csv"], "materials.csv: is larger than 64 MB");
    let (status, said) = held(&workshop, &["--config", "/dev/zero", "stock"]);
    assert!(status == 2 && said.contains("/dev/zero"), "{said}");
    let (status, said) = held(&workshop, &["restore", "/dev/zero"]);
    assert!(status != 0 && said.contains("/dev/zero"), "{said}");
    refused(&workshop, &["stock", "--csv", "/dev/zero"], "is there already");
    workshop.file("reports/stock.html", "");
    std::fs::remove_file(workshop.path("reports/stock.html")).unwrap();
    std::os::unix::fs::symlink("/dev/zero", workshop.path("reports/stock.html")).unwrap();
    let (status, said) = held(&workshop, &["stock", "--html", "page.html"]);
    assert_eq!(status, 0, "{said}");
}

/// A workshop whose product is made of the first of `depth` premixes, each made of the next.
fn nested(workshop: &Workshop, depth: usize, is_circle: bool) -> String {
    let mut formulas = "formula,ingredient,percent\n".to_owned();
    let mut premixes = "code,formula,make_ahead_days,loss\n".to_owned();
    for level in 0..depth {
        let inner = match level + 1 {
            last if last == depth && is_circle => "p0".to_owned(),
            last if last == depth => "water".to_owned(),
            next => format!("p{next}"),
        };
        formulas.push_str(&format!("f{level},{inner},100\n"));
        premixes.push_str(&format!("p{level},f{level},0,0\n"));
    }
    workshop.file("in/formulas.csv", &formulas);
    workshop.file("in/premixes.csv", &premixes);
    small(workshop, "f0", "10 pcs", "100 g")
}

/// The rest of a small workshop: one product of this formula.
fn small(workshop: &Workshop, formula: &str, planned: &str, net: &str) -> String {
    workshop.file("in/materials.csv", "code,name\nwater,Water\n");
    workshop.file("in/lots.csv", "lot,material,amount\nL1,water,3 kg\n");
    workshop.file("in/products.csv", &format!("code,name,formula,net_mass\nsoap,Soap,{formula},{net}\n"));
    let plan = workshop.file("in/plan.csv", &format!("entry,product,amount,make_on\nE1,soap,{planned},2027-03-10\n"));
    Path::new(&plan).parent().unwrap().to_str().unwrap().to_owned()
}

#[test]
fn a_formula_ten_thousand_deep() {
    let workshop = Workshop::empty();
    let files = nested(&workshop, 10_000, false);
    for words in [
        &["import", &files][..],
        &["forecast"],
        &["month"],
        &["make", "E1", "--pieces", "10"],
        &["export", "out"],
        &["doctor"],
    ] {
        let (status, said) = held(&workshop, words);
        assert!(status == 0 && !said.contains("error"), "{words:?}: {}", &said[..said.len().min(500)]);
    }
    // The other way to the same masses: nothing is lost on the way down.
    let stock = workshop.json(&["stock"]);
    assert_eq!(stock["lots"][0]["on_hand"], 2_000_000);
}

#[test]
fn a_circle_ten_thousand_long() {
    let workshop = Workshop::empty();
    let files = nested(&workshop, 10_000, true);
    refused(&workshop, &["import", &files], "a premix contains itself: p0 -> p1 -> ");
    assert!(held(&workshop, &["import", &files]).1.contains("more) -> "));
}

#[test]
fn formulas_that_double_with_every_level() {
    let workshop = Workshop::empty();
    let mut formulas = "formula,ingredient,percent\n".to_owned();
    let mut premixes = "code,formula,make_ahead_days,loss\n".to_owned();
    for level in 0..40 {
        for side in ["a", "b"] {
            let inner = |side: &str| if level == 39 { "water".to_owned() } else { format!("{side}{}", level + 1) };
            if level == 39 {
                formulas.push_str(&format!("f{side}{level},water,100\n"));
            } else {
                formulas.push_str(&format!("f{side}{level},{},50\nf{side}{level},{},50\n", inner("a"), inner("b")));
            }
            premixes.push_str(&format!("{side}{level},f{side}{level},0,0\n"));
        }
    }
    workshop.file("in/formulas.csv", &formulas);
    workshop.file("in/premixes.csv", &premixes);
    let files = small(&workshop, "fa0", "1000000 pcs", "100 g");
    refused(&workshop, &["import", &files], "the plan comes to more than 2000000 weighings");
    assert_eq!(workshop.json(&["stock"])["lots"].as_array().map(Vec::len), Some(0), "nothing was written");
}

#[test]
fn odd_cells_of_a_workbook() {
    let workshop = Workshop::empty();
    let days = |properties: &str| {
        let days = ["0", "1", "60", "61", "2958465", "2958466", "1e308", "-1", "NaN", "45000.99999"];
        let rows: String = days
            .iter()
            .enumerate()
            .map(|(place, day)| {
                let row = place + 2;
                format!(
                    "<row r=\"{row}\">{}<c r=\"B{row}\" t=\"d\"><v>{day}</v></c></row>",
                    cell(&format!("A{row}"), "EUR")
                )
            })
            .collect();
        workbook("rates", properties, &(header(&["currency", "date", "rate"]) + &rows))
    };
    for properties in ["", "<workbookPr date1904=\"1\"/>"] {
        std::fs::write(workshop.path("days.xlsx"), days(properties)).unwrap();
        let (status, said) = held(&workshop, &["import", "days.xlsx"]);
        assert!(status == 2 && said.contains("column date") && !said.contains("panicked"), "{said}");
    }
}

#[test]
fn names_in_every_script_and_marks_of_every_kind() {
    let workshop = Workshop::empty();
    let names = [
        "乳木果油",
        "שמן זית",
        "زيت الزيتون",
        "масло",
        "शिया",
        "น้ำมัน",
        "a\u{200f}b\u{200e}",
        "e\u{301}\u{301}\u{301}",
        "👩🏽\u{200d}🔬",
        "ﬁ",
        "\u{feff}x",
        "\u{e000}",
        "\u{10ffff}",
        "I\u{307}",
        "ß",
    ];
    let rows: String =
        names.iter().enumerate().map(|(place, name)| format!("{name},{name},{name},{place}\n")).collect();
    let files = workshop.file(
        "materials.csv",
        &format!(
            "code,name,inci,piece_mass\n{}",
            rows.replace(",0\n", ",\n")
                .lines()
                .map(|row| {
                    let (row, _) = row.rsplit_once(',').unwrap();
                    format!("{row},\n")
                })
                .collect::<String>()
        ),
    );
    workshop.done(&["import", &files]);
    let out = workshop.path("out").to_str().unwrap().to_owned();
    workshop.done(&["export", &out]);
    let exported = std::fs::read_to_string(workshop.path("out/materials.csv")).unwrap();
    for name in names {
        assert!(exported.contains(name.trim_start_matches('\u{feff}')), "{name:?} is gone: {exported}");
    }
    // What no name may hold.
    for bad in [
        "a\0b",
        "a\u{1b}[2Jb",
        "a\u{1b}]8;;http://x\u{7}b",
        "a\u{9b}2Jb",
        "a\u{85}b",
        "a\u{7f}b",
        "\"a\nb\"",
        "\"a\r\nBcc: a@b\"",
    ] {
        let file = workshop.file("materials.csv", &format!("code,name\nx,{bad}\n"));
        let said = workshop.refused(2, &["import", &file]);
        assert!(said.contains("control character") || said.contains("holds a NUL"), "{bad:?}: {said}");
        assert!(!said.chars().any(|letter| letter.is_control() && letter != '\n'), "{bad:?}: {said:?}");
    }
}

#[test]
fn a_path_with_commands_for_the_terminal() {
    let workshop = Workshop::example();
    for name in ["\u{1b}[2J.csv", "\u{9b}2J.csv", "\u{202e}x.csv", "a\r\nb.csv"] {
        for words in [
            &["import", name][..],
            &["restore", name],
            &["--config", name, "stock"],
            &["stock", "--html", name, "--csv", name],
        ] {
            let answer = workshop.run_on(super::program::FIRST_DAY, words);
            let said = answer.err;
            assert!(
                !said.chars().any(|letter| letter.is_control() && letter != '\n' || letter == '\u{202e}'),
                "{words:?}: {said:?}"
            );
        }
    }
}

#[test]
fn restore_of_what_is_no_store() {
    let workshop = Workshop::example();
    let before = workshop.json(&["stock"]);
    for (name, bytes) in [
        ("empty", Vec::new()),
        ("text", b"code,name\n".to_vec()),
        ("zeros", vec![0; 100_000]),
        ("header", b"SQLite format 3\0".to_vec()),
        ("header-and-zeros", [b"SQLite format 3\0".to_vec(), vec![0xff; 50_000]].concat()),
        ("zip", workbook("materials", "", "")),
    ] {
        std::fs::write(workshop.path(name), bytes).unwrap();
        let answer = workshop.run_on(super::program::FIRST_DAY, &["restore", name]);
        assert!(answer.status == 1 || answer.status == 2, "{name}: {}", answer.err);
        assert!(answer.err.contains(name) && !answer.err.contains("panicked"), "{name}: {}", answer.err);
    }
    assert_eq!(workshop.json(&["stock"]), before);
}
