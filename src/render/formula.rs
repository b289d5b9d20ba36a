//! A formula looked over and two versions side by side, for the terminal.

use super::amounts::{count, day, listed, money};
use super::findings::terminal_findings;
use super::one_line;
use super::table::{Align, Screen, Table, strong};
use crate::view::formula::{ComparisonView, CostingView, FormulaCheckView, FormulaListView, ProductCheckView};
use chrono::NaiveDate;

/// The formulas on file.
#[must_use]
pub fn list(view: &FormulaListView, today: NaiveDate, screen: Screen) -> String {
    let formulas = count(view.formulas.len(), "formula", "formulas");
    let mut text = format!("{}\n", strong(&format!("{formulas} on file."), screen.colour));
    if view.formulas.is_empty() {
        return text;
    }
    let mut table = Table::new(&[
        ("Formula", Align::Left),
        ("Version", Align::Left),
        ("Lines", Align::Right),
        ("Made to it", Align::Left),
        ("Why it was made", Align::Left),
    ]);
    for formula in &view.formulas {
        for version in &formula.versions {
            let day = version.revised_on.map(|date| format!("{}: ", day(date, today))).unwrap_or_default();
            table.row([
                &formula.formula,
                &version.version,
                &version.lines.to_string(),
                &version.made_to_it.join(", "),
                &format!("{day}{}", version.reason),
            ]);
        }
    }
    text.push_str(&format!("\n{}", table.render(screen)));
    text
}

/// A formula looked over.
#[must_use]
pub fn check(view: &FormulaCheckView, screen: Screen) -> String {
    let total = if view.total_is_right { "adds up to 100 %" } else { "does not add up" };
    let sum = if view.total_is_right { String::new() } else { format!(": {} %", view.total) };
    let name = version(&view.formula, &view.version);
    let mut text = format!("{}\n", strong(&format!("{name} {total}{sum}."), screen.colour));
    text.push_str(&format!("\nA kilogram weighed in costs {}.\n", money(&view.kilogram.cost, &view.currency)));
    text.push_str(priced_from(&view.priced_from));
    text.push_str(&doubts(&view.kilogram));
    for premix in &view.premixes {
        let cost = money(&premix.kilogram.cost, &view.currency);
        text.push_str(&format!("A kilogram of premix {}, its loss counted, costs {cost}.\n", one_line(&premix.premix)));
    }
    for product in &view.products {
        text.push_str(&product_text(product, view, screen));
    }
    text.push_str(&ingredients(view, screen));
    text.push_str(&terminal_findings(&view.findings, screen));
    text
}

fn version(formula: &str, version: &str) -> String {
    let version = if version.is_empty() { String::new() } else { format!(", version {},", one_line(version)) };
    format!("Formula {}{version}", one_line(formula))
}

fn priced_from(basis: &str) -> &'static str {
    if basis == "stock" {
        "Priced from the lots on hand, first expired first, as they were paid.\n"
    } else {
        "Priced from the cheapest offers of today, with duty and without postage.\n"
    }
}

fn doubts(costing: &CostingView) -> String {
    let names = |names: &[String]| listed(&names.iter().map(|name| one_line(name)).collect::<Vec<_>>());
    let mut text = String::new();
    if !costing.topped_up.is_empty() {
        text.push_str(&format!(
            "Stock does not reach for {}: the rest is priced by the cheapest offer.\n",
            names(&costing.topped_up)
        ));
    }
    if !costing.unpriced.is_empty() {
        text.push_str(&format!("Nothing has a price for {}: it counts as 0 here.\n", names(&costing.unpriced)));
    }
    if !costing.without_rate.is_empty() {
        text.push_str(&format!("No rate is known for {}.\n", names(&costing.without_rate)));
    }
    text
}

fn product_text(product: &ProductCheckView, view: &FormulaCheckView, screen: Screen) -> String {
    let title = strong(&one_line(&product.name), screen.colour);
    let batch = if product.batch_pieces == 1 {
        "made as a single piece".to_owned()
    } else {
        format!("in a batch of {}, which costs {}", product.batch_pieces, money(&product.batch.cost, &view.currency))
    };
    let piece = money(&product.cost_of_piece, &view.currency);
    format!(
        "\n{title}\nA piece with its packaging costs {piece} ({batch}).\n{}{}\n{}\n",
        doubts(&product.batch),
        possible("The stock allows", product.possible, &product.limited_by, product.no_limit),
        possible(
            "After the plan it allows",
            product.possible_after_plan,
            &product.limited_after_plan_by,
            product.no_limit
        )
    )
}

