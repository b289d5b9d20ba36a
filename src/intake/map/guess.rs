//! What a maker's sheet may mean, and what decided each guess: which of our files its lines are, what each column holds,
//! and the settings that cells alone cannot say. A guess is shown and confirmed, never silently used.

use super::blocks::{Part, block_places, parts};
use super::cells::{
    DecimalSign, currencies, date_parts, is_balance, number, span_unit, split_money, split_number, unit, word,
    yes_or_no,
};
use super::header::{self, Title, fit, is_known, letter, title, titles};
use super::lines::{body, is_total};
use super::raw::{Cell, Line, Table};
use super::share::needed;
use super::{ColumnUse, Layout, MappedSheet, Meaning, Skip, style};
use crate::book::fold::fold;
use crate::intake::columns::SheetKind;
use crate::intake::describe::{Shape, described, of_column};
use crate::plan::decimal::Decimal;

pub use super::settle::{Settled, settle};

/// What a sheet may hold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KindGuess {
    /// The files; the first is what its lines are about.
    pub holds: Vec<SheetKind>,
    /// How its lines stand.
    pub layout: Layout,
    /// What speaks for it.
    pub why: String,
    score: u32,
}

impl KindGuess {
    /// What the maker says herself.
    #[must_use]
    pub fn said(holds: Vec<SheetKind>, layout: Layout) -> Self {
        Self { holds, layout, why: "you said so".to_owned(), score: 0 }
    }
}

/// What a column may mean.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ColumnGuess {
    /// Its title.
    pub title: String,
    /// Some of its cells.
    pub sample: Vec<String>,
    /// The guess.
    pub column_use: ColumnUse,
    /// What decided it.
    pub why: String,
    /// What else it may be, the likeliest first.
    pub others: Vec<Meaning>,
}

/// All that is guessed of a sheet.
#[derive(Clone, Debug)]
pub struct SheetGuess {
    /// The mapping as guessed.
    pub sheet: MappedSheet,
    /// Its columns, in their order.
    pub columns: Vec<ColumnGuess>,
    /// What decided the settings.
    pub settled: Settled,
    /// What speaks for what it holds.
    pub why: String,
}

/// Guesses all of a sheet.
#[must_use]
pub fn guess(table: &Table, home: &str) -> SheetGuess {
    let mut sheet = MappedSheet::new(&table.sheet);
    let Some(best) = kinds(table).into_iter().next() else {
        let why = "no column has a title that is known here".to_owned();
        return SheetGuess { sheet, columns: Vec::new(), settled: Settled::default(), why };
    };
    sheet.holds = best.holds;
    sheet.layout = best.layout;
    let columns = columns(table, &sheet.holds, sheet.layout);
    sheet.columns = columns.iter().map(|column| (column.title.clone(), column.column_use.clone())).collect();
    let settled = settle(table, &mut sheet, home);
    SheetGuess { sheet, columns, settled, why: best.why }
}

/// What the name of a sheet or file says of it.
const NAMES: [(SheetKind, &str); 9] = [
    (SheetKind::Materials, "materials|raw materials|ingredients|rohstoffe|zutaten|matieres|materie|materias"),
    (
        SheetKind::Lots,
        "stock|inventory|stock count|count|lager|bestand|vorrat|inventur|stocks|magazzino|giacenze|existencias",
    ),
    (SheetKind::Offers, "prices|price list|pricelist|preise|preisliste|tarif|tarifs|listino|precios"),
    (SheetKind::Suppliers, "suppliers|lieferanten|fournisseurs|fornitori|proveedores"),
    (SheetKind::Formulas, "recipes|recipe|formulas|formula|rezepte|rezepturen|recettes|formules|ricette|recetas"),
    (SheetKind::Products, "products|produkte|produits|prodotti|productos"),
    (SheetKind::Plan, "plan|production|production plan|produktion|produktionsplan|planning|produzione|produccion"),
    (SheetKind::Packaging, "packaging|verpackung|emballage|imballaggi|envases"),
    (SheetKind::Orders, "orders|bestellungen|commandes|ordini|pedidos"),
];

