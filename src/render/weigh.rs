//! The weighing sheet in words: the page for the bench, and the same for the terminal.

use super::amounts::{amount, day, mass};
use super::csv;
use super::document::{Block, Document};
use super::one_line;
use super::table::{Align, Table};
use crate::plan::decimal::Scaled;
use crate::plan::rounding::half_up_i64;
use crate::view::weigh::{CautionView, PhaseView, PremixView, TakeView, WeighLineView, WeighView};
use chrono::NaiveDate;
use serde::Serialize;

/// Name of the page.
pub const WEIGHING: &str = "weighing.html";

/// What stands above all cautions.
pub const LOCAL_RULES: &str =
    "Local rules and the suppliers' safety data sheets come first; these words do not replace them.";

/// The sheet, ready to be read and printed.
#[derive(Clone, Debug, Serialize)]
pub struct WeighPage {
    /// `E04: 48 pieces of Calendula salve`.
    pub headline: String,
    /// When it is made, when it is ready, which formula.
    pub facts: Vec<String>,
    /// What is missing, a sentence each.
    pub missing: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// That local rules come first.
    pub local_rules: String,
    /// Premixes first, then the batch.
    pub pots: Vec<PotPage>,
    /// Packaging.
    pub packaging: Vec<LinePage>,
    /// What was noticed.
    pub findings: Vec<String>,
    /// What the targets are rounded to.
    pub scale: String,
}

/// What is weighed into one pot.
#[derive(Clone, Debug, Serialize)]
pub struct PotPage {
    /// What it makes.
    pub title: String,
    /// When, and how much.
    pub facts: String,
    /// True for a premix.
    pub premix: bool,
    /// Phase by phase.
    pub phases: Vec<PhasePage>,
    /// All of it.
    pub total: String,
}

/// A phase.
#[derive(Clone, Debug, Serialize)]
pub struct PhasePage {
    /// Its name; may be empty.
    pub name: String,
    /// What goes in.
    pub lines: Vec<LinePage>,
}

/// A line of the sheet.
#[derive(Clone, Debug, Serialize)]
pub struct LinePage {
    /// Its number.
    pub step: usize,
    /// The material.
    pub name: String,
    /// `128.5 g`.
    pub target: String,
    /// What the pot holds then; empty for packaging.
    pub running: String,
    /// One entry for each thing to take.
    pub take: Vec<TakePage>,
    /// A word of warning; may be empty.
    pub note: String,
}

/// What to take.
#[derive(Clone, Debug, Serialize)]
pub struct TakePage {
    /// Lot code, or what stands in for it.
    pub lot: String,
    /// Where it stands.
    pub place: String,
    /// How much, where a line takes from more than one; else empty.
    pub target: String,
    /// `open it`, `not here yet`, `missing`; may be empty.
    pub note: String,
}

/// A mass as a scale of this readability shows it: `128.5 g`.
#[must_use]
pub fn on_scale(mg: i64, readability_mg: i64) -> String {
    let mut places = 3;
    let mut step = readability_mg.max(1);
    while places > 0 && step % 10 == 0 {
        places -= 1;
        step /= 10;
    }
    let unit = 10_i64.pow(3 - places);
    format!("{} g", Scaled { scaled: half_up_i64(i128::from(mg), i128::from(unit)), places })
}

/// Words the view.
#[must_use]
pub fn page(view: &WeighView) -> WeighPage {
    let mut pots: Vec<PotPage> = view.premixes.iter().map(|premix| premix_pot(premix, view)).collect();
    if !view.phases.is_empty() {
        pots.push(PotPage {
            title: one_line(&view.name),
            facts: format!("{}; {} weighed in", day(view.make_on, view.as_of), mass(view.weighed_mass)),
            premix: false,
            phases: phases(&view.phases, view),
            total: total(&view.phases, view),
        });
    }
    WeighPage {
        headline: headline(view),
        facts: facts(view),
        missing: missing(view),
        cautions: view.cautions.iter().map(caution).collect(),
        local_rules: LOCAL_RULES.to_owned(),
        pots,
        packaging: view.packaging.iter().map(|line| line_page(line, view)).collect(),
        findings: view.findings.iter().map(|finding| one_line(&finding.message)).collect(),
        scale: format!("Targets are rounded to {}.", on_scale(view.readability, view.readability)),
    }
}

fn headline(view: &WeighView) -> String {
    let what = match view.pieces {
        0 => mass(view.net_mass),
        1 => "1 piece".to_owned(),
        pieces => format!("{pieces} pieces"),
    };
    format!("{}: {what} of {}", one_line(&view.entry), one_line(&view.name))
}

