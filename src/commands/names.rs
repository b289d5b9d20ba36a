//! What the maker means by what she typed: a code, a name, or an unmistakable part of one, in any case, with or without
//! accents.

use crate::book::fold::fold;
use crate::book::rows::{BatchRow, LotRow};
use crate::error::CommandError;
use crate::plan::model::{EntryId, Snapshot};

/// So many are listed where several could be meant.
const MOST_LISTED: usize = 8;

/// How alike two names must be, of 1, so that one may be a slip for the other. Jaro and Winkler's measure.
const ALIKE: f64 = 0.86;

/// What is this much less alike than the nearest is not offered beside it.
const NEAR_THE_BEST: f64 = 0.05;

/// One thing with its names.
struct Named<T> {
    /// The code.
    code: String,
    /// The code and, where it has another, the name: `shea-butter (Shea butter, refined)`.
    shown: String,
    /// All its names as [`fold`] gives them, the code's first.
    folded: Vec<String>,
    thing: T,
}

/// The one thing that is meant by `typed`. Each comes with its names, of which the first is its code and the second, if any, is
/// told beside it. A code as it stands goes before everything, then a whole name, then a part of one.
///
/// # Errors
/// Where nothing is meant: names what is alike, or says where to look. Where several could be: lists them.
pub fn find<'a, N: AsRef<[&'a str]>, T>(
    what: &str,
    typed: &str,
    things: impl Iterator<Item = (N, T)>,
) -> Result<T, CommandError> {
    let typed = typed.trim();
    let mut all = Vec::new();
    for (names, thing) in things {
        let names = names.as_ref();
        if names.first() == Some(&typed) {
            return Ok(thing);
        }
        all.push(named(names, thing));
    }
    let wanted = fold(typed);
    if wanted.is_empty() {
        return Err(CommandError::input(format!("{typed:?} names no {what}")));
    }
    for is_meant in [is_code, is_name, holds_word, holds] {
        let meant: Vec<usize> = (0..all.len()).filter(|&place| is_meant(&all[place].folded, &wanted)).collect();
        let Some(&first) = meant.first() else { continue };
        // The same code twice is the same thing, listed in two places.
        if meant.iter().all(|&place| all[place].code == all[first].code) {
            return Ok(all.swap_remove(first).thing);
        }
        return Err(several(what, typed, meant.iter().map(|&place| all[place].shown.as_str())));
    }
    Err(none(what, typed, &wanted, &all))
}

/// The names of a lot.
pub fn lot_names(row: &LotRow) -> [&str; 3] {
    [&row.lot, &row.material, &row.supplier_lot]
}

/// The names of a batch.
pub fn batch_names(row: &BatchRow) -> [&str; 3] {
    [&row.batch, &row.product, &row.entry]
}

/// The plan entries with their names: an entry may be called by its product where that is planned once only.
pub fn entries(snapshot: &Snapshot) -> impl Iterator<Item = ([&str; 3], EntryId)> {
    let names = |place: usize| {
        let entry = snapshot.entry(EntryId::new(place));
        let product = snapshot.product(entry.product);
        ([entry.code.as_str(), &product.name, &product.code], EntryId::new(place))
    };
    (0..snapshot.entries.len()).map(names)
}

fn named<T>(names: &[&str], thing: T) -> Named<T> {
    let code = names.first().copied().unwrap_or_default();
    let shown = match names.get(1) {
        Some(name) if !name.is_empty() && *name != code => format!("{code} ({name})"),
        _ => code.to_owned(),
    };
    let folded = names.iter().map(|name| fold(name)).collect();
    Named { code: code.to_owned(), shown, folded, thing }
}

fn is_code(folded: &[String], wanted: &str) -> bool {
    folded.first().is_some_and(|code| code == wanted)
}

fn is_name(folded: &[String], wanted: &str) -> bool {
    folded.iter().any(|name| name == wanted)
}

/// True where a name has the words in it, the last perhaps not to its end.
fn holds_word(folded: &[String], wanted: &str) -> bool {
    folded.iter().any(|name| parts(name, wanted).any(|at| at == 0 || name[..at].ends_with(' ')))
}

fn holds(folded: &[String], wanted: &str) -> bool {
    folded.iter().any(|name| parts(name, wanted).next().is_some())
}

/// Where in a name the wanted part stands. A part never cuts a number in two: `E5` is no part of `E55`.
fn parts<'n>(name: &'n str, wanted: &'n str) -> impl Iterator<Item = usize> + 'n {
    let cuts = |before: Option<char>, after: Option<char>| {
        before.is_some_and(|letter| letter.is_numeric()) && after.is_some_and(|letter| letter.is_numeric())
    };
    let is_whole = move |at: &usize| {
        let end = at + wanted.len();
        !cuts(name[..*at].chars().next_back(), wanted.chars().next())
            && !cuts(wanted.chars().next_back(), name[end..].chars().next())
    };
    name.match_indices(wanted).map(|(at, _)| at).filter(is_whole)
}

fn several<'a>(what: &str, typed: &str, shown: impl Iterator<Item = &'a str>) -> CommandError {
    let mut shown: Vec<&str> = shown.collect();
    shown.sort_unstable();
    shown.dedup();
    let more = shown.len().saturating_sub(MOST_LISTED);
    shown.truncate(MOST_LISTED);
    let mut list = shown.join("\n  ");
    if more > 0 {
        list.push_str(&format!("\n  ... and {more} more"));
    }
    CommandError::input(format!("{typed:?} could be more than one {what}:\n  {list}"))
        .hint("give its code, or more of its name")
}

