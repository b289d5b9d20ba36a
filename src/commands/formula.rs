//! `formula`: the formulas and their versions, looked over, side by side, and carried on as a new version.

use super::names::find;
use super::session::Session;
use crate::book::Book;
use crate::book::rows::FormulaLineRow;
use crate::book::versions::version_order;
use crate::cli::Formula;
use crate::error::CommandError;
use crate::plan::allocate::SearchLimit;
use crate::plan::formula::{PriceBasis, check, compare};
use crate::plan::model::{FormulaId, Snapshot};
use crate::render::formula as render;
use crate::render::one_line;
use crate::store::Revisions;
use crate::view::done::RevisedView;
use crate::view::formula as view;
use crate::view::formula::{FormulaListView, ListedFormulaView, ListedVersionView};
use std::collections::BTreeSet;

pub fn run(session: &Session, what: &Formula) -> Result<String, CommandError> {
    match what {
        Formula::List => list(session),
        Formula::Check { formula, revision, at_offers } => {
            let (snapshot, outlook) = session.outlook(None)?;
            let id = version(&snapshot, formula, revision.as_deref())?;
            let basis = if *at_offers { PriceBasis::Offers } else { PriceBasis::Stock };
            let checked = check(&snapshot, &outlook, id, basis, SearchLimit::default());
            let view = view::check(&snapshot, &checked, outlook.today);
            session.answer(&view, |screen| render::check(&view, screen))
        }
        Formula::Compare { formula, left, right } => {
            let snapshot = session.snapshot()?;
            let (left, right) =
                (version(&snapshot, formula, Some(left))?, version(&snapshot, formula, right.as_deref())?);
            let (today, basis) = (session.clock.today(), PriceBasis::Stock);
            let view = view::compare(&snapshot, &compare(&snapshot, left, right, today, basis), basis, today);
            session.answer(&view, |screen| render::compare(&view, screen))
        }
        Formula::Revise { formula, revision, reason, .. } => {
            revise(session, formula, revision.as_deref(), reason.as_deref())
        }
    }
}

/// The version that is named, or the newest.
fn version(snapshot: &Snapshot, formula: &str, wanted: Option<&str>) -> Result<FormulaId, CommandError> {
    let codes: BTreeSet<&str> = snapshot.formulas.iter().map(|formula| formula.code.as_str()).collect();
    let code = find("formula", formula, codes.iter().map(|code| ([*code], *code))).map_err(|error| {
        let product = snapshot.products.iter().find(|product| product.code.eq_ignore_ascii_case(formula));
        match product.and_then(|product| product.formula) {
            Some(id) => error.hint(format!("that product is made to {}", snapshot.formulas[id.index()].code)),
            None => error,
        }
    })?;
    let versions = snapshot.formulas.iter().enumerate().filter(|(_, formula)| formula.code == code);
    let mut versions: Vec<(&str, FormulaId)> =
        versions.map(|(place, formula)| (formula.version.as_str(), FormulaId::new(place))).collect();
    versions.sort_by(|left, right| version_order(left.0, right.0));
    let Some(&(_, newest)) = versions.last() else {
        return Err(CommandError::input(format!("there is no formula {formula:?}")));
    };
    let Some(wanted) = wanted else { return Ok(newest) };
    versions.iter().find(|(version, _)| *version == wanted.trim()).map(|(_, id)| *id).ok_or_else(|| {
        let names: Vec<&str> = versions.iter().map(|(version, _)| *version).collect();
        CommandError::input(format!("there is no version {wanted:?} of {code}"))
            .hint(format!("on file: {}", names.join(", ")))
    })
}

fn list(session: &Session) -> Result<String, CommandError> {
    let mut store = session.open()?;
    let reading = store.reading()?;
    let snapshot = session.snapshot_of(&reading)?;
    let revisions = reading.revisions()?;
    let codes: BTreeSet<&str> = snapshot.formulas.iter().map(|formula| formula.code.as_str()).collect();
    let mut formulas = Vec::with_capacity(codes.len());
    for code in codes {
        let of_code = snapshot.formulas.iter().enumerate().filter(|(_, formula)| formula.code == code);
        let mut versions: Vec<ListedVersionView> =
            of_code.map(|(place, _)| listed(&snapshot, FormulaId::new(place), &revisions)).collect();
        versions.sort_by(|left, right| version_order(&left.version, &right.version));
        if let Some(newest) = versions.last_mut() {
            newest.newest = true;
        }
        formulas.push(ListedFormulaView { formula: code.to_owned(), versions });
    }
    let view = FormulaListView { formulas };
    session.answer(&view, |screen| render::list(&view, session.clock.today(), screen))
}

