//! The needs, lots and answers of a workshop as CSV files, for the same work done elsewhere (benches/compare/).

use super::Scene;
use super::maker::today;
use std::fmt::Write as _;
use std::path::Path;
use stillroom::plan::project::project;

/// Writes `supplies.csv`, `needs.csv` (with what each need lacks), `days.csv` (the balance of each day) and `horizon.txt`.
///
/// Days are numbers from today on; a last day that never comes is left empty. Rows of `needs` are in order of rank.
pub fn export(scene: &Scene, folder: &Path) {
    let number = |day: chrono::NaiveDate| (day - today()).num_days();
    let mut supplies = String::from("item,supply,from,through,quantity,value,opened_life,left\n");
    let mut needs = String::from("item,need,day,through,quantity,short\n");
    let mut days = String::from("item,day,balance\n");
    for (item, allocation) in scene.allocations.iter().enumerate() {
        for (place, supply) in scene.supplies[item].iter().enumerate() {
            let through = if supply.through == chrono::NaiveDate::MAX {
                String::new()
            } else {
                number(supply.through).to_string()
            };
            let life = supply.life_once_opened.map_or(String::new(), |life| life.days.to_string());
            let (from, quantity, value) = (number(supply.from), supply.quantity.0, supply.value.minor);
            let left = allocation.left[place].0;
            writeln!(supplies, "{item},{place},{from},{through},{quantity},{value},{life},{left}").unwrap();
        }
        for (place, (need, short)) in scene.needs[item].iter().zip(&allocation.short).enumerate() {
            let (day, through) = (number(need.day), number(need.through));
            writeln!(needs, "{item},{place},{day},{through},{},{}", need.quantity.0, short.0).unwrap();
        }
        for day in project(&scene.supplies[item], &scene.needs[item], allocation, today(), scene.horizon) {
            writeln!(days, "{item},{},{}", number(day.date), day.balance.0).unwrap();
        }
    }
    std::fs::create_dir_all(folder).unwrap();
    for (name, text) in [("supplies.csv", supplies), ("needs.csv", needs), ("days.csv", days)] {
        std::fs::write(folder.join(name), text).unwrap();
    }
    std::fs::write(folder.join("horizon.txt"), number(scene.horizon).to_string()).unwrap();
}