fn none<T>(what: &str, typed: &str, wanted: &str, all: &[Named<T>]) -> CommandError {
    let error = CommandError::input(format!("there is no {what} {typed:?}"));
    // A word of a name may be what was meant, too.
    let likeness = |named: &Named<T>| {
        let words = named.folded.iter().flat_map(|name| name.split(' ').chain([name.as_str()]));
        words.map(|name| strsim::jaro_winkler(name, wanted)).fold(0.0, f64::max)
    };
    let mut alike: Vec<(f64, &str)> = all.iter().map(|named| (likeness(named), named.shown.as_str())).collect();
    let best = alike.iter().map(|(likeness, _)| *likeness).fold(ALIKE, f64::max);
    alike.retain(|(likeness, _)| *likeness >= ALIKE.max(best - NEAR_THE_BEST));
    alike.sort_by(|left, right| right.0.total_cmp(&left.0).then(left.1.cmp(right.1)));
    alike.dedup_by_key(|(_, shown)| *shown);
    let alike: Vec<&str> = alike.iter().take(3).map(|(_, shown)| *shown).collect();
    match (alike.as_slice(), where_to_look(what)) {
        ([], Some(place)) => error.hint(place),
        ([], None) => error,
        (alike, _) => error.hint(format!("did you mean {}?", alike.join(", or "))),
    }
}

/// The list that holds all of a kind.
fn where_to_look(what: &str) -> Option<&'static str> {
    const PLACES: [(&str, &str); 11] = [
        ("lot, supplier's lot number or batch", "`stillroom stock` lists lots, `stillroom batch list` batches"),
        ("material or premix", "`stillroom forecast` lists those that the plan needs"),
        ("lot", "`stillroom stock` lists what is there, `stillroom trace` finds what was"),
        (
            "material",
            "`stillroom stock` lists the materials that are there, `stillroom forecast` those that the plan needs",
        ),
        ("supplier", "`stillroom supplier list` lists them"),
        ("plan entry", "`stillroom plan list` shows what is planned, `stillroom batch list` what was made"),
        ("order", "`stillroom order list` shows what has not come yet"),
        ("batch", "`stillroom batch list` shows what was made"),
        ("product", "`stillroom plan list` shows what is planned; products come with `stillroom import`"),
        ("wish", "`stillroom wish list` shows what is kept"),
        ("snooze of", "`stillroom snooze` shows what is snoozed"),
    ];
    let is_of = |kind: &str| match what.strip_prefix(kind) {
        Some(rest) => rest.is_empty() || (rest.starts_with(' ') && !rest.starts_with(" or ")),
        None => false,
    };
    PLACES.iter().find(|(kind, _)| is_of(kind)).map(|(_, place)| *place)
}

#[cfg(test)]
mod tests {
    use super::*;

    const MATERIALS: [[&str; 2]; 7] = [
        ["shea-butter", "Shea butter, refined"],
        ["shea-olein", "Shea olein"],
        ["karite", "Beurre de karité brut"],
        ["almond", "Süßmandelöl"],
        ["E5", "five"],
        ["E55", "fifty-five"],
        ["rose", "Rose wax"],
    ];

    fn found(typed: &str) -> Result<&'static str, String> {
        let things = MATERIALS.iter().map(|names| (names, names[0]));
        find("material", typed, things).map_err(|error| error.to_string())
    }

    #[test]
    fn a_code_a_name_or_an_unmistakable_part_is_enough() {
        let check = |typed: &str, code: &str| assert_eq!(found(typed).as_deref(), Ok(code), "{typed:?}");
        check("shea-butter", "shea-butter");
        check(" SHEA BUTTER ", "shea-butter");
        check("shea butter refined", "shea-butter");
        check("butter", "shea-butter");
        check("olein", "shea-olein");
        check("Karite", "karite");
        check("BEURRE", "karite");
        check("sussmandelol", "almond");
        check("mandelöl", "almond");
        check("e5", "E5");
        check("fifty", "E55");
        check("rose", "rose");
    }

    #[test]
    fn several_are_listed_and_slips_are_guessed_but_not_taken() {
        let check = |typed: &str, message: &str| assert_eq!(found(typed), Err(message.to_owned()), "{typed:?}");
        check(
            "shea",
            "error: \"shea\" could be more than one material:\n  shea-butter (Shea butter, refined)\n  shea-olein (Shea olein)\n\
             next: give its code, or more of its name",
        );
        check(
            "sheabuter",
            "error: there is no material \"sheabuter\"\nnext: did you mean shea-butter (Shea butter, refined)?",
        );
        check(
            "zinc",
            "error: there is no material \"zinc\"\nnext: `stillroom stock` lists the materials that are there, \
             `stillroom forecast` those that the plan needs",
        );
        check("--", "error: \"--\" names no material");
    }

    #[test]
    fn a_part_never_cuts_a_number() {
        let things = || [["E55", ""], ["B-2027-0012", ""]].into_iter().map(|names| (names, names[0]));
        assert!(find("plan entry", "E5", things()).is_err());
        assert!(find("batch", "001", things()).is_err());
        assert_eq!(find("batch", "0012", things()).ok(), Some("B-2027-0012"));
        assert_eq!(find("batch", "2027", things()).ok(), Some("B-2027-0012"));
    }
}
