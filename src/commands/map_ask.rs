//! The questions of `import --map`: what a sheet holds, what each of its columns means, and what no cell says.

use super::map::{Sheet, table, taken_for};
use super::session::Session;
use crate::error::CommandError;
use crate::intake::SheetKind;
use crate::intake::describe::{described, of_column, purpose};
use crate::intake::map::cells::{DateOrder, DecimalSign, currencies};
use crate::intake::map::file::meaning_text;
use crate::intake::map::guess::{ColumnGuess, KindGuess, chosen, columns, kinds, settle};
use crate::intake::map::{Decision, Layout, Meaning};
use crate::intake::sheets::MAKERS;
use crate::plan::money::Currency;

const LEFT_OUT: &str = "leave this sheet out";
const SOMETHING_ELSE: &str = "something else ...";
/// So many guesses are offered before the whole list.
const OFFERED: usize = 3;

/// Asks all that there is to ask about a sheet.
///
/// # Errors
/// Where the maker goes away; nothing is written then.
pub fn ask(session: &Session, sheet: &mut Sheet, home: Currency) -> Result<(), CommandError> {
    let lines = sheet.table.lines.len();
    eprintln!("\n{} ({lines} lines)", sheet.table.place);
    let Some(held) = ask_kind(session, sheet)? else {
        sheet.guess.sheet.holds.clear();
        sheet.guess.sheet.columns.clear();
        "you said so".clone_into(&mut sheet.guess.why);
        return Ok(());
    };
    if held.holds != sheet.guess.sheet.holds || held.layout != sheet.guess.sheet.layout {
        sheet.guess.sheet.holds = held.holds;
        sheet.guess.sheet.layout = held.layout;
        sheet.guess.why = held.why;
        sheet.guess.columns = columns(&sheet.table, &sheet.guess.sheet.holds, sheet.guess.sheet.layout);
    }
    eprint!("{}{}", taken_for(sheet), table(sheet, session.screen));
    let all_right = "yes, all of it".to_owned();
    let one_by_one = "no, go through the columns one by one".to_owned();
    if session.or_pick(None, "--map", "Is this right?", &[all_right, one_by_one])? == 1 {
        ask_columns(session, sheet)?;
    }
    let own = sheet.guess.columns.iter().map(|column| (column.title.clone(), column.column_use.clone()));
    sheet.guess.sheet.columns = own.collect();
    sheet.guess.settled = settle(&sheet.table, &mut sheet.guess.sheet, home.code());
    ask_settings(session, sheet, home)
}

/// What a line holds; nothing where the sheet is left out.
fn ask_kind(session: &Session, sheet: &Sheet) -> Result<Option<KindGuess>, CommandError> {
    let mut offered: Vec<KindGuess> = kinds(&sheet.table);
    offered.truncate(OFFERED);
    let mut labels: Vec<String> = offered.iter().map(|guess| kind_label(&guess.holds, guess.layout)).collect();
    labels.extend([LEFT_OUT.to_owned(), SOMETHING_ELSE.to_owned()]);
    let question = if sheet.table.sheet.is_empty() {
        format!("What does {} hold?", sheet.table.file)
    } else {
        format!("What does the sheet \"{}\" hold?", sheet.table.sheet)
    };
    let picked = session.or_pick(None, "--map", &question, &labels)?;
    if let Some(guess) = offered.get(picked) {
        return Ok(Some(guess.clone()));
    }
    if picked == offered.len() {
        return Ok(None);
    }
    let mut all: Vec<(Vec<SheetKind>, Layout)> = MAKERS.iter().map(|kind| (vec![*kind], Layout::Lines)).collect();
    all.push((vec![SheetKind::Materials, SheetKind::Lots], Layout::Lines));
    all.push((vec![SheetKind::Materials, SheetKind::Offers], Layout::Lines));
    all.push((vec![SheetKind::Formulas], Layout::FormulaPerColumn));
    all.push((vec![SheetKind::Formulas], Layout::Blocks));
    let labels: Vec<String> = all.iter().map(|(holds, layout)| kind_label(holds, *layout)).collect();
    let picked = session.or_pick(None, "--map", "Which of these is it?", &labels)?;
    let (holds, layout) = all[picked].clone();
    Ok(Some(KindGuess::said(holds, layout)))
}

fn kind_label(holds: &[SheetKind], layout: Layout) -> String {
    let has = |kind| holds.contains(&kind);
    let label = match holds {
        [only] => purpose(*only),
        _ if has(SheetKind::Offers) && has(SheetKind::Lots) && has(SheetKind::Materials) => {
            "materials + offers + lots: what each is, what it costs, what is there"
        }
        _ if has(SheetKind::Offers) && has(SheetKind::Lots) => "offers + lots: what each costs, and what is there",
        _ if has(SheetKind::Offers) => "materials + offers: what each is, and what it costs",
        _ => "materials + lots: what each is, and what is on your shelves",
    };
    let form = match layout {
        Layout::Lines => "",
        Layout::FormulaPerColumn => " (formulas side by side)",
        Layout::Blocks => " (formulas below each other)",
    };
    format!("{label}{form}")
}

fn meaning_label(meaning: &Meaning) -> String {
    match meaning {
        Meaning::LeftOut => "leave it out".to_owned(),
        Meaning::Unit => "unit: of the other amounts in the line".to_owned(),
        Meaning::Currency => "currency: of the money in the line".to_owned(),
        Meaning::Formula(name) => format!("the formula {name}"),
        Meaning::Column(kind, column) => {
            let says = of_column(*kind, column).map_or("", |own| own.says);
            format!("{}: {says}", meaning_text(meaning))
        }
    }
}

