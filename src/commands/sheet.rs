//! `stocktake sheet`: the counting sheet, to print or to fill in.

use super::names::find;
use super::page::{write_new, write_page};
use super::session::Session;
use crate::error::CommandError;
use crate::render::counting as render;
use crate::view::counting::counting;
use std::collections::BTreeSet;
use std::path::Path;

/// The counting sheet of all lots with something in them, or of those in one place. `amounts`: say what should be there.
///
/// # Errors
/// Where no lot stands in the place, or a file cannot be written; a CSV file that is there already is left alone.
pub fn counting_sheet(
    session: &Session,
    place: Option<&str>,
    amounts: bool,
    html: Option<&Path>,
    csv: Option<&Path>,
) -> Result<String, CommandError> {
    let snapshot = session.snapshot()?;
    let places: BTreeSet<&str> =
        snapshot.lots.iter().map(|lot| lot.place.as_str()).filter(|name| !name.is_empty()).collect();
    let place = match place {
        Some(place) => Some(find("lot in the place", place, places.iter().map(|name| ([*name], *name)))?),
        None => None,
    };
    let view = counting(&snapshot, session.clock.today(), place, amounts);
    if let Some(path) = csv {
        write_new(path, &render::rows(&view))?;
    }
    if let Some(path) = html {
        write_page(session, render::COUNTING, &render::page(&view), path)?;
    }
    session.answer(&view, |screen| {
        let mut text = render::terminal(&view, screen);
        if let Some(path) = html {
            text.push_str(&format!("\nThe counting sheet to print is {}.\n", path.display()));
        }
        if let Some(path) = csv {
            let path = path.display();
            text.push_str(&format!(
                "\nThe file to fill in is {path}: write into its column `counted`, then `stillroom stocktake enter {path}`.\n"
            ));
        }
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::{Common, Import};
    use crate::render::table::Screen;

    /// The example workshop on its first day.
    fn example(folder: &Path, json: bool) -> Session {
        let config = folder.join("config.toml");
        std::fs::write(&config, "").unwrap();
        let common = Common {
            store: Some(folder.join("workshop.sqlite")),
            config: Some(config),
            as_of: "2027-03-01".parse().ok(),
            json,
            verbose: 0,
        };
        let session = Session::begin(common, Screen::default(), false).unwrap();
        let files = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/workshop");
        let import = Import { paths: vec![files], ..Import::default() };
        crate::commands::import::run(&session, &import).unwrap();
        session
    }

    #[test]
    fn page_and_table_hold_every_lot_once() {
        let folder = tempfile::tempdir().unwrap();
        let session = example(folder.path(), false);
        let (page, table) = (folder.path().join("count.html"), folder.path().join("count.csv"));
        let said = counting_sheet(&session, None, false, Some(&page), Some(&table)).unwrap();
        assert!(said.starts_with("Counting sheet of Mon 1 March\n") && said.contains("count.csv"), "{said}");
        let (page, rows) = (std::fs::read_to_string(page).unwrap(), std::fs::read_to_string(&table).unwrap());
        let lots: Vec<String> = session.snapshot().unwrap().lots.into_iter().map(|lot| lot.code).collect();
        assert!(lots.len() > 60);
        assert_eq!(rows.lines().count(), lots.len() + 1);
        for lot in lots {
            assert_eq!(rows.lines().filter(|row| row.starts_with(&format!("{lot},"))).count(), 1, "{lot}");
            assert!(page.contains(&lot), "{lot}");
        }
        // What somebody may have filled in is left alone.
        let again = counting_sheet(&session, None, false, None, Some(&table)).unwrap_err();
        assert_eq!((again.exit_status(), again.message.contains("is there already")), (2, true), "{again}");
        assert_eq!(std::fs::read_to_string(&table).unwrap(), rows);
    }

    #[test]
    fn one_place_alone_and_what_should_be_there() {
        let folder = tempfile::tempdir().unwrap();
        let session = example(folder.path(), true);
        let view = |amounts: bool| -> serde_json::Value {
            serde_json::from_str(&counting_sheet(&session, Some("Fridge"), amounts, None, None).unwrap()).unwrap()
        };
        let (blind, told) = (view(false), view(true));
        assert_eq!((blind["places"].as_array().unwrap().len(), &blind["places"][0]["place"]), (1, &"fridge".into()));
        assert!(blind["places"][0]["lots"].as_array().unwrap().iter().all(|lot| lot["on_hand"].is_null()));
        assert!(told["places"][0]["lots"].as_array().unwrap().iter().all(|lot| lot["on_hand"].as_i64() > Some(0)));
        let error = counting_sheet(&session, Some("frigde"), false, None, None).unwrap_err();
        assert_eq!(error.to_string(), "error: there is no lot in the place \"frigde\"\nnext: did you mean fridge?");
    }
}