fn is_named(table: &Table, kind: SheetKind) -> bool {
    let stem = table.file.rsplit_once('.').map_or(table.file.as_str(), |(stem, _)| stem);
    let named = format!(" {} {} ", fold(stem), fold(&table.sheet));
    let words = NAMES.into_iter().filter(|(own, _)| *own == kind).flat_map(|(_, words)| words.split('|'));
    words.into_iter().any(|word| named.contains(&format!(" {word} ")))
}

/// What a sheet may hold, the likeliest first.
#[must_use]
pub fn kinds(table: &Table) -> Vec<KindGuess> {
    let mut guesses = Vec::new();
    guesses.extend(blocks_guess(table));
    guesses.extend(side_by_side_guess(table));
    let family: [&[SheetKind]; 8] = [
        &[SheetKind::Lots],
        &[SheetKind::Offers],
        &[SheetKind::Materials],
        &[SheetKind::Materials, SheetKind::Lots],
        &[SheetKind::Materials, SheetKind::Offers],
        &[SheetKind::Offers, SheetKind::Lots],
        &[SheetKind::Materials, SheetKind::Offers, SheetKind::Lots],
        &[SheetKind::Products, SheetKind::Packaging],
    ];
    let alone = [
        SheetKind::Suppliers,
        SheetKind::Formulas,
        SheetKind::Products,
        SheetKind::Packaging,
        SheetKind::Plan,
        SheetKind::Orders,
        SheetKind::Rates,
        SheetKind::Postage,
        SheetKind::Premixes,
    ];
    let Some(place) = header::place(table) else { return guesses };
    for holds in family.into_iter().chain(alone.iter().map(std::slice::from_ref)) {
        guesses.extend(lines_guess(table, place, holds));
    }
    // The sort is stable: of equals the one that holds less.
    guesses.sort_by_key(|guess| std::cmp::Reverse(guess.score));
    guesses
}

fn lines_guess(table: &Table, place: usize, holds: &[SheetKind]) -> Option<KindGuess> {
    let columns = columns(table, holds, Layout::Lines);
    let has = |kind: SheetKind, column: &str| {
        columns.iter().any(|guess| {
            guess.column_use.meaning == Meaning::Column(kind, of_column(kind, column).map_or("", |own| own.column))
        })
    };
    let holds_materials = holds.contains(&SheetKind::Materials);
    for &kind in holds {
        let shared = |column: &str| match column {
            "material" => holds_materials || holds.iter().any(|own| has(*own, "material")),
            "supplier" => kind == SheetKind::Offers,
            "product" => kind == SheetKind::Packaging && holds.contains(&SheetKind::Products),
            _ => false,
        };
        let is_met = |any: &&[&str]| any.iter().any(|column| has(kind, column) || shared(column));
        if !needed(kind).iter().all(is_met) {
            return None;
        }
        let own = columns
            .iter()
            .filter(|guess| matches!(guess.column_use.meaning, Meaning::Column(of, _) if of == kind))
            .count();
        // A name alone is no list of materials, suppliers or products.
        let names_only = matches!(kind, SheetKind::Materials | SheetKind::Suppliers | SheetKind::Products);
        if names_only && own < 2 && !(is_named(table, kind) && holds.len() == 1) {
            return None;
        }
    }
    let header = table.lines.get(place)?;
    let known: Vec<&ColumnGuess> =
        columns.iter().filter(|guess| guess.column_use.meaning != Meaning::LeftOut).collect();
    let points = |guess: &&ColumnGuess| match guess.column_use.meaning {
        Meaning::Column(kind, column) => of_column(kind, column).map_or(0, |own| fit(&title(&guess.title), own).0),
        _ => 1,
    };
    let named: u32 = holds.iter().map(|kind| if is_named(table, *kind) { 2 } else { 0 }).max().unwrap_or(0);
    let score = 10 * known.iter().map(points).sum::<u32>() + 10 * named - u32::try_from(holds.len() - 1).unwrap_or(0);
    let shown: Vec<&str> = known.iter().map(|guess| guess.title.as_str()).collect();
    let why = format!("its header in line {} has {}", header.number, shown.join(", "));
    Some(KindGuess { holds: holds.to_vec(), layout: Layout::Lines, why, score })
}

