//! What reading and writing the store costs, beside the plainest way to do the same. Run by hand: `cargo bench --bench store`,
//! or all figures at once with `benches/run`.

#![allow(missing_docs, reason = "a program for developers")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "it may fail loudly")]

/// As in the program.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

mod support;

use clap::Parser;
use divan::{Bencher, black_box};
use rusqlite::Connection;
use rusqlite::types::Value;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use stillroom::book::link::link;
use stillroom::cli::Cli;
use stillroom::commands;
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::model::Snapshot;
use stillroom::plan::outlook::{Outlook, look_ahead};
use stillroom::plan::rescue::{RescueSettings, rescue};
use stillroom::render::report::Report;
use stillroom::render::table::Screen;
use stillroom::render::{expiring as expiring_words, forecast as forecast_words, stock as stock_words};
use stillroom::store::{Store, TraceFrom};
use stillroom::view::{expiring, forecast, rescue as rescue_view, stock};
use support::past::{add_batches_of_one_lot, add_past};
use support::workshops::{Size, example, made, today};

fn main() {
    divan::main();
}

/// A store that is made once in the folder of the build, and kept there for the next run.
fn kept(name: &str, make: impl FnOnce(&Path)) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("speed");
    std::fs::create_dir_all(&folder).unwrap();
    let (path, half) = (folder.join(name), folder.join(format!("half-{name}")));
    if !path.exists() {
        let _ = std::fs::remove_file(&half);
        make(&half);
        std::fs::rename(&half, &path).unwrap();
    }
    path
}

/// The example workshop with a million ledger lines behind it.
fn aged() -> &'static Path {
    static PATH: OnceLock<PathBuf> = OnceLock::new();
    PATH.get_or_init(|| {
        kept("aged.sqlite", |path| {
            example(path);
            add_past(path, 1_000_000, today(), 1);
        })
    })
}

/// 400 materials, 3,000 lots, 1,200 plan entries over a year.
fn large() -> &'static Path {
    static PATH: OnceLock<PathBuf> = OnceLock::new();
    PATH.get_or_init(|| {
        kept("large.sqlite", |path| made(path, Size { materials: 400, lots: 3_000, entries: 1_200 }, 1))
    })
}

/// The example workshop, where one lot went into 100,000 batches.
fn one_lot() -> &'static Path {
    static PATH: OnceLock<PathBuf> = OnceLock::new();
    PATH.get_or_init(|| {
        kept("one-lot.sqlite", |path| {
            example(path);
            add_batches_of_one_lot(path, 100_000, today());
        })
    })
}

fn snapshot(path: &Path) -> Snapshot {
    let mut store = Store::open(path).unwrap();
    let reading = store.reading().unwrap();
    let (book, standings) = reading.book_ahead(today()).unwrap();
    link(&book, reading.home().unwrap(), &standings).unwrap()
}

/// The tables that a snapshot is made of, as the store asks for them.
const TABLES: [&str; 11] = [
    "SELECT * FROM materials ORDER BY code",
    "SELECT * FROM suppliers ORDER BY code",
    "SELECT * FROM postage ORDER BY supplier, measure, band_from",
    "SELECT * FROM offers ORDER BY supplier, material, pack, from_packs",
    "SELECT * FROM rates ORDER BY currency, date",
    "SELECT lots.*, on_hand, lot_balances.cost FROM lot_balances CROSS JOIN lots USING (lot) WHERE on_hand > 0 ORDER BY lot_balances.lot",
    "SELECT * FROM formula_lines ORDER BY formula, version, place",
    "SELECT * FROM premixes ORDER BY code",
    "SELECT * FROM products ORDER BY code",
    "SELECT * FROM packaging ORDER BY product, place",
    "SELECT * FROM plan WHERE dropped = 0 AND made = 0 ORDER BY rank, entry",
];

/// Loading the snapshot of the large workshop.
mod loading {
    use super::*;

    /// Every cell of the same rows, each taken as what SQLite says it is.
    #[divan::bench]
    fn plain_loop_over_the_rows(bencher: Bencher) {
        let connection = Connection::open(large()).unwrap();
        bencher.bench_local(|| {
            let mut rows: Vec<Vec<Value>> = Vec::new();
            for sql in TABLES {
                let mut statement = connection.prepare_cached(sql).unwrap();
                let cells = statement.column_count();
                let mut found = statement.query([]).unwrap();
                while let Some(row) = found.next().unwrap() {
                    rows.push((0..cells).map(|cell| row.get_unwrap(cell)).collect());
                }
            }
            rows
        });
    }

    /// The rows as this program has them.
    #[divan::bench]
    fn book(bencher: Bencher) {
        let mut store = Store::open(large()).unwrap();
        bencher.bench_local(|| store.reading().unwrap().book_ahead(today()).unwrap());
    }

    /// The rows, and the snapshot made of them.
    #[divan::bench]
    fn book_and_snapshot(bencher: Bencher) {
        let mut store = Store::open(large()).unwrap();
        bencher.bench_local(|| {
            let reading = store.reading().unwrap();
            let (book, standings) = reading.book_ahead(today()).unwrap();
            link(&book, reading.home().unwrap(), &standings).unwrap()
        });
    }
}

/// The example workshop with a million ledger lines behind it.
mod aged_workshop {
    use super::*;

