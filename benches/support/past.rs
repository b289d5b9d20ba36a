//! Years of work behind a workshop: lots that came, were drawn by batches and are used up, written through the schema,
//! whose triggers keep the balances. Everything that grows with age grows here: orders, lots, batches, weighing sheets,
//! finished pieces, plan entries, acts, changes, rates, recipes of old, letters.

use super::maker::Dice;
use chrono::{Datelike, Days, NaiveDate};
use rusqlite::{Connection, Params, params};
use std::collections::HashMap;
use std::path::Path;
use stillroom::book::Book;
use stillroom::book::rows::{OfferRow, PackagingRow, ProductRow, Share};
use stillroom::book::versions::version_order;
use stillroom::store::Store;

/// Ten years, the age of a workshop with a million lines in its ledger; one with fewer is as much younger.
const DAYS: i64 = 3_650;
const LINES_OF_TEN_YEARS: i64 = 1_000_000;

/// How many draws a lot lasts for.
const DRAWS_OF_A_LOT: i64 = 14;

/// What is in an ingredient's lot.
struct Held {
    /// What nobody has spoken for.
    free: i64,
    on_hand: i64,
    cost: i64,
    opened: bool,
}

/// So much from a lot.
struct Draw {
    lot: String,
    amount: i64,
}

/// What is made: a product or a premix.
struct Recipe<'a> {
    formula: &'a str,
    version: &'a str,
    lines: Vec<(&'a str, i64)>,
}

/// Puts a past with so many ledger lines (a few more, so that the last lots are used up) behind the workshop, all of it
/// before `today`. Returns how many lines were written.
pub fn add_past(path: &Path, lines: i64, today: NaiveDate, seed: u64) -> i64 {
    let (book, home) = {
        let mut store = Store::open(path).unwrap();
        let reading = store.reading().unwrap();
        (reading.whole_book().unwrap(), reading.home().unwrap().code().to_owned())
    };
    let connection = Connection::open(path).unwrap();
    connection.set_prepared_statement_cache_capacity(64);
    connection.execute_batch("PRAGMA foreign_keys = ON; PRAGMA synchronous = OFF; BEGIN IMMEDIATE").unwrap();
    let span = (DAYS * lines / LINES_OF_TEN_YEARS).max(1);
    let mut past = Past::new(&connection, &book, home, today - Days::new(span.unsigned_abs()), seed);
    past.recipes_of_old(span);
    let before = past.movement;
    while past.movement - before < lines {
        let day = today - Days::new((span - (past.movement - before) * span / lines).max(1).unsigned_abs());
        past.live_until(day);
        past.make_a_product();
    }
    past.use_up();
    let written = past.movement - before;
    connection.execute_batch("COMMIT").unwrap();
    // As a store that has been used for a while: nothing waits in the log.
    connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(())).unwrap();
    written
}

struct Past<'a> {
    connection: &'a Connection,
    book: &'a Book,
    home: String,
    dice: Dice,
    day: NaiveDate,
    act: i64,
    movement: i64,
    change: i64,
    piece: i64,
    rank: i64,
    letter: i64,
    /// How many lots, batches, orders and entries have been numbered.
    numbered: [i64; 4],
    lots: HashMap<String, Held>,
    /// The lot that is in use of each item.
    in_use: HashMap<&'a str, String>,
}

fn highest(connection: &Connection, column: &str, table: &str) -> i64 {
    let sql = format!("SELECT coalesce(max({column}), 0) FROM {table}");
    connection.query_row(&sql, [], |row| row.get(0)).unwrap()
}

impl<'a> Past<'a> {
    fn new(connection: &'a Connection, book: &'a Book, home: String, day: NaiveDate, seed: u64) -> Self {
        let last = |column, table| highest(connection, column, table);
        Self {
            book,
            home,
            dice: Dice(seed),
            day,
            act: last("act", "acts"),
            movement: last("movement", "movements"),
            change: last("change", "changes"),
            piece: last("piece_movement", "pieces"),
            rank: last("rank", "plan"),
            letter: last("letter", "letters"),
            numbered: [0; 4],
            lots: HashMap::new(),
            in_use: HashMap::new(),
            connection,
        }
    }