/// What is guessed of formulas in wide form beats every list.
const WIDE_SCORE: u32 = 1_000;

fn blocks_guess(table: &Table) -> Option<KindGuess> {
    let places = block_places(table)?;
    let parts = parts(table, places);
    let count = |part| parts.iter().filter(|own| **own == part).count();
    let (names, ingredients) = (count(Part::Name), count(Part::Ingredient));
    let first_is_name = parts.iter().find(|part| !matches!(part, Part::Other)).is_some_and(|part| *part == Part::Name);
    let sound = first_is_name && ingredients >= 2 * names && 2 * (names + ingredients) > parts.len();
    // One block alone may as well be a list with a title above it.
    let is_sure = names >= 2 || names == 1 && is_named(table, SheetKind::Formulas);
    // A header of many known titles is that of a list, with headings between its lines.
    let known = |line: &Line| line.cells.iter().filter(|cell| !cell.is_empty() && is_known(cell.text())).count();
    let is_list = header::place(table).is_some_and(|place| known(&table.lines[place]) > 3);
    if !sound || !is_sure || names == 0 || is_list {
        return None;
    }
    let found: Vec<&str> =
        table.lines.iter().zip(&parts).filter(|(_, part)| **part == Part::Name).map(|(line, _)| line.first()).collect();
    let why = format!("names stand alone above lines with an ingredient and a number: {}", listed(&found));
    Some(KindGuess { holds: vec![SheetKind::Formulas], layout: Layout::Blocks, why, score: WIDE_SCORE })
}

fn side_by_side_guess(table: &Table) -> Option<KindGuess> {
    let columns = side_by_side_columns(table)?;
    let formulas: Vec<&ColumnGuess> =
        columns.iter().filter(|guess| matches!(guess.column_use.meaning, Meaning::Formula(_))).collect();
    let whole = formulas.iter().filter(|guess| !guess.why.starts_with("numbers")).count();
    if formulas.is_empty() || 2 * whole < formulas.len() && !is_named(table, SheetKind::Formulas) {
        return None;
    }
    let found: Vec<&str> = formulas.iter().map(|guess| guess.title.as_str()).collect();
    let why = format!("its columns look like formulas side by side: {}", listed(&found));
    Some(KindGuess { holds: vec![SheetKind::Formulas], layout: Layout::FormulaPerColumn, why, score: WIDE_SCORE })
}

fn listed(names: &[&str]) -> String {
    const SHOWN: usize = 6;
    let more = if names.len() > SHOWN { ", and more" } else { "" };
    format!("{}{more}", names.iter().take(SHOWN).copied().collect::<Vec<_>>().join(", "))
}

/// What each column means, where the sheet holds this.
#[must_use]
pub fn columns(table: &Table, holds: &[SheetKind], layout: Layout) -> Vec<ColumnGuess> {
    match layout {
        Layout::Lines => line_columns(table, holds),
        Layout::FormulaPerColumn => side_by_side_columns(table).unwrap_or_default(),
        Layout::Blocks => block_columns(table),
    }
}

/// Place and title of columns, and the lines below their header.
type OwnColumns<'a> = (Vec<(usize, String)>, Vec<&'a Line>);

