//! Two examples for each command: they stand below its help and in its manual page, and a test runs each of them at the example
//! workshop.

use super::Cli;
use clap::{Command, CommandFactory};

/// A line to type, and what it is for.
type Example = (&'static str, &'static str);

/// By the words of the command.
#[rustfmt::skip]
pub const EXAMPLES: &[(&str, [Example; 2])] = &[
    ("init", [
        ("stillroom init --sheets", "begin, with empty sheets to fill in"),
        ("stillroom init --currency GBP --time-zone Europe/London --to mara@example.org", "say it all at once"),
    ]),
    ("demo", [
        ("stillroom demo", "into the folder stillroom-demo"),
        ("stillroom demo example-workshop", "into a folder of that name"),
    ]),
    ("import", [
        ("stillroom import my-files --dry-run", "look first what would change; without --dry-run it is taken in"),
        ("stillroom import --map my-stock.csv", "a spreadsheet of your own: say once what its columns mean"),
    ]),
    ("export", [
        ("stillroom export saved", "every table as a CSV file in the folder `saved`"),
        ("stillroom export saved --overwrite", "once more, over the older files"),
    ]),
    ("today", [
        ("stillroom today", "what the day asks for"),
        ("stillroom today --days 14", "and what the next two weeks will"),
    ]),
    ("stock", [
        ("stillroom stock", "every lot on the shelves"),
        ("stillroom stock --value --html stock.html", "what they are worth, as a page too"),
    ]),
    ("month", [
        ("stillroom month", "the month ahead"),
        ("stillroom month --through 2027-04-15 --html month.html", "through a day, as a page too"),
    ]),
    ("forecast", [
        ("stillroom forecast", "what runs short, and when"),
        ("stillroom forecast --why \"mango butter\"", "what is behind one material's figures"),
    ]),
    ("allocate", [
        ("stillroom allocate", "which lots the plan takes for what"),
        ("stillroom allocate --why E09", "for one entry"),
    ]),
    ("expiring", [
        ("stillroom expiring", "what ends before it is used"),
        ("stillroom expiring --why L2605-1", "who will still use that lot"),
    ]),
    ("reorder", [
        ("stillroom reorder", "what to order, from whom, by which day"),
        ("stillroom reorder --due --exclude greyfell", "only what cannot wait, without one supplier"),
    ]),
    ("wish list", [
        ("stillroom wish list", "what every list heeds"),
        ("stillroom wish list --json", "for another program"),
    ]),
    ("wish exclude", [
        ("stillroom wish exclude greyfell --reason \"stocktaking\"", "nothing from a supplier"),
        ("stillroom wish exclude 2027-03-29/2027-04-05", "no order on these days"),
    ]),
    ("wish pin", [
        ("stillroom wish pin dunmarch/coconut-oil", "buy a material there and nowhere else"),
        ("stillroom wish pin epsom-salt", "buy it as soon as an order can go out"),
    ]),
    ("wish prefer", [
        ("stillroom wish prefer dunmarch 5", "let a supplier cost five percent more"),
        ("stillroom wish prefer \"leaning pear\" 2.5 --reason \"next door\"", "say why"),
    ]),
    ("wish budget", [
        ("stillroom wish budget 120", "orders of the next seven days cost no more"),
        ("stillroom wish budget 300 --through 2027-03-31", "nor those through a day"),
    ]),
    ("wish lift", [
        ("stillroom wish lift W-0001", "the list no longer heeds it"),
        ("stillroom wish lift W-0001 --json", "for another program"),
    ]),
    ("supplier list", [
        ("stillroom supplier list", "who they are, and how long their parcels really take"),
        ("stillroom supplier list --json", "for another program"),
    ]),
    ("order list", [
        ("stillroom order list", "what has not come yet"),
        ("stillroom order list --json", "for another program"),
    ]),
    ("order place", [
        ("stillroom order place", "write down the orders that are due today"),
        ("stillroom order place dunmarch", "the next one of a supplier, due or not"),
    ]),
    ("order letter", [
        ("stillroom order letter", "drafts for all orders of the plan"),
        ("stillroom order letter B2027-08 --prices", "for one that was placed, with prices"),
    ]),
    ("order cancel", [
        ("stillroom order cancel B2027-08", "nothing of it is waited for any more"),
        ("stillroom order cancel B2027-09", "what has come of it stays"),
    ]),
    ("receive", [
        ("stillroom receive B2027-07 --place \"shelf D1\"", "a whole parcel"),
        ("stillroom receive --material \"shea butter\" --amount \"500 g\" --cost 0", "a free sample without an order"),
    ]),
    ("plan list", [
        ("stillroom plan list", "what is planned, and what each entry lacks"),
        ("stillroom plan list --through 2027-03-31", "through a day"),
    ]),
    ("plan add", [
        ("stillroom plan add house-soap \"2 moulds\" --make-on 2027-04-12", "by the day it is made"),
        ("stillroom plan add \"rosemary hair soap\" \"24 pcs\" --ready-by 2027-06-01", "by the day it has to be cured"),
    ]),
    ("plan move", [
        ("stillroom plan move E09 --make-on 2027-03-17", "to another day"),
        ("stillroom plan move E09 --ready-by 2027-04-30", "to be ready by a day"),
    ]),
    ("plan repeat", [
        ("stillroom plan repeat E55 --every two-weeks --times 4", "four more, every two weeks"),
        ("stillroom plan repeat E55 --every month --until 2027-09-30", "every month through September"),
    ]),
    ("plan drop", [
        ("stillroom plan drop E55", "it is not made after all"),
        ("stillroom plan drop E55 --json", "for another program"),
    ]),
    ("weigh", [
        ("stillroom weigh E04", "the weighing sheet, lot by lot"),
        ("stillroom weigh E04 --html sheet.html", "to print, or to read on a phone"),
    ]),
    ("make", [
        ("stillroom make E02 --as-planned", "it was made exactly as on the sheet"),
        ("stillroom make E04 --as-planned --pieces 47 --by Mara", "one piece less came out"),
    ]),
    ("lot show", [
        ("stillroom lot show L2606-1", "where it came from, what it went into"),
        ("stillroom lot show LP26582", "by the supplier's number"),
    ]),
    ("lot open", [
        ("stillroom lot open L2702-13", "its after-opening life begins today"),
        ("stillroom lot open L2702-13 --as-of 2027-02-27", "it was opened some days ago"),
    ]),
    ("lot release", [
        ("stillroom lot release L-0001 --by Mara --reason \"looks and smells right\"", "it may be used"),
        ("stillroom lot release L-0001 --by Mara --reason \"certificate came\" --json", "for another program"),
    ]),
    ("lot reject", [
        ("stillroom lot reject L-0001 --reason \"seal broken\"", "it may not be used"),
        ("stillroom lot reject L2606-1 --reason \"recalled by the supplier\"", "also one that was released"),
    ]),
    ("lot retest", [
        ("stillroom lot retest L2606-1 --passed 2027-06-30 --by Mara --reason \"smell and colour\"", "good for longer"),
        ("stillroom lot retest L2606-1 --failed --by Mara --reason \"rancid\"", "rejected"),
    ]),
    ("lot move", [
        ("stillroom lot move L2606-1 \"shelf B3\"", "it stands there from now on"),
        ("stillroom lot move L2605-1 fridge", "in the fridge"),
    ]),
    ("lot write-off", [
        ("stillroom lot write-off L2606-1 --reason rancid", "all that is left"),
        ("stillroom lot write-off L2606-1 --amount \"50 g\" --reason spilled", "a part of it"),
    ]),
    ("lot return", [
        ("stillroom lot return L2606-1 --reason \"wrong grade\"", "all of it goes back"),
        ("stillroom lot return L2611-3 --amount \"20 pcs\" --reason dented", "a part of it"),
    ]),
    ("lot decant", [
        ("stillroom lot decant L2606-1 \"250 g\"", "into a bottle with a lot number of its own"),
        ("stillroom lot decant L2606-1 \"250 g\" --into TABLE-1", "under a code of yours"),
    ]),
    ("count", [
        ("stillroom count L2606-1 \"480 g\" --reason spilled", "so much is really there"),
        ("stillroom count L2611-3 \"23 pcs\" --reason \"miscounted\"", "packaging goes by the piece"),
    ]),
    ("stocktake sheet", [
        ("stillroom stocktake sheet --csv counts.csv", "a table to fill in"),
        ("stillroom stocktake sheet --place fridge --html fridge.html", "one place, to print"),
    ]),
    ("stocktake enter", [
        ("stillroom stocktake enter counted.csv --reason \"March count\" --yes", "all differences as one act"),
        ("stillroom stocktake enter counted.csv --reason \"March count\"", "see them first, then answer yes"),
    ]),
    ("pieces list", [
        ("stillroom pieces list", "what is finished, set and cured"),
        ("stillroom pieces list --json", "for another program"),
    ]),
    ("pieces leave", [
        ("stillroom pieces leave B-2027-0001 12 --as sale --reason \"spring market\"", "sold"),
        ("stillroom pieces leave B-2027-0001 1 --as sample --reason \"kept for reference\"", "kept back"),
    ]),
    ("pieces count", [
        ("stillroom pieces count B-2027-0001 97 --reason \"one broken\"", "so many are really there"),
        ("stillroom pieces count lip-balm 97 --reason \"one broken\"", "by the product, where there is one batch of it"),
    ]),
    ("pieces hold", [
        ("stillroom pieces hold B-2027-0001 --reason \"soft spots\" --by Mara", "none of them leaves until they are released"),
        ("stillroom pieces hold lip-balm --reason \"waits for the test\"", "by the product, where there is one batch of it"),
    ]),
    ("pieces release", [
        ("stillroom pieces release B-2027-0002 --reason \"weighed and looked at\" --by Mara", "they may leave again"),
        ("stillroom pieces release shea-whip --reason \"test passed\" --by Mara", "by the product, where there is one batch of it"),
    ]),
    ("pieces reject", [
        ("stillroom pieces reject B-2027-0001 --reason \"rancid\" --by Mara", "what is left can only be thrown away"),
        ("stillroom pieces reject lip-balm --reason \"recalled\"", "by the product, where there is one batch of it"),
    ]),
    ("act list", [
        ("stillroom act list", "the last twenty things that were done"),
        ("stillroom act list --last 100", "more of them"),
    ]),
    ("act undo", [
        ("stillroom act undo", "take back what was done last"),
        ("stillroom act undo 4", "take back one of the list"),
    ]),
    ("batch list", [
        ("stillroom batch list", "what was made last"),
        ("stillroom batch list --last 100", "more of it"),
    ]),
    ("batch show", [
        ("stillroom batch show B-2027-0001", "what went in, what a piece cost"),
        ("stillroom batch show B-2027-0001 --html batch.html", "as a page too"),
    ]),
    ("trace", [
        ("stillroom trace LP26582", "every batch and piece that a supplier's lot went into"),
        ("stillroom trace B-2027-0001 --html recall.html", "back to every lot, as a page too"),
    ]),
    ("formula list", [
        ("stillroom formula list", "all formulas and their newest versions"),
        ("stillroom formula list --json", "for another program"),
    ]),
    ("formula check", [
        ("stillroom formula check shea-whip", "total, use rates, cost, pieces, ingredient list"),
        ("stillroom formula check shea-whip --at-offers", "at today's prices"),
    ]),
    ("formula compare", [
        ("stillroom formula compare shea-whip 1", "a version with the newest"),
        ("stillroom formula compare shea-whip 1 2", "two versions"),
    ]),
    ("formula revise", [
        ("stillroom formula revise shea-whip --reason \"less greasy\"", "a new version to change"),
        ("stillroom formula revise hand-cream --revision summer --reason \"softer\"", "under a name of yours"),
    ]),
    ("use-up", [
        ("stillroom use-up", "what to make so that less expires"),
        ("stillroom use-up --batches 5", "with up to five extra batches"),
    ]),
    ("write-offs", [
        ("stillroom write-offs", "the last twelve months"),
        ("stillroom write-offs --from 2027-01-01 --to 2027-03-31 --csv write-offs.csv", "a quarter, as a table too"),
    ]),
    ("prices", [
        ("stillroom prices", "which prices have changed"),
        ("stillroom prices \"shea butter\"", "what a material has cost, by supplier"),
    ]),
    ("mail", [
        ("stillroom mail reorder", "the reorder list, to whom the settings say"),
        ("stillroom mail today month --to ilse@tansy-quay.example", "two reports in one letter"),
    ]),
    ("post", [
        ("stillroom post", "send what is due, and end"),
        ("stillroom post --as-of 2027-03-02T07:30", "on a copy of the store: try what comes when"),
    ]),
    ("watch", [
        ("stillroom watch", "stay and send; Ctrl-C ends it"),
        ("stillroom watch -v", "and say what it is doing"),
    ]),
    ("schedule", [
        ("stillroom schedule", "the next letters and the last ones"),
        ("stillroom schedule --next 10 --last 10", "more of them"),
    ]),
    ("outbox list", [
        ("stillroom outbox list", "what did not go out yet"),
        ("stillroom outbox list --all", "and what did"),
    ]),
    ("outbox show", [
        ("stillroom outbox show 1", "a letter, and what became of it"),
        ("stillroom outbox show 1 --message", "the whole message"),
    ]),
    ("outbox retry", [
        ("stillroom outbox retry 1", "try a letter again at once"),
        ("stillroom outbox retry 1 2", "or several; without a number, all that were set aside"),
    ]),
    ("outbox drop", [
        ("stillroom outbox drop 1", "it is not to be sent"),
        ("stillroom outbox drop 1 2", "several"),
    ]),
    ("snooze", [
        ("stillroom snooze \"shea butter\" --until 2027-04-01 --reason \"ordered by phone\"", "no news of it until then"),
        ("stillroom snooze", "what is snoozed, and until when"),
    ]),
    ("backup", [
        ("stillroom backup", "a dated copy in the usual folder"),
        ("stillroom backup saved-today.sqlite", "a copy under a name of yours"),
    ]),
    ("restore", [
        ("stillroom restore before-the-fair.sqlite", "that copy takes the store's place"),
        ("stillroom restore before-the-fair.sqlite --json", "for another program"),
    ]),
    ("doctor", [
        ("stillroom doctor", "is the store whole?"),
        ("stillroom doctor before-the-fair.sqlite", "is a copy?"),
    ]),
    ("manual", [
        ("stillroom manual man1", "a page for each command; `man man1/stillroom.1` shows the first"),
        ("stillroom manual ~/.local/share/man/man1", "where `man stillroom` finds them"),
    ]),
    ("completions", [
        ("stillroom completions bash", "what the shell wants to know, to look at"),
        ("stillroom completions zsh", "for another shell"),
    ]),
];

/// The command line with its examples.
#[must_use]
pub fn command() -> Command {
    with_examples(Cli::command(), "")
}

fn with_examples(mut command: Command, path: &str) -> Command {
    let names: Vec<String> = command.get_subcommands().map(|one| one.get_name().to_owned()).collect();
    for name in names {
        let path = format!("{path} {name}").trim_start().to_owned();
        command = command.mut_subcommand(&name, |one| with_examples(one, &path));
    }
    let group = format!("{path} ");
    let own: Vec<&Example> = match EXAMPLES.iter().find(|(words, _)| *words == path) {
        Some((_, examples)) => examples.iter().collect(),
        // What is only a group shows the first of each of its commands.
        None if path.is_empty() => return command,
        None => EXAMPLES.iter().filter(|(words, _)| words.starts_with(&group)).map(|(_, [first, _])| first).collect(),
    };
    let lines: String = own.iter().map(|(line, purpose)| format!("\n  {line}\n      {purpose}")).collect();
    command.after_help(format!("Examples:{lines}"))
}