fn facts(view: &WeighView) -> Vec<String> {
    let formula = match (view.formula.as_str(), view.version.as_str()) {
        ("", _) => "The formula is not on file".to_owned(),
        (formula, "") => format!("Formula {}", one_line(formula)),
        (formula, version) => format!("Formula {}, version {}", one_line(formula), one_line(version)),
    };
    let mut facts = vec![format!("Made on {}", day(view.make_on, view.as_of))];
    if view.ready_on > view.make_on {
        facts.push(format!("Ready on {}", day(view.ready_on, view.as_of)));
    }
    facts.push(formula);
    facts.push(format!("{} net, {} weighed in", mass(view.net_mass), mass(view.weighed_mass)));
    facts
}

fn all_lines(view: &WeighView) -> impl Iterator<Item = &WeighLineView> {
    let premixes = view.premixes.iter().flat_map(|premix| &premix.phases);
    premixes.chain(&view.phases).flat_map(|phase| &phase.lines).chain(&view.packaging)
}

fn missing(view: &WeighView) -> Vec<String> {
    let mut missing = Vec::new();
    for line in all_lines(view) {
        let name = one_line(&line.name);
        if line.short > 0 {
            missing.push(format!("{name}: {} is missing.", exact(line.short, &line.unit)));
        }
        for take in line.take.iter().filter(|take| take.on_order) {
            let much = exact(take.amount, &line.unit);
            missing.push(format!("{name}: {much} is still to come with order {}.", one_line(&take.lot)));
        }
    }
    missing
}

fn exact(amount: i64, unit: &str) -> String {
    super::amounts::amount(amount, unit)
}

fn caution(caution: &CautionView) -> String {
    let names: Vec<String> = caution.materials.iter().map(|name| one_line(name)).collect();
    format!("{}: {}", super::amounts::listed(&names), one_line(&caution.caution))
}

fn premix_pot(premix: &PremixView, view: &WeighView) -> PotPage {
    let needed = if premix.needed_on == premix.weigh_on {
        format!("{} needed", mass(premix.needed))
    } else {
        format!("{} needed on {}", mass(premix.needed), day(premix.needed_on, view.as_of))
    };
    PotPage {
        title: format!("Premix {}", one_line(&premix.name)),
        facts: format!("{}; {} weighed in, {needed}", day(premix.weigh_on, view.as_of), mass(premix.weighed_mass)),
        premix: true,
        phases: phases(&premix.phases, view),
        total: total(&premix.phases, view),
    }
}

fn total(phases: &[PhaseView], view: &WeighView) -> String {
    on_scale(phases.iter().fold(0_i64, |sum, phase| sum.saturating_add(phase.target)), view.readability)
}

fn phases(phases: &[PhaseView], view: &WeighView) -> Vec<PhasePage> {
    let phase = |phase: &PhaseView| PhasePage {
        name: one_line(&phase.phase),
        lines: phase.lines.iter().map(|line| line_page(line, view)).collect(),
    };
    phases.iter().map(phase).collect()
}

fn line_page(line: &WeighLineView, view: &WeighView) -> LinePage {
    let target = |much| if line.unit == "mg" { on_scale(much, view.readability) } else { amount(much, &line.unit) };
    let parts = line.take.len() + usize::from(line.made > 0) + usize::from(line.short > 0);
    let part = |much| if parts > 1 { target(much) } else { String::new() };
    let mut take: Vec<TakePage> = line.take.iter().map(|take| take_page(take, part(take.target), view.as_of)).collect();
    // What the lots do not give of the target, so that the parts add up to it as the scale shows them.
    let rest = line.take.iter().fold(line.target, |rest, take| rest.saturating_sub(take.target));
    let stand_in = |lot: &str, note: &str| TakePage {
        lot: lot.to_owned(),
        place: String::new(),
        target: part(rest),
        note: note.to_owned(),
    };
    if line.made > 0 {
        take.push(stand_in("the premix made first", ""));
    }
    if line.short > 0 {
        take.push(stand_in("no lot", "missing"));
    }
    if line.at_hand {
        take.push(stand_in("always at hand", ""));
    }
    let note = if line.finer_scale && line.unit == "mg" {
        format!("needs a finer scale: {} mg exactly", line.amount)
    } else {
        String::new()
    };
    LinePage {
        step: line.step,
        name: one_line(&line.name),
        target: target(line.target),
        running: if line.unit == "mg" { on_scale(line.running_total, view.readability) } else { String::new() },
        take,
        note,
    }
}

fn take_page(take: &TakeView, target: String, today: NaiveDate) -> TakePage {
    let mut notes = Vec::new();
    if take.on_order {
        notes.push("not here yet".to_owned());
    }
    if take.opens {
        notes.push("opens it".to_owned());
    }
    if let Some(through) = take.usable_through.filter(|_| !take.on_order) {
        notes.push(format!("use by {}", day(through, today)));
    }
    TakePage { lot: one_line(&take.lot), place: one_line(&take.place), target, note: notes.join(", ") }
}

/// Column titles of [`rows`].
const COLUMNS: [&str; 12] =
    ["entry", "pot", "phase", "step", "material", "name", "unit", "target", "lot", "place", "take", "usable_through"];