/// The columns of a sheet that hold something.
fn own_columns(table: &Table) -> Option<OwnColumns<'_>> {
    let place = header::place(table)?;
    let width = table.lines.iter().map(|line| line.cells.len()).max().unwrap_or(0);
    let nothing = MappedSheet::new("");
    let all: Vec<usize> = (0..width).collect();
    let lines = body(table, Some(place), &nothing, &all).lines;
    let titles = titles(&table.lines[place], width);
    let header = &table.lines[place];
    let holds = |place: usize| !header.cell(place).is_empty() || lines.iter().any(|line| !line.cell(place).is_empty());
    let own = titles.into_iter().enumerate().filter(|(place, _)| holds(*place)).collect();
    Some((own, lines))
}

fn sample(lines: &[&Line], place: usize) -> Vec<String> {
    let mut shown: Vec<String> = Vec::new();
    for text in lines.iter().map(|line| line.cell(place).text()).filter(|text| !text.is_empty()) {
        if shown.len() < 3 && !shown.iter().any(|own| own == text) {
            shown.push(text.chars().take(30).collect());
        }
    }
    shown
}

/// One way to read a column.
struct Candidate {
    place: usize,
    meaning: Meaning,
    fit: (u32, usize),
    kind_place: usize,
}

fn line_columns(table: &Table, holds: &[SheetKind]) -> Vec<ColumnGuess> {
    let Some((own, lines)) = own_columns(table) else { return Vec::new() };
    let mut candidates = Vec::new();
    for (place, text) in &own {
        let title = title(text);
        for (kind_place, &kind) in holds.iter().enumerate() {
            for column in described(kind) {
                let fit = fit(&title, column);
                if fit.0 > 0 && is_plausible(&lines, *place, column.shape, &title) {
                    candidates.push(Candidate {
                        place: *place,
                        meaning: Meaning::Column(kind, column.column),
                        fit,
                        kind_place,
                    });
                }
            }
        }
        candidates.extend(beside(&lines, *place, &title, holds));
    }
    candidates.sort_by_key(|own| (std::cmp::Reverse(own.fit.0), own.fit.1, own.kind_place, own.place));
    let mut taken: Vec<(usize, Meaning)> = Vec::new();
    for own in &candidates {
        let is_free = taken.iter().all(|(place, meaning)| {
            *place != own.place && *meaning != own.meaning && !is_same(meaning, &own.meaning, holds)
        });
        if is_free {
            taken.push((own.place, own.meaning.clone()));
        }
    }
    let guess_of = |(place, text): &(usize, String)| {
        let meaning =
            taken.iter().find(|(own, _)| own == place).map(|(_, meaning)| meaning.clone()).unwrap_or_default();
        let mut others: Vec<Meaning> = candidates
            .iter()
            .filter(|own| own.place == *place && own.meaning != meaning)
            .map(|own| own.meaning.clone())
            .collect();
        others.dedup();
        one_guess(&lines, *place, text, meaning, others, holds)
    };
    own.iter().map(guess_of).collect()
}

/// A name is one thing, whichever file it is written into.
fn is_same(left: &Meaning, right: &Meaning, holds: &[SheetKind]) -> bool {
    let is_name = |meaning: &Meaning| match meaning {
        Meaning::Column(SheetKind::Materials, "name") => true,
        Meaning::Column(SheetKind::Lots | SheetKind::Offers, "material") => {
            holds.contains(&SheetKind::Materials) || holds.len() > 1
        }
        _ => false,
    };
    let is_supplier =
        |meaning: &Meaning| matches!(meaning, Meaning::Column(SheetKind::Lots | SheetKind::Offers, "supplier"));
    is_name(left) && is_name(right) || is_supplier(left) && is_supplier(right)
}