    fn write(&self, sql: &str, parameters: impl Params) {
        self.connection.prepare_cached(sql).unwrap().execute(parameters).unwrap();
    }

    fn number(&mut self, kind: usize, prefix: &str) -> String {
        self.numbered[kind] += 1;
        format!("{prefix}{:04}", self.numbered[kind])
    }

    fn today(&self) -> String {
        self.day.to_string()
    }

    fn begin(&mut self, kind: &str, subject: &str) {
        self.act += 1;
        let sql = "INSERT INTO acts (act, kind, subject, day, recorded_at) VALUES (?1, ?2, ?3, ?4, ?5)";
        let recorded_at = format!("{}T09:00:00Z", self.day);
        self.write(sql, params![self.act, kind, subject, self.today(), recorded_at]);
    }

    fn change(&mut self, what: &str, code: &str, part: &str, field: &str, before: &str, after: &str) {
        self.change += 1;
        let sql = "INSERT INTO changes VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, '', '')";
        self.write(sql, params![self.change, self.act, what, code, part, field, before, after]);
    }

    fn movement(&mut self, kind: &str, lot: &str, amount: i64, cost: i64, batch: Option<&str>, reason: &str) {
        self.movement += 1;
        let sql = "INSERT INTO movements (movement, act, kind, lot, amount, cost, day, reason, batch)
            VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)";
        self.write(sql, params![self.movement, self.act, kind, lot, amount, cost, self.today(), reason, batch]);
    }

    /// The days until then: every week's rates, and a letter for each day.
    fn live_until(&mut self, day: NaiveDate) {
        while self.day < day {
            self.day = self.day + Days::new(1);
            let at = format!("{}T06:00:00Z", self.day);
            self.letter += 1;
            let sql = "INSERT INTO letters (letter, message_id, schedule, run_at, sender, recipients, subject, file_stem,
                    words, message, state, tries, next_try, queued_at, sent_at)
                VALUES (?1, ?2, 'mornings', ?3, 'stillroom@tansy-quay.example', 'ilse@tansy-quay.example', 'Today', 'today',
                    '', x'', 'sent', 1, ?3, ?3, ?3)";
            self.write(sql, params![self.letter, format!("{}.past@tansy-quay.example", self.letter), at]);
            let sql = "INSERT INTO schedule_runs VALUES ('mornings', ?1, ?2, ?1, 1, ?3)";
            self.write(sql, params![at, self.today(), self.letter]);
            if self.day.weekday() == chrono::Weekday::Mon {
                let mut currencies: Vec<&str> = self.book.rates.iter().map(|rate| rate.currency.code()).collect();
                currencies.dedup();
                for currency in currencies {
                    let rate = 1_000_000_000 + self.dice.below(1_000_000);
                    let sql = "INSERT INTO rates (currency, date, rate) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING";
                    self.write(sql, params![currency, self.today(), rate]);
                }
            }
        }
    }

    /// Every formula has had a version for each year.
    fn recipes_of_old(&self, span: i64) {
        for year in 0..span / 365 {
            for line in self.book.formula_lines.iter().filter(|line| line.version == "1") {
                let sql = "INSERT INTO formula_lines (formula, version, place, ingredient, percent, phase)
                    SELECT ?1, ?2, 1 + count(*), ?3, ?4, ?5 FROM formula_lines WHERE formula = ?1 AND version = ?2";
                let percent = match line.share {
                    Share::Percent(percent) => Some(percent.millionths),
                    Share::Balance => None,
                };
                self.write(sql, params![line.formula, format!("0.{}", year + 1), line.ingredient, percent, line.phase]);
            }
        }
    }

    fn recipe(&self, formula: &'a str, version: &'a str) -> Recipe<'a> {
        let book = self.book;
        let of_formula = book.formula_lines.iter().filter(|line| line.formula == formula);
        let newest = of_formula.clone().map(|line| line.version.as_str()).max_by(|a, b| version_order(a, b));
        let version = if version.is_empty() { newest.unwrap_or("1") } else { version };
        let lines: Vec<_> = of_formula.filter(|line| line.version == version).collect();
        let given = |line: &&stillroom::book::rows::FormulaLineRow| match line.share {
            Share::Percent(percent) => percent.millionths,
            Share::Balance => 0,
        };
        let balance = 100_000_000 - lines.iter().map(given).sum::<i64>();
        let share = |line| if given(&line) == 0 { balance } else { given(&line) };
        let lines = lines.into_iter().map(|line| (line.ingredient.as_str(), share(line))).collect();
        Recipe { formula, version, lines }
    }

    /// Speaks for so much of an item; lots come, or a premix is made, where there is not enough.
    fn gather(&mut self, item: &'a str, mut amount: i64, draws: &mut Vec<Draw>) {
        let asked = amount;
        while amount > 0 {
            let free = self.in_use.get(item).map_or(0, |lot| self.lots[lot].free);
            if free == 0 {
                let lot = self.bring(item, asked);
                self.in_use.insert(item, lot);
                continue;
            }
            let lot = self.in_use[item].clone();
            let taken = free.min(amount);
            self.lots.get_mut(&lot).unwrap().free -= taken;
            amount -= taken;
            draws.push(Draw { lot, amount: taken });
        }
    }

    /// A new lot of the item, for many draws of that size.
    fn bring(&mut self, item: &'a str, draw: i64) -> String {
        let book = self.book;
        let wanted = draw * DRAWS_OF_A_LOT;
        if let Some(premix) = book.premixes.iter().find(|row| row.code == item) {
            let recipe = self.recipe(&premix.formula, "");
            return self.make_premix(&premix.code, &recipe, wanted);
        }
        let offers: Vec<&OfferRow> = book.offers.iter().filter(|row| row.material == item).collect();
        let Some(offer) = (!offers.is_empty()).then(|| self.dice.pick(&offers)) else {
            let lot = self.number(0, "L-");
            self.begin("receive", &lot);
            let (amount, home) = (wanted, self.home.clone());
            self.receive(&lot, item, amount, (None, amount / 1_000, &home), None, None);
            return lot;
        };
        let currency = book.suppliers.iter().find(|row| row.code == offer.supplier).unwrap().currency.code();
        let packs = wanted / offer.pack.0 + 1;
        let year = self.day.year();
        let order = self.number(2, &format!("O-{year}-"));
        self.place(&order, offer, packs);
        let lot = self.number(0, "L-");
        self.begin("receive", &lot);
        let part = format!("{} {item}", offer.pack.0);
        self.change("order", &order, &part, "packs_received", "0", &packs.to_string());
        let cost = offer.price.minor * packs;
        self.receive(&lot, item, offer.pack.0 * packs, (Some(&offer.supplier), cost, currency), Some(&order), None);
        lot
    }

    fn place(&mut self, order: &str, offer: &OfferRow, packs: i64) {
        self.begin("place-order", order);
        self.write("INSERT INTO orders (code, supplier) VALUES (?1, ?2)", [order, &offer.supplier]);
        let placed = self.day - Days::new(self.dice.between(2, 12).unsigned_abs());
        let sql = "INSERT INTO order_lines VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?5, 0)";
        let (pack, price) = (offer.pack.0, offer.price.minor);
        let days =
            params![order, offer.material, pack, offer.pack_text, packs, placed.to_string(), self.today(), price];
        self.write(sql, days);
        self.change("order", order, &format!("{pack} {}", offer.material), "stands", "", "yes");
    }

    fn receive(
        &mut self,
        lot: &str,
        item: &str,
        amount: i64,
        (supplier, cost, currency): (Option<&str>, i64, &str),
        order: Option<&str>,
        batch: Option<&str>,
    ) {
        let sql = "INSERT INTO lots VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, NULL, 'released', ?10, ?11)";
        let best_before = (self.day + Days::new(self.dice.between(300, 700).unsigned_abs())).to_string();
        let number = if supplier.is_some() { format!("N{}", self.dice.below(100_000_000)) } else { String::new() };
        let place = format!("shelf {}", self.dice.below(40));
        let row = params![lot, item, amount, supplier, number, self.today(), cost, currency, best_before, place, order];
        self.write(sql, row);
        self.movement("receipt", lot, amount, cost, batch, "");
        self.lots.insert(lot.to_owned(), Held { free: amount, on_hand: amount, cost, opened: false });
    }

    fn make_premix(&mut self, premix: &'a str, recipe: &Recipe<'a>, mass: i64) -> String {
        let draws = self.gather_all(recipe, mass);
        let lot = self.number(0, "L-");
        let batch = self.make(recipe, ("", None, Some(premix)), mass, 0, &draws);
        let cost = self.draw_all(&batch, &draws);
        let home = self.home.clone();
        self.receive(&lot, premix, mass, (None, cost, &home), None, Some(&batch));
        lot
    }

    fn gather_all(&mut self, recipe: &Recipe<'a>, mass: i64) -> Vec<Draw> {
        let book = self.book;
        let mut draws = Vec::new();
        for (item, share) in &recipe.lines {
            let is_there = book.materials.iter().any(|row| row.code == *item && row.always_at_hand);
            let amount = mass / 1_000 * share / 100_000;
            if !is_there && amount > 0 {
                self.gather(item, amount, &mut draws);
            }
        }
        draws
    }

    fn make(
        &mut self,
        recipe: &Recipe<'_>,
        (entry, product, premix): (&str, Option<&str>, Option<&str>),
        mass: i64,
        pieces: i64,
        draws: &[Draw],
    ) -> String {
        let year = self.day.year();
        let batch = self.number(1, &format!("B-{year}-"));
        let sql =
            "INSERT INTO batches (batch, entry, product, formula, version, made_on, mass, pieces, best_before, note,
                premix, weighed_by, fulfils_entry)
            VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, NULL, '', ?9, 'IT', ?10)";
        let (formula, version, made) = (recipe.formula, recipe.version, self.today());
        let done = !entry.is_empty();
        self.write(sql, params![batch, entry, product, formula, version, made, mass, pieces, premix, done]);
        self.begin("make", &batch);
        self.change("batch", &batch, "", "stands", "", "yes");
        for (place, draw) in (1_i64..).zip(draws) {
            let sql = "INSERT INTO weighings VALUES (?1, ?2, ?3, ?4, ?4, NULL, '')";
            self.write(sql, params![batch, place, draw.lot, draw.amount]);
        }
        batch
    }

    /// Draws for a batch; returns what it cost.
    fn draw_all(&mut self, batch: &str, draws: &[Draw]) -> i64 {
        draws.iter().map(|draw| self.take("issue", draw, Some(batch), "")).sum()
    }

    fn take(&mut self, kind: &str, draw: &Draw, batch: Option<&str>, reason: &str) -> i64 {
        let held = self.lots.get_mut(&draw.lot).unwrap();
        // The last draw takes the rest of the cost along.
        let cost = i64::try_from(i128::from(held.cost) * i128::from(draw.amount) / i128::from(held.on_hand)).unwrap();
        held.on_hand -= draw.amount;
        held.cost -= cost;
        let (is_first, is_empty) = (!std::mem::replace(&mut held.opened, true), held.on_hand == 0);
        self.movement(kind, &draw.lot, -draw.amount, -cost, batch, reason);
        if is_first && batch.is_some() {
            self.write("UPDATE lots SET opened = ?2 WHERE lot = ?1", [&draw.lot, &self.today()]);
            let day = self.today();
            self.change("lot", &draw.lot, "", "opened", "", &day);
        }
        if is_empty {
            self.lots.remove(&draw.lot);
            self.in_use.retain(|_, lot| *lot != draw.lot);
        }
        cost
    }

    /// A plan entry of some product is made and sold.
    fn make_a_product(&mut self) {
        let book = self.book;
        let products: Vec<&ProductRow> = book.products.iter().collect();
        let product = self.dice.pick(&products);
        let mass = self.dice.between(20, 60) * 100_000;
        let pieces = product.net_mass.map_or(12, |net| (mass / net.mg.max(1)).max(1));
        let entry = self.number(3, "P-");
        self.rank += 1;
        let sql = "INSERT INTO plan (entry, rank, product, amount, amount_kind, day, day_kind)
            VALUES (?1, ?2, ?3, ?4, 'pieces', ?5, 'make-on')";
        self.write(sql, params![entry, self.rank, product.code, pieces, self.today()]);
        let recipe = self.recipe(&product.formula, &product.version);
        let mut draws = self.gather_all(&recipe, mass);
        let packaging: Vec<&PackagingRow> = book.packaging.iter().filter(|row| row.product == product.code).collect();
        for row in packaging {
            let amount = pieces * row.per_piece_millionths / 1_000_000 + row.per_batch;
            self.gather(&row.material, amount, &mut draws);
        }
        let batch = self.make(&recipe, (&entry, Some(&product.code), None), mass, pieces, &draws);
        self.draw_all(&batch, &draws);
        for (kind, pieces) in [("made", pieces), ("sale", -pieces)] {
            if kind == "sale" {
                self.begin("pieces-leave", &batch);
            }
            self.piece += 1;
            let sql = "INSERT INTO pieces (piece_movement, act, batch, kind, pieces, day, reason)
                VALUES (?1, ?2, ?3, ?4, ?5, ?6, '')";
            self.write(sql, params![self.piece, self.act, batch, kind, pieces, self.today()]);
        }
    }

    /// What is left of the past's lots is written off.
    fn use_up(&mut self) {
        let mut left: Vec<(String, i64)> = self.lots.iter().map(|(lot, held)| (lot.clone(), held.on_hand)).collect();
        left.sort();
        for (lot, amount) in left {
            self.begin("write-off", &lot);
            self.take("write-off", &Draw { lot, amount }, None, "the jar was empty");
        }
    }
}

/// Ledger lines of one lot that went into so many batches of one product: what a trace has to walk.
pub fn add_batches_of_one_lot(path: &Path, batches: i64, today: NaiveDate) -> String {
    let book = Store::open(path).unwrap().book().unwrap();
    let connection = Connection::open(path).unwrap();
    connection.set_prepared_statement_cache_capacity(64);
    connection.execute_batch("PRAGMA foreign_keys = ON; PRAGMA synchronous = OFF; BEGIN IMMEDIATE").unwrap();
    let mut past = Past::new(&connection, &book, "EUR".to_owned(), today, 1);
    let product = &book.products[0];
    let recipe = past.recipe(&product.formula, &product.version);
    let item = book.materials[0].code.as_str();
    let lot = "T-0001".to_owned();
    past.numbered[1] = 1_000_000;
    past.begin("receive", &lot);
    past.receive(&lot, item, 1_000 * batches, (None, batches, "EUR"), None, None);
    for _ in 0..batches {
        let draws = [Draw { lot: lot.clone(), amount: 1_000 }];
        let batch = past.make(&recipe, ("", Some(&product.code), None), 1_000_000, 0, &draws);
        past.draw_all(&batch, &draws);
    }
    connection.execute_batch("COMMIT").unwrap();
    lot
}