/// One row for each lot of each line; a line that takes from no lot has one row without.
#[must_use]
pub fn rows(view: &WeighView) -> Vec<u8> {
    let mut rows = Vec::new();
    let premixes = view.premixes.iter().flat_map(|pot| pot.phases.iter().map(move |phase| (&pot.premix, phase)));
    let phases = premixes.chain(view.phases.iter().map(|phase| (&view.product, phase)));
    let lines = phases.flat_map(|(pot, phase)| phase.lines.iter().map(move |line| (pot, phase.phase.as_str(), line)));
    for (pot, phase, line) in lines.chain(view.packaging.iter().map(|line| (&view.product, "", line))) {
        let takes: Vec<Option<&TakeView>> =
            if line.take.is_empty() { vec![None] } else { line.take.iter().map(Some).collect() };
        for take in takes {
            let of = |part: fn(&TakeView) -> String| take.map(part).unwrap_or_default();
            rows.push(vec![
                view.entry.clone(),
                pot.clone(),
                phase.to_owned(),
                line.step.to_string(),
                line.material.clone(),
                line.name.clone(),
                line.unit.clone(),
                line.target.to_string(),
                of(|take| take.lot.clone()),
                of(|take| take.place.clone()),
                of(|take| take.target.to_string()),
                of(|take| take.usable_through.map(|day| day.to_string()).unwrap_or_default()),
            ]);
        }
    }
    csv::write(&COLUMNS, &rows)
}

/// The sheet as a document: for the terminal, and to be read. What is printed for the bench is [`page`].
#[must_use]
pub fn document(view: &WeighView) -> Document {
    let page = page(view);
    let mut care = vec![Block::list(page.cautions.clone())];
    if !page.cautions.is_empty() {
        care.push(Block::paragraph(&*page.local_rules));
    }
    let mut document = Document::new("weigh", &*page.headline)
        .fact(page.facts.join(". "))
        .warning("Cannot be weighed yet", vec![Block::list(page.missing.clone())])
        .warning("Take care", care);
    for pot in &page.pots {
        let mut table = Table::new(&[
            ("", Align::Right),
            ("Phase", Align::Left),
            ("Ingredient", Align::Left),
            ("Weigh", Align::Right),
            ("In the pot", Align::Right),
            ("Take", Align::Left),
            ("Place", Align::Left),
        ])
        .lead(4);
        for phase in &pot.phases {
            for line in &phase.lines {
                line_rows(&mut table, line, &phase.name);
            }
        }
        document = document.section(&pot.title, vec![Block::paragraph(&*pot.facts), Block::Table(table)]);
    }
    document
        .section("Packaging", vec![Block::Table(packaging(&page))])
        .section("", vec![Block::paragraph(page.scale)])
        .noticed(&view.findings)
}

fn packaging(page: &WeighPage) -> Table {
    let mut table = Table::new(&[
        ("", Align::Right),
        ("What", Align::Left),
        ("Count", Align::Right),
        ("Take", Align::Left),
        ("Place", Align::Left),
    ])
    .lead(3);
    for line in &page.packaging {
        let lots: Vec<String> = line.take.iter().map(taken).collect();
        let places: Vec<&str> = line.take.iter().map(|take| take.place.as_str()).collect();
        table.row([&line.step.to_string(), &line.name, &line.target, &lots.join("; "), &places.join("; ")]);
    }
    table
}

/// One row for each lot of a line; only the first names the line.
fn line_rows(table: &mut Table, line: &LinePage, phase: &str) {
    let name = if line.note.is_empty() { line.name.clone() } else { format!("{} ({})", line.name, line.note) };
    let step = line.step.to_string();
    let first = line.take.first();
    let lot = first.map_or_else(String::new, taken);
    let place = first.map_or("", |take| &take.place);
    table.row([&step, phase, &name, &line.target, &line.running, &lot, place]);
    for take in line.take.iter().skip(1) {
        table.row(["", "", "", "", "", &taken(take), &take.place]);
    }
}

fn taken(take: &TakePage) -> String {
    let target = if take.target.is_empty() { String::new() } else { format!("{} of ", take.target) };
    let note = if take.note.is_empty() { String::new() } else { format!(" ({})", take.note) };
    format!("{target}{}{note}", take.lot)
}

#[cfg(test)]
mod tests {
    use super::on_scale;

    #[test]
    fn a_scale_shows_its_places() {
        let check = |mg: i64, readability: i64, expected: &str| assert_eq!(on_scale(mg, readability), expected);
        check(128_500, 100, "128.5 g");
        check(128_000, 100, "128.0 g");
        check(128_500, 500, "128.5 g");
        check(129_000, 1_000, "129 g");
        check(1_290_000, 5_000, "1290 g");
        check(35, 1, "0.035 g");
        check(12_340, 10, "12.34 g");
        check(0, 100, "0.0 g");
    }
}