/// A column of units or currencies that belong to another column.
fn beside(lines: &[&Line], place: usize, title: &Title, holds: &[SheetKind]) -> Option<Candidate> {
    let cells: Vec<&str> = lines.iter().map(|line| line.cell(place).text()).filter(|text| !text.is_empty()).collect();
    let has = |words: &[&str]| title.words.iter().any(|own| words.contains(&own.as_str()));
    let all = |fits: fn(&str) -> bool| !cells.is_empty() && cells.iter().all(|text| fits(text));
    let units = ["unit", "units", "einheit", "einh", "unite", "unita", "unidad", "uom", "measure", "u m", "me"];
    let meaning = if has(&units) && all(|text| unit(text).is_some()) {
        Meaning::Unit
    } else if has(&["currency", "wahrung", "devise", "valuta", "moneda"])
        && all(|text| !currencies(text).is_empty())
        && !holds.iter().any(|kind| of_column(*kind, "currency").is_some())
    {
        Meaning::Currency
    } else {
        return None;
    };
    Some(Candidate { place, meaning, fit: (3, 0), kind_place: 0 })
}

fn one_guess(
    lines: &[&Line],
    place: usize,
    text: &str,
    meaning: Meaning,
    others: Vec<Meaning>,
    holds: &[SheetKind],
) -> ColumnGuess {
    let title = title(text);
    let mut column_use = ColumnUse { meaning, ..ColumnUse::default() };
    let mut why = match &column_use.meaning {
        Meaning::Column(kind, column) => match of_column(*kind, column).map_or((0, 0), |own| fit(&title, own)) {
            (3, _) => "the title is a word for it".to_owned(),
            _ => "the title has a word for it".to_owned(),
        },
        Meaning::LeftOut => why_left_out(lines, place, &title, holds),
        _ => "the title is a word for it, and so are the cells".to_owned(),
    };
    if let Some(from_title) = take_from_title(&mut column_use, &title) {
        why.push_str(&format!("; {from_title} from the title"));
    }
    if let Meaning::Column(SheetKind::Formulas, "formula" | "version") = column_use.meaning {
        let filled = lines.iter().filter(|line| !line.cell(place).is_empty()).count();
        if filled < lines.len() {
            column_use.fill_down = true;
            why.push_str("; an empty cell means the one above");
        }
    }
    ColumnGuess { title: text.to_owned(), sample: sample(lines, place), column_use, why, others }
}

/// Takes the unit or currency that a title names, and says which.
pub(super) fn take_from_title(column_use: &mut ColumnUse, title: &Title) -> Option<String> {
    let Meaning::Column(kind, column) = column_use.meaning else { return None };
    match of_column(kind, column)?.shape {
        Shape::Amount | Shape::Mass | Shape::PlanAmount | Shape::Share => {
            column_use.unit = title.unit.map(str::to_owned)
        }
        Shape::Span | Shape::Days => column_use.unit = title.span.map(str::to_owned),
        Shape::Money => {
            if let [only] = title.currencies.as_slice() {
                column_use.currency = Some(only.clone());
            }
        }
        _ => return None,
    }
    column_use.unit.clone().or_else(|| column_use.currency.clone())
}

/// The use of a column that the maker gave a meaning: with what its title says.
#[must_use]
pub fn chosen(column_title: &str, meaning: Meaning) -> ColumnUse {
    let mut column_use = ColumnUse { meaning, ..ColumnUse::default() };
    take_from_title(&mut column_use, &title(column_title));
    column_use
}

fn why_left_out(lines: &[&Line], place: usize, title: &Title, holds: &[SheetKind]) -> String {
    if let Some(unit) = title.price_per {
        return format!("a price for each {unit} is not the price of a pack: not understood");
    }
    let by_title = holds.iter().flat_map(|kind| described(*kind)).find(|column| fit(title, column).0 == 3);
    match by_title {
        Some(column) if !is_plausible(lines, place, column.shape, title) => {
            format!("the title says {}, but the cells do not look like it", column.column)
        }
        Some(column) => format!("another column is {} already", column.column),
        None => "not understood: no column of ours has such a title".to_owned(),
    }
}