    #[divan::bench]
    fn from_opening_to_the_forecast() -> Outlook {
        look_ahead(&snapshot(aged()), today(), None, SearchLimit::default())
    }

    #[divan::bench(sample_count = 10)]
    fn recount_of_the_ledger(bencher: Bencher) {
        let mut store = Store::open(aged()).unwrap();
        bencher.bench_local(|| assert_eq!(store.reading().unwrap().recount().unwrap(), []));
    }

    #[divan::bench(sample_count = 10)]
    fn plain_sum_of_the_ledger(bencher: Bencher) {
        let connection = Connection::open(aged()).unwrap();
        let sql = "SELECT sum(amount), sum(cost) FROM movements";
        bencher.bench_local(|| {
            connection.query_row(sql, [], |row| Ok((row.get::<_, i64>(0)?, row.get::<_, i64>(1)?))).unwrap()
        });
    }

    /// A lot of the past, by way of premixes: the command whole.
    #[divan::bench]
    fn trace_of_a_lot() -> String {
        command(aged(), &["trace", "L-0500"])
    }
}

/// One lot in 100,000 batches: every one of them is told.
mod trace_of_one_lot_in_100_000_batches {
    use super::*;

    #[divan::bench(sample_count = 5)]
    fn links(bencher: Bencher) {
        let mut store = Store::open(one_lot()).unwrap();
        bencher.bench_local(|| {
            let found = store.reading().unwrap().genealogy(TraceFrom::Lot("T-0001")).unwrap();
            assert_eq!(found.draws.len(), 100_000);
            found
        });
    }

    #[divan::bench(sample_count = 5)]
    fn command_as_json() -> String {
        command(one_lot(), &["trace", "T-0001", "--json"])
    }
}

/// Runs a command as the program does, but for its start.
fn command(store: &Path, words: &[&str]) -> String {
    let begin = ["stillroom", "--store", store.to_str().unwrap(), "--as-of", "2027-03-01"];
    let cli = Cli::parse_from(begin.iter().chain(words));
    commands::run(cli, Screen::default()).unwrap()
}

/// View and rendering of each report of the large workshop: as text, and as a page.
mod reports {
    use super::*;

    fn ahead() -> &'static (Snapshot, Outlook) {
        static AHEAD: OnceLock<(Snapshot, Outlook)> = OnceLock::new();
        AHEAD.get_or_init(|| {
            let snapshot = snapshot(large());
            let outlook = look_ahead(&snapshot, today(), None, SearchLimit::default());
            (snapshot, outlook)
        })
    }

    fn rendered(bencher: Bencher, report: impl Fn(&Snapshot, &Outlook) -> Report) {
        let (snapshot, outlook) = ahead();
        bencher.bench_local(|| {
            let report = report(snapshot, outlook);
            (black_box(report.text()), report.html(None).unwrap())
        });
    }

    #[divan::bench]
    fn stock(bencher: Bencher) {
        rendered(bencher, |snapshot, _| {
            let view = stock::stock(snapshot, today());
            Report::new(&view, stock_words::document(&view)).unwrap()
        });
    }

    #[divan::bench]
    fn forecast(bencher: Bencher) {
        rendered(bencher, |snapshot, outlook| {
            let view = forecast::forecast(snapshot, outlook);
            Report::new(&view, forecast_words::document(&view)).unwrap()
        });
    }

    #[divan::bench]
    fn expiring(bencher: Bencher) {
        rendered(bencher, |snapshot, outlook| {
            let view = expiring::expiring(snapshot, outlook);
            Report::new(&view, expiring_words::document(&view, None)).unwrap()
        });
    }

    #[divan::bench(sample_count = 5)]
    fn expiring_with_what_could_be_made(bencher: Bencher) {
        rendered(bencher, |snapshot, outlook| {
            let view = expiring::expiring(snapshot, outlook);
            let found = rescue(snapshot, outlook, RescueSettings::default());
            let use_up = rescue_view::rescue(snapshot, outlook, &found);
            Report::new(&view, expiring_words::document(&view, Some(&use_up))).unwrap()
        });
    }
}

/// Files into a new store.
mod importing {
    use super::*;
    use std::fmt::Write as _;

    /// A folder with so many lots of the materials of the large workshop.
    fn lots(count: usize) -> PathBuf {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("speed/{count}-lots"));
        std::fs::create_dir_all(&folder).unwrap();
        let mut text = String::from("code,name\n");
        (0..400).for_each(|place| writeln!(text, "M{place:05},Material no. {place}").unwrap());
        std::fs::write(folder.join("materials.csv"), text).unwrap();
        let mut text = String::from("lot,material,amount,received,cost,best_before,place\n");
        for place in 0..count {
            let (material, amount) = (place * 7 % 400, place % 900 + 100);
            writeln!(text, "K{place:06},M{material:05},{amount} g,2027-01-15,{amount}.25,2028-06-30,shelf 4").unwrap();
        }
        std::fs::write(folder.join("lots.csv"), text).unwrap();
        folder
    }

    #[divan::bench(args = [1_000, 10_000, 100_000], sample_count = 3)]
    fn of_lots(bencher: Bencher, count: usize) {
        let folder = lots(count);
        let place = tempfile::tempdir().unwrap();
        let store = place.path().join("new.sqlite");
        bencher
            .with_inputs(|| std::fs::remove_file(&store).ok())
            .bench_local_values(|_| command(&store, &["import", folder.to_str().unwrap()]));
    }
}