fn possible(lead: &str, pieces: Option<i64>, limited_by: &[String], no_limit: bool) -> String {
    let Some(pieces) = pieces else {
        let rest = if no_limit {
            "as many as you like"
        } else {
            "a number that cannot be told: net mass or formula is missing"
        };
        return format!("{lead} {rest}.");
    };
    let names: Vec<String> = limited_by.iter().map(|name| one_line(name)).collect();
    let limit = if names.is_empty() { String::new() } else { format!("; one more is short of {}", listed(&names)) };
    let word = if pieces == 1 { "piece" } else { "pieces" };
    format!("{lead} {pieces} {word}{limit}.")
}

fn ingredients(view: &FormulaCheckView, screen: Screen) -> String {
    let mut text = format!("\n{}\n", strong("Ingredient list, a draft", screen.colour));
    let all = view.ingredients.iter().chain(&view.ingredients_at_most_one_percent);
    let names: Vec<String> = all.clone().map(|ingredient| one_line(&ingredient.name)).collect();
    text.push_str(&format!(
        "{}\n\n",
        if names.is_empty() { "(no INCI name is known)".to_owned() } else { names.join(", ") }
    ));
    let mut table = Table::new(&[("INCI name", Align::Left), ("Percent", Align::Right), ("From", Align::Left)]);
    for ingredient in all {
        table.row([&ingredient.name, &ingredient.percent, &ingredient.materials.join(", ")]);
    }
    text.push_str(&table.render(screen));
    if !view.ingredients_at_most_one_percent.is_empty() {
        let few = view.ingredients_at_most_one_percent.len();
        let last = if few == 1 { "The last stands".to_owned() } else { format!("The last {few} stand") };
        text.push_str(&format!("\n{last} at 1 % or below and may come in any order after the others.\n"));
    }
    for missing in &view.without_inci {
        text.push_str(&format!(
            "\n{} ({} %) has no INCI name and is missing from the list.\n",
            one_line(&missing.name),
            missing.percent
        ));
    }
    for note in &view.notes {
        text.push_str(&format!("\n{}\n", one_line(note)));
    }
    text
}

/// Two versions side by side.
#[must_use]
pub fn compare(view: &ComparisonView, screen: Screen) -> String {
    let name = |side: &crate::view::formula::VersionView| {
        let version = if side.version.is_empty() { String::new() } else { format!(" {}", one_line(&side.version)) };
        format!("{}{version}", one_line(&side.formula))
    };
    let (left, right) = (name(&view.left), name(&view.right));
    let changed = view.lines.iter().filter(|line| line.changed).count();
    let lines =
        if changed == 0 { "no line differs".to_owned() } else { count(changed, "line differs", "lines differ") };
    let mut text = format!("{}\n\n", strong(&format!("{left} and {right}: {lines}."), screen.colour));
    let mut table = Table::new(&[
        ("Ingredient", Align::Left),
        (&left, Align::Right),
        (&right, Align::Right),
        ("Difference", Align::Right),
        ("Phase", Align::Left),
    ]);
    let share = |share: &Option<String>| share.as_ref().map_or_else(|| "-".to_owned(), |share| format!("{share} %"));
    for line in &view.lines {
        let phases = |phases: &[String]| phases.join(" and ");
        let phase = match (&line.left, &line.right) {
            (Some(_), Some(_)) if line.left_phases != line.right_phases => {
                format!("{}, then {}", phases(&line.left_phases), phases(&line.right_phases))
            }
            (Some(_), _) => phases(&line.left_phases),
            _ => phases(&line.right_phases),
        };
        let difference = if line.difference == "0" { String::new() } else { line.difference.clone() };
        table.row([&line.name, &share(&line.left), &share(&line.right), &difference, &phase]);
    }
    let cost = |side: &CostingView| money(&side.cost, &view.currency);
    table.row([
        "A kilogram costs",
        &cost(&view.left.kilogram),
        &cost(&view.right.kilogram),
        &money(&view.cost_difference, &view.currency),
        "",
    ]);
    text.push_str(&table.render(screen));
    text.push_str(&format!("\n{}", priced_from(&view.priced_from)));
    text.push_str(&doubts(&view.left.kilogram));
    if doubts(&view.left.kilogram) != doubts(&view.right.kilogram) {
        text.push_str(&doubts(&view.right.kilogram));
    }
    text
}