/// True where enough cells look like what a column of this shape holds: a third, since the title speaks for it already and
/// what does not fit is named when it is imported.
fn is_plausible(lines: &[&Line], place: usize, shape: Shape, title: &Title) -> bool {
    let is_like = |cell: &Cell| {
        let text = cell.text();
        let numeric = |fits: &dyn Fn(&str) -> bool| {
            !matches!(cell, Cell::Date(_)) && split_number(text).is_some_and(|(_, rest)| rest.is_empty() || fits(rest))
        };
        match shape {
            Shape::Amount | Shape::PlanAmount => numeric(&|rest| unit(rest).is_some_and(|unit| unit != "%")),
            Shape::Mass => numeric(&|rest| unit(rest).is_some_and(|unit| !matches!(unit, "%" | "pcs" | "moulds"))),
            Shape::Money => split_money(text).is_some_and(|(_, sign)| sign.is_empty() || !currencies(sign).is_empty()),
            Shape::Percent => numeric(&|rest| unit(rest) == Some("%")),
            Shape::Share => is_balance(text) || numeric(&|rest| unit(rest).is_some()),
            Shape::Number | Shape::Whole => numeric(&|_| false),
            Shape::Days => numeric(&|rest| span_unit(rest).is_some()),
            Shape::Span => {
                numeric(&|rest| span_unit(rest).is_some())
                    && (title.span.is_some() || text.contains(char::is_alphabetic))
            }
            Shape::Date => matches!(cell, Cell::Date(_)) || matches!(cell, Cell::Text(_)) && date_parts(text).is_some(),
            Shape::YesNo => yes_or_no(text).is_some(),
            Shape::Currency => !currencies(text).is_empty(),
            Shape::Kind => word(text, &["raw", "packaging"]).is_some(),
            Shape::Use => word(text, &["leave-on", "rinse-off"]).is_some(),
            Shape::State => word(text, &["released", "quarantine", "rejected"]).is_some(),
            Shape::Name | Shape::Material | Shape::Item | Shape::Supplier | Shape::Product => {
                text.contains(char::is_alphabetic)
            }
            Shape::Formula | Shape::Code | Shape::Text => true,
        }
    };
    let cells: Vec<&Cell> = lines.iter().map(|line| line.cell(place)).filter(|cell| !cell.is_empty()).collect();
    let like = cells.iter().filter(|cell| is_like(cell)).count();
    3 * like >= cells.len()
}

/// The exact sum of cells that hold plain numbers or percent, in millionths; `None` where one does not.
pub(super) fn sum<'a>(cells: impl Iterator<Item = &'a Cell>, sign: Option<DecimalSign>) -> Option<i64> {
    let mut sum = 0_i64;
    for cell in cells.filter(|cell| !cell.is_empty() && !is_balance(cell.text())) {
        let (written, rest) = split_number(cell.text())?;
        if !rest.is_empty() && unit(rest) != Some("%") {
            return None;
        }
        let text = match cell {
            Cell::Number(text) => text.clone(),
            _ => number(written, sign)?,
        };
        sum = sum.saturating_add(text.parse::<Decimal>().ok()?.scaled(6).ok()?);
    }
    Some(sum)
}

/// 100, and 1, in millionths.
pub(super) const HUNDRED: i64 = 100_000_000;
pub(super) const ONE: i64 = 1_000_000;

