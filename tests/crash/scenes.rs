//! The commands that are killed: acts, imports, copies, migrations, letters.

use super::scene::{Scene, done, store};
use std::fs;
use std::path::Path;

fn files() -> String {
    format!("{}/examples/workshop", env!("CARGO_MANIFEST_DIR"))
}

fn example(folder: &Path) {
    done(folder, &format!("import {}", files()));
}

/// The example workshop with an order placed and a batch made.
fn worked(folder: &Path) {
    example(folder);
    done(folder, "order place dunmarch");
    done(folder, "make E01");
}

fn fixture(folder: &Path, version: u8) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/store/fixtures/v{version}.sqlite"));
    fs::copy(path, store(folder)).unwrap();
}

/// Without a schedule: letters have more than one step, `tests/post/` kills those.
fn daily_copy(folder: &Path) {
    worked(folder);
    fs::write(folder.join("config.toml"), "time_zone = 'UTC'\n[backup]\ndaily = true\nkeep = 2\n").unwrap();
}

/// One of each kind: for the short form.
pub fn few() -> Vec<Scene> {
    vec![
        Scene::new("make", "make E01", example),
        Scene::new("import", &format!("import {}", files()), |_| {}),
        Scene::new("backup", "backup", worked),
        restore(),
        Scene::new("migration from version 2", "stock", |folder| fixture(folder, 2)),
    ]
}

fn restore() -> Scene {
    Scene::new("restore", "restore good.sqlite", |folder| {
        worked(folder);
        done(folder, "backup good.sqlite");
        done(folder, "act undo");
        done(folder, "plan drop E55");
    })
}

/// All of them; of those, the ones whose names hold one of the words in `SCENES`, where that is set.
pub fn all() -> Vec<Scene> {
    let wanted = std::env::var("SCENES").unwrap_or_default();
    let words: Vec<&str> = wanted.split(',').collect();
    every_one().into_iter().filter(|scene| words.iter().any(|word| scene.name.contains(word))).collect()
}

fn every_one() -> Vec<Scene> {
    let mut scenes = few();
    scenes.extend([
        Scene::new("receive", "receive B2027-07", worked),
        Scene::new("count", "count L2606-1 1.4kg --reason spilled", worked),
        Scene::new("act undo", "act undo", worked),
        Scene::new("plan repeat", "plan repeat E55 --every week --times 4", worked),
        Scene::new("order place", "order place dunmarch", example),
        Scene::new("reorder, which keeps its list", "reorder", example),
        Scene::new("lot write-off", "lot write-off L2606-1 --reason rancid", worked),
        Scene::new("pieces", "pieces leave B-2027-0001 3 --as gift --reason neighbours", worked),
        Scene::new("import over", "import more", |folder| {
            worked(folder);
            fs::create_dir(folder.join("more")).unwrap();
            let lots = fs::read_to_string(format!("{}/lots.csv", files())).unwrap();
            let mut lines = lots.lines();
            let (titles, first) = (lines.next().unwrap(), lines.next().unwrap());
            let code = first.split(',').next().unwrap();
            let more: String = (1..=60).map(|number| first.replacen(code, &format!("N-{number}"), 1) + "\n").collect();
            fs::write(folder.join("more/lots.csv"), format!("{titles}\n{more}")).unwrap();
        }),
        Scene::new("migration from version 1", "stock", |folder| fixture(folder, 1)),
        Scene::new("restore where nothing is", "restore good.sqlite", |folder| {
            worked(folder);
            done(folder, "backup good.sqlite");
            fs::remove_file(store(folder)).unwrap();
        }),
        Scene::new("post with the copy of the day", "post", daily_copy),
    ]);
    scenes
}