fn listed(snapshot: &Snapshot, id: FormulaId, revisions: &Revisions) -> ListedVersionView {
    let formula = &snapshot.formulas[id.index()];
    let products = snapshot.products.iter().filter(|product| product.formula == Some(id)).map(|product| &product.code);
    let is_of = |item: &&crate::plan::model::Item| item.premix.as_ref().is_some_and(|facts| facts.formula == Some(id));
    let premixes = snapshot.items.iter().filter(is_of).map(|item| &item.code);
    let revision = revisions.get(&(formula.code.clone(), formula.version.clone()));
    ListedVersionView {
        version: formula.version.clone(),
        newest: false,
        lines: formula.lines.len(),
        made_to_it: products.chain(premixes).cloned().collect(),
        revised_on: revision.map(|(day, _)| *day),
        reason: revision.map_or_else(String::new, |(_, reason)| reason.clone()),
    }
}

fn revise(
    session: &Session,
    formula: &str,
    wanted: Option<&str>,
    reason: Option<&str>,
) -> Result<String, CommandError> {
    let (formula, newest, version, reason) = session.write(|writing| {
        let book = writing.book()?;
        let (formula, newest, version) = named_anew(&book, formula, wanted)?;
        let reason = one_line(&session.or_ask(reason, "--reason", "Why is there a new version?", None)?);
        if reason.is_empty() {
            return Err(CommandError::input("a new version needs a reason: what it changes, and why"));
        }
        let lines = book.formula_lines.iter().filter(|row| row.formula == formula && row.version == newest);
        let copy: Vec<FormulaLineRow> =
            lines.map(|row| FormulaLineRow { version: version.clone(), ..row.clone() }).collect();
        writing.revise(&copy, &reason, &session.stamp())?;
        Ok((formula.to_owned(), newest.to_owned(), version, reason))
    })?;
    let view = RevisedView { formula, version, copy_of: newest, reason };
    session.answer(&view, |_| {
        format!(
            "Formula {}, version {}, is a copy of version {}. It counts from now on where no version is named.\nChange its \
             lines in formulas.csv (`stillroom export` writes it), and import that file again.\n",
            one_line(&view.formula),
            one_line(&view.version),
            one_line(&view.copy_of)
        )
    })
}

/// The formula, its newest version, and the name of the one after that.
fn named_anew<'a>(
    book: &'a Book,
    formula: &str,
    wanted: Option<&str>,
) -> Result<(&'a str, &'a str, String), CommandError> {
    let standing = book.formula_lines.iter().filter(|row| !row.withdrawn);
    let codes: BTreeSet<&str> = standing.map(|row| row.formula.as_str()).collect();
    let formula = find("formula", formula, codes.iter().map(|code| ([*code], *code)))?;
    let of_formula = || book.formula_lines.iter().filter(|row| row.formula == formula);
    let newest = |rows: &mut dyn Iterator<Item = &'a FormulaLineRow>| {
        rows.map(|row| row.version.as_str()).max_by(|left, right| version_order(left, right)).unwrap_or_default()
    };
    let standing = newest(&mut of_formula().filter(|row| !row.withdrawn));
    // The name of a version that was taken back is not given again: a sheet with it may have been printed.
    let last = newest(&mut of_formula());
    Ok((formula, standing, new_version(formula, last, wanted)?))
}

/// The name of the new version: the wanted one, which has to be newer than all that there are, or the next number.
fn new_version(formula: &str, newest: &str, wanted: Option<&str>) -> Result<String, CommandError> {
    let Some(wanted) = wanted else { return Ok(next_version(newest)) };
    let wanted = wanted.trim();
    if wanted.is_empty() || wanted.contains(char::is_control) {
        return Err(CommandError::input(format!("--revision {wanted:?} is no name for a version")));
    }
    if version_order(wanted, newest).is_le() {
        return Err(CommandError::input(format!("version {wanted:?} of {formula} would not be newer than {newest:?}"))
            .hint(format!("the newest counts; call it {}, say", next_version(newest))));
    }
    Ok(wanted.to_owned())
}

/// The version with its last number one higher: `2` after `1`, `1.10` after `1.9`; `b 2` after `b`.
fn next_version(newest: &str) -> String {
    let head = newest.trim_end_matches(|letter: char| letter.is_ascii_digit());
    match newest[head.len()..].parse::<u64>() {
        Ok(number) if number < u64::MAX => format!("{head}{}", number + 1),
        _ => format!("{newest} 2"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cmp::Ordering;

    #[test]
    fn the_next_version_is_newer() {
        for (newest, expected) in
            [("1", "2"), ("9", "10"), ("1.9", "1.10"), ("v2", "v3"), ("spring", "spring 2"), ("2a", "2a 2")]
        {
            assert_eq!(next_version(newest), expected);
            assert_eq!(version_order(newest, expected), Ordering::Less, "{newest}");
        }
        let long = "99999999999999999999999";
        assert_eq!(version_order(long, &next_version(long)), Ordering::Less);
    }
}