fn side_by_side_columns(table: &Table) -> Option<Vec<ColumnGuess>> {
    let (own, lines) = own_columns(table)?;
    if lines.len() < 2 {
        return None;
    }
    let cells = |place: usize| lines.iter().map(move |line| line.cell(place)).filter(|cell| !cell.is_empty());
    let in_words = |place: usize| cells(place).filter(|cell| cell.text().contains(char::is_alphabetic)).count();
    let words = own.iter().map(|(place, _)| *place).find(|&place| 5 * in_words(place) >= 4 * lines.len())?;
    let is_formula = |place: usize, text: &str| {
        let amounts = cells(place).filter(|cell| {
            is_balance(cell.text())
                || split_number(cell.text()).is_some_and(|(_, rest)| rest.is_empty() || unit(rest).is_some())
        });
        let count = amounts.count();
        place > words
            && count >= 2
            && count == cells(place).filter(|cell| cell.text() != "-").count()
            && !is_known(text)
    };
    let numbers = lines.iter().flat_map(|line| line.cells.iter().skip(words + 1).map(|cell| (line.number, cell)));
    let sign = style::decimal(numbers).decision.get();
    let guess_of = |(place, text): &(usize, String)| {
        let (meaning, why) = if *place == words {
            (Meaning::Column(SheetKind::Formulas, "ingredient"), "its cells are words".to_owned())
        } else if is_formula(*place, text) {
            let has_balance = cells(*place).any(|cell| is_balance(cell.text()));
            let why = match sum(cells(*place), sign) {
                _ if has_balance => "one line fills up to 100 %".to_owned(),
                Some(HUNDRED) => "its numbers add up to 100".to_owned(),
                Some(ONE) => "its numbers add up to 1: fractions".to_owned(),
                _ => "numbers beside the ingredients".to_owned(),
            };
            (Meaning::Formula(formula_name(text)), why)
        } else if fold(text) == "phase" || fold(text) == "fase" {
            (Meaning::Column(SheetKind::Formulas, "phase"), "the title is a word for it".to_owned())
        } else {
            (Meaning::LeftOut, "not understood: neither an ingredient nor numbers of a formula".to_owned())
        };
        let mut column_use = ColumnUse { meaning, ..ColumnUse::default() };
        if matches!(column_use.meaning, Meaning::Formula(_)) {
            column_use.unit = title(text).unit.map(str::to_owned);
            column_use.fractions = why.ends_with("fractions");
        }
        ColumnGuess { title: text.clone(), sample: sample(&lines, *place), column_use, why, others: Vec::new() }
    };
    Some(own.iter().map(guess_of).collect())
}

/// The title of a formula's column without the unit behind it.
fn formula_name(text: &str) -> String {
    let cut = text.find(['(', '[']).filter(|_| title(text).unit.is_some());
    cut.map_or(text, |place| text[..place].trim()).to_owned()
}

fn block_columns(table: &Table) -> Vec<ColumnGuess> {
    let Some((words, number)) = block_places(table) else { return Vec::new() };
    let width = table.lines.iter().map(|line| line.cells.len()).max().unwrap_or(0);
    let parts = parts(table, (words, number));
    let lines: Vec<&Line> =
        table.lines.iter().zip(&parts).filter(|(_, part)| **part == Part::Ingredient).map(|(line, _)| line).collect();
    let mut guesses = Vec::new();
    for place in (0..width).filter(|&place| lines.iter().any(|line| !line.cell(place).is_empty())) {
        let (meaning, why) = if place == words {
            (Meaning::Column(SheetKind::Formulas, "ingredient"), "words beside a number")
        } else if place == number {
            (Meaning::Column(SheetKind::Formulas, "percent"), "a number in each line of a formula")
        } else {
            (Meaning::LeftOut, "not understood: neither the ingredient nor how much of it")
        };
        let column_use = ColumnUse { meaning, ..ColumnUse::default() };
        guesses.push(ColumnGuess {
            title: letter(place),
            sample: sample(&lines, place),
            column_use,
            why: why.to_owned(),
            others: Vec::new(),
        });
    }
    guesses
}

/// Lines that look like a heading: only their name is filled, where other lines say more.
pub(super) fn headings(lines: &[&Line], sheet: &MappedSheet) -> Vec<Skip> {
    let is_listed = sheet.layout == Layout::Lines && !sheet.holds.contains(&SheetKind::Formulas);
    let full = lines.iter().filter(|line| line.filled() > 1).count();
    if !is_listed || sheet.columns.len() < 3 || 3 * full < 2 * lines.len() {
        return Vec::new();
    }
    let alone = lines.iter().filter(|line| line.filled() == 1 && !is_total(line));
    alone.map(|line| Skip::Words(line.first().to_owned())).collect()
}
