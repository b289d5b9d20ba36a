//! The command line, `watch` and an import at the same store at the same time, for seconds here and for minutes in the long
//! run (`SECONDS_AT_ONCE=300 cargo test --test safe -- --ignored --nocapture`): no act is lost, nobody is shown that
//! the store was locked, nothing is written over by somebody who read before.

use crate::workshop::{Answer, Workshop};
use std::collections::BTreeSet;
use std::process::{Child, Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// What the helpers did.
#[derive(Default)]
struct Done {
    over: AtomicBool,
    commands: AtomicUsize,
    acts: AtomicUsize,
    /// Codes of entries that were added.
    entries: Mutex<BTreeSet<String>>,
    /// The place of the lot that one helper alone moves about, as it was told last.
    place: Mutex<String>,
    /// The price that was imported last.
    price: AtomicUsize,
    lists: AtomicUsize,
}

impl Done {
    /// Runs a command that has to succeed.
    fn command(&self, workshop: &Workshop, arguments: &[&str]) -> Answer {
        let answer = workshop.run_on("2027-03-01", arguments);
        assert_eq!(answer.status, 0, "{arguments:?}: {}{}", answer.out, answer.err);
        assert!(!answer.err.contains("another program"), "{arguments:?}: {}", answer.err);
        self.commands.fetch_add(1, Ordering::Relaxed);
        answer
    }

    fn act(&self, workshop: &Workshop, arguments: &[&str]) {
        self.command(workshop, arguments);
        self.acts.fetch_add(1, Ordering::Relaxed);
    }

    /// Again and again until the time is over; the first time in any case.
    fn until_over(&self, mut turn: impl FnMut(usize)) {
        for number in 1.. {
            turn(number);
            if self.over.load(Ordering::Relaxed) {
                return;
            }
        }
    }
}

/// Adds entries under codes of its own.
fn add_entries(workshop: &Workshop, done: &Done, helper: &str) {
    done.until_over(|number| {
        let code = format!("{helper}{number}");
        done.act(workshop, &["plan", "add", "house-soap", "24 pcs", "--make-on", "2027-04-20", "--entry", &code]);
        done.entries.lock().unwrap().insert(code);
    });
}

/// Moves a lot from place to place.
fn move_a_lot(workshop: &Workshop, done: &Done) {
    done.until_over(|number| {
        let place = format!("shelf {number}");
        done.act(workshop, &["lot", "move", "L2606-1", &place]);
        *done.place.lock().unwrap() = place;
    });
}

/// Imports the price of an offer, another one each time.
fn import_prices(workshop: &Workshop, done: &Done) {
    let offers =
        std::fs::read_to_string(format!("{}/examples/workshop/offers.csv", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let mut lines = offers.lines();
    let (header, first) = (lines.next().unwrap(), lines.next().unwrap());
    let column = header.split(',').position(|name| name == "price").unwrap();
    done.until_over(|number| {
        let price = 1_000 + number;
        let mut cells: Vec<String> = first.split(',').map(str::to_owned).collect();
        cells[column] = format!("{}.{:02}", price / 100, price % 100);
        workshop.file("prices/offers.csv", &format!("{header}\n{}\n", cells.join(",")));
        // Prices move nothing: that is no act.
        done.command(workshop, &["import", "prices"]);
        done.price.store(price, Ordering::Relaxed);
    });
}

/// Asks for lists, which are kept for the next.
fn ask_for_lists(workshop: &Workshop, done: &Done) {
    done.until_over(|number| {
        let verb = ["reorder", "today", "forecast", "doctor", "backup"][number % 5];
        done.command(workshop, &[verb]);
        done.lists.fetch_add(1, Ordering::Relaxed);
    });
}

/// `watch` with a letter every day of its own running clock, begun anew a day later each few seconds.
fn watch(workshop: &Workshop, done: &Done) {
    done.until_over(|number| {
        let moment = format!("2027-03-{:02}T07:29:59", number % 28 + 1);
        let mut child = start_watch(workshop, &moment);
        std::thread::sleep(Duration::from_millis(1_500));
        assert!(child.try_wait().unwrap().is_none(), "watch ended by itself");
        child.kill().unwrap();
        let output = child.wait_with_output().unwrap();
        let said = String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
        assert!(!said.contains("another program") && !said.contains("locked"), "{said}");
    });
}

fn start_watch(workshop: &Workshop, moment: &str) -> Child {
    Command::new(env!("CARGO_BIN_EXE_stillroom"))
        .args(["--store", "workshop.sqlite", "--config", "config.toml", "--as-of", moment, "watch"])
        .current_dir(workshop.path(""))
        .env_remove("STILLROOM_CONFIG")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

fn all_at_once(seconds: u64) -> Done {
    let workshop = Workshop::example();
    workshop.file(
        "config.toml",
        "time_zone = \"UTC\"\n[mail]\nto = [\"mara@example.org\"]\n[backup]\ndaily = true\nkeep = 3\n\
         [[schedule]]\nname = \"daily\"\nreports = [\"reorder\", \"expiring\"]\ndays = \"every day\"\nat = \"07:30\"\nwhen = \"always\"\n",
    );
    let acts = |workshop: &Workshop| {
        let report: serde_json::Value =
            serde_json::from_str(&workshop.run_on("2027-03-01", &["doctor", "--json"]).out).unwrap();
        assert_eq!(report["sound"], true);
        usize::try_from(report["acts"].as_i64().unwrap()).unwrap()
    };
    let before = acts(&workshop);
    let done = Done::default();
    std::thread::scope(|scope| {
        scope.spawn(|| add_entries(&workshop, &done, "X"));
        scope.spawn(|| add_entries(&workshop, &done, "Y"));
        scope.spawn(|| move_a_lot(&workshop, &done));
        scope.spawn(|| import_prices(&workshop, &done));
        scope.spawn(|| ask_for_lists(&workshop, &done));
        scope.spawn(|| watch(&workshop, &done));
        let begun = Instant::now();
        while begun.elapsed() < Duration::from_secs(seconds) {
            std::thread::sleep(Duration::from_millis(100));
        }
        done.over.store(true, Ordering::Relaxed);
    });
    assert_eq!(acts(&workshop) - before, done.acts.load(Ordering::Relaxed), "an act was lost, or came twice");
    let export = |file: &str| {
        workshop.done(&["export", "exported", "--overwrite"]);
        std::fs::read_to_string(workshop.path("exported").join(file)).unwrap()
    };
    let plan = export("plan.csv");
    let entries = done.entries.lock().unwrap();
    assert!(entries.iter().all(|code| plan.contains(&format!("\n{code},"))), "an entry is missing:\n{plan}");
    let place = done.place.lock().unwrap().clone();
    assert!(export("lots.csv").lines().any(|line| line.starts_with("L2606-1,") && line.contains(&place)), "{place}");
    let price = done.price.load(Ordering::Relaxed);
    let price = format!(",{}.{:02},", price / 100, price % 100);
    assert!(export("offers.csv").contains(&price), "{price}");
    drop(entries);
    // The list that is kept is the one of the state as it is: asked for once more, it does not change.
    let list = workshop.done(&["reorder"]);
    assert_eq!(workshop.done(&["reorder"]), list);
    done
}

#[test]
fn nothing_is_lost_when_many_write_at_once() {
    let done = all_at_once(6);
    assert!(done.acts.load(Ordering::Relaxed) >= 8 && done.lists.load(Ordering::Relaxed) >= 1);
}

#[test]
#[ignore = "long: SECONDS_AT_ONCE=300 cargo test --test safe -- --ignored --nocapture"]
fn long_many_write_at_once() {
    let seconds = std::env::var("SECONDS_AT_ONCE").ok().and_then(|text| text.parse().ok()).unwrap_or(300);
    let done = all_at_once(seconds);
    println!(
        "{seconds} s, six programs at a time: {} commands, {} acts told as done and there, none lost, nobody was shown a lock",
        done.commands.load(Ordering::Relaxed),
        done.acts.load(Ordering::Relaxed)
    );
}