/// Goes through the columns.
fn ask_columns(session: &Session, sheet: &mut Sheet) -> Result<(), CommandError> {
    let holds = sheet.guess.sheet.holds.clone();
    let is_lines = sheet.guess.sheet.layout != Layout::FormulaPerColumn;
    for column in &mut sheet.guess.columns {
        let meaning = ask_column(session, column, &holds, is_lines)?;
        if meaning != column.column_use.meaning {
            let fill_down =
                column.column_use.fill_down && matches!(meaning, Meaning::Column(SheetKind::Formulas, "formula"));
            column.column_use = chosen(&column.title, meaning);
            column.column_use.fill_down = fill_down;
            "you said so".clone_into(&mut column.why);
        }
    }
    Ok(())
}

fn ask_column(
    session: &Session,
    column: &ColumnGuess,
    holds: &[SheetKind],
    is_lines: bool,
) -> Result<Meaning, CommandError> {
    eprintln!("\n\"{}\": {}", column.title, column.sample.join(" | "));
    let mut offered = vec![column.column_use.meaning.clone()];
    offered.extend(column.others.iter().take(OFFERED).cloned());
    if !is_lines {
        offered.push(Meaning::Formula(column.title.clone()));
    }
    offered.push(Meaning::LeftOut);
    let mut seen: Vec<Meaning> = Vec::new();
    offered.retain(|meaning| {
        !seen.contains(meaning) && {
            seen.push(meaning.clone());
            true
        }
    });
    let mut labels: Vec<String> = offered.iter().map(meaning_label).collect();
    labels.push(SOMETHING_ELSE.to_owned());
    let question = format!("What is \"{}\"?", column.title);
    let picked = session.or_pick(None, "--map", &question, &labels)?;
    if let Some(meaning) = offered.get(picked) {
        return Ok(meaning.clone());
    }
    let own = holds.iter().flat_map(|kind| described(*kind).iter().map(|own| Meaning::Column(*kind, own.column)));
    let mut all: Vec<Meaning> = own.collect();
    all.extend([Meaning::Unit, Meaning::Currency, Meaning::LeftOut]);
    let labels: Vec<String> = all.iter().map(meaning_label).collect();
    let picked = session.or_pick(None, "--map", &format!("Which of these is \"{}\"?", column.title), &labels)?;
    Ok(all[picked].clone())
}

/// Asks for what no cell says.
fn ask_settings(session: &Session, sheet: &mut Sheet, home: Currency) -> Result<(), CommandError> {
    let why = sheet.guess.settled.why.clone();
    let said = |name: &str| why.get(name).cloned().unwrap_or_default();
    let open = sheet.guess.sheet.open();
    let own = &mut sheet.guess.sheet;
    let pick = |question: &str, labels: &[&str]| {
        let labels: Vec<String> = labels.iter().map(|label| (*label).to_owned()).collect();
        session.or_pick(None, "--map", question, &labels)
    };
    if own.decimal == Decision::Open {
        let question = format!("What stands before the decimals? {}", said("decimal"));
        let picked = pick(&question, &["a point: 1,234.5", "a comma: 1.234,5"])?;
        own.decimal = Decision::Is(if picked == 0 { DecimalSign::Point } else { DecimalSign::Comma });
    }
    if own.dates == Decision::Open {
        let question = format!("How do you write dates? {}", said("dates"));
        let picked = pick(&question, &["day, month, year", "month, day, year", "year, month, day"])?;
        let orders = [DateOrder::DayMonthYear, DateOrder::MonthDayYear, DateOrder::YearMonthDay];
        own.dates = Decision::Is(orders[picked]);
    }
    let is_home_guess = said("currency").contains("your home currency");
    if own.currency == Decision::Open || is_home_guess {
        let question = format!("In which currency is money that names none? ({})", said("currency"));
        let code =
            session.ask_until(&question, home.code(), |text| match currencies(text).as_slice() {
                [code] => Ok(code.clone()),
                _ => Err(CommandError::input(format!("{text:?} is no currency"))
                    .hint("write its three letters: EUR, GBP, USD")),
            })?;
        own.currency = Decision::Is(code);
    }
    if own.unit == Decision::Open {
        let of_formulas = own.holds.contains(&SheetKind::Formulas);
        let units: &[&str] =
            if of_formulas { &["g", "%", "kg", "oz", "lb"] } else { &["g", "kg", "pcs", "ml", "l", "oz", "lb"] };
        let picked = pick(&format!("In which unit are the bare numbers? {}", said("unit")), units)?;
        own.unit = Decision::Is(units[picked].to_owned());
    }
    if own.supplier == Decision::Open {
        let supplier = session.or_ask(None, "--map", "Which supplier is it? (a code, or the name)", None)?;
        own.supplier = Decision::Is(supplier.trim().to_owned());
    }
    if own.lead_time_days == Decision::Open {
        let question = "How many days does a supplier take that is not known yet, from order to door?";
        let days = session.ask_until(question, "7", |text| {
            let days = text
                .trim()
                .parse::<u32>()
                .map_err(|_| CommandError::input(format!("{text:?} is no number of days")))?;
            Ok(days.to_string())
        })?;
        own.lead_time_days = Decision::Is(days);
    }
    if own.add_missing {
        let question = "What if a line names something that is not known yet?";
        own.add_missing = pick(question, &["add it (it is shown by name)", "stop and show it"])? == 0;
    }
    if !own.skip.is_empty() {
        let question = format!("Leave lines out that look like headings? {}", said("skip"));
        if pick(&question, &["yes, leave them out", "no, read them"])? == 1 {
            own.skip.clear();
        }
    }
    for name in open {
        sheet.guess.settled.why.insert(name.to_owned(), "you said so".to_owned());
    }
    Ok(())
}
