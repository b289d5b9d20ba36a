//! How fast the core looks ahead in memory: explosion, allocation, projection. Run by hand, never in CI:
//! `cargo bench --bench core` (each step by itself), `cargo bench --bench core -- --help` (bars, growth, export).

#![allow(missing_docs, reason = "a program for developers")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "it may fail loudly")]
#![allow(clippy::disallowed_methods, reason = "it measures time")]

/// As in the program.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

#[path = "core/export.rs"]
mod export;
#[path = "core/maker.rs"]
mod maker;
#[path = "../tests/support/mod.rs"]
mod support;

use chrono::NaiveDate;
use divan::{Bencher, black_box};
use maker::{Size, today, workshop};
use std::path::Path;
use std::time::{Duration, Instant};
use stillroom::plan::allocate::{Allocation, Need, SearchLimit, Supply, allocate};
use stillroom::plan::explode::{Explosion, explode};
use stillroom::plan::model::Snapshot;
use stillroom::plan::outlook::{look_ahead, natural_horizon};
use stillroom::plan::project::{ProjectedDay, project};
use stillroom::plan::supply::supplies;

const HELP: &str = "\
cargo bench --bench core                    each step on the large workshop, measured by divan
cargo bench --bench core -- --bars [SEEDS]  the bars of the large workshop, the least of 100 runs each
cargo bench --bench core -- --growth        sizes doubled four times, with ratios
cargo bench --bench core -- --export FOLDER the large workshop as files for benches/compare/pandas_allocate.py
cargo bench --bench core -- --once PART     one run of explode, allocate or project, to count its instructions";

/// A workshop with all that the steps take from each other.
pub struct Scene {
    pub snapshot: Snapshot,
    pub horizon: NaiveDate,
    pub supplies: Vec<Vec<Supply>>,
    pub needs: Vec<Vec<Need>>,
    pub allocations: Vec<Allocation>,
}

impl Scene {
    pub fn new(seed: u64, size: Size) -> Self {
        let snapshot = workshop(seed, size);
        let horizon = natural_horizon(&snapshot, today());
        let supplies = supplies(&snapshot, today()).supplies;
        let mut scene = Self { snapshot, horizon, supplies, needs: Vec::new(), allocations: Vec::new() };
        scene.needs = scene.explode().demands.iter().map(|list| list.iter().map(Need::from).collect()).collect();
        scene.allocations = scene.allocate();
        scene
    }

    pub fn explode(&self) -> Explosion {
        explode(&self.snapshot, today(), self.horizon, &self.supplies, SearchLimit::default())
    }

    pub fn allocate(&self) -> Vec<Allocation> {
        let items = self.supplies.iter().zip(&self.needs);
        items.map(|(supplies, needs)| allocate(supplies, needs, self.horizon, SearchLimit::default())).collect()
    }

    /// The balances of one item after the other; each is dropped, as a report does that has written it.
    pub fn project(&self) -> i64 {
        let items = self.supplies.iter().zip(&self.needs).zip(&self.allocations);
        let last = |((supplies, needs), allocation): ((&Vec<Supply>, &Vec<Need>), &Allocation)| {
            let days = black_box(project(supplies, needs, allocation, today(), self.horizon));
            days.last().map_or(0, |day: &ProjectedDay| day.balance.0)
        };
        items.map(last).sum()
    }

    /// How many supplies and needs there are.
    pub fn counts(&self) -> (usize, usize) {
        (self.supplies.iter().map(Vec::len).sum(), self.needs.iter().map(Vec::len).sum())
    }
}

/// The least time of so many runs, in milliseconds.
fn least<T>(runs: usize, mut run: impl FnMut() -> T) -> f64 {
    let time = |_| {
        let start = Instant::now();
        black_box(run());
        start.elapsed()
    };
    (0..runs).map(time).min().unwrap_or(Duration::ZERO).as_secs_f64() * 1e3
}

/// The least times of a scene: explosion, allocation, projection.
fn times(scene: &Scene, runs: usize) -> [f64; 3] {
    [least(runs, || scene.explode()), least(runs, || scene.allocate()), least(runs, || scene.project())]
}

fn bars(seeds: u64) {
    println!("seed  supplies  needs  explode  allocate  project  all three  the last two  (milliseconds)");
    for seed in 1..=seeds {
        let scene = Scene::new(seed, Size::LARGE);
        let (supplies, needs) = scene.counts();
        let [explode, allocate, project] = times(&scene, 100);
        let (two, three) = (allocate + project, explode + allocate + project);
        println!(
            "{seed:4}  {supplies:8}  {needs:5}  {explode:7.2}  {allocate:8.2}  {project:7.2}  {three:9.2}  {two:12.2}"
        );
    }
}

/// What grows, and the size after so many doublings.
type Growth = (&'static str, fn(usize) -> Size);

const GROWTHS: &[Growth] = &[
    ("materials, lots and entries", |factor| Size {
        materials: 100 * factor,
        products: 15 * factor,
        entries: 300 * factor,
        lots: 750 * factor,
        ..Size::LARGE
    }),
    ("entries and lots of 400 materials", |factor| Size { entries: 300 * factor, lots: 1_200 * factor, ..Size::LARGE }),
    ("days", |factor| Size { days: 91 * factor as u64, ..Size::LARGE }),
    ("entries and lots of one material", |factor| Size::one_material(250 * factor, 60 * factor, 364)),
];

fn growth() {
    for (what, size) in GROWTHS {
        println!(
            "\n{what}\nsupplies  needs   explode  allocate  project  (milliseconds; in brackets, times the line before)"
        );
        let mut before: Option<[f64; 3]> = None;
        for doublings in 0..5 {
            let scene = Scene::new(2, size(1 << doublings));
            let (supplies, needs) = scene.counts();
            let now = times(&scene, 20);
            print!("{supplies:8}  {needs:5}");
            for (place, milliseconds) in now.iter().enumerate() {
                let ratio = before.map_or(String::new(), |before| format!("({:.1})", milliseconds / before[place]));
                print!("  {milliseconds:7.3} {ratio:6}");
            }
            println!();
            before = Some(now);
        }
    }
}

fn once(part: &str) {
    let scene = Scene::new(1, Size::LARGE);
    match part {
        "explode" => drop(black_box(scene.explode())),
        "allocate" => drop(black_box(scene.allocate())),
        "project" => drop(black_box(scene.project())),
        _ => println!("{HELP}"),
    }
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
    let value = arguments.get(1).map(String::as_str);
    match arguments.first().map(String::as_str) {
        Some("--bars") => bars(value.map_or(5, |seeds| seeds.parse().expect(HELP))),
        Some("--growth") => growth(),
        Some("--export") => export::export(&Scene::new(1, Size::LARGE), Path::new(value.expect(HELP))),
        Some("--once") => once(value.expect(HELP)),
        Some("--help") => println!("{HELP}"),
        _ => divan::main(),
    }
}

#[divan::bench]
fn explosion(bencher: Bencher) {
    let scene = Scene::new(1, Size::LARGE);
    bencher.bench_local(|| scene.explode());
}

#[divan::bench]
fn allocation(bencher: Bencher) {
    let scene = Scene::new(1, Size::LARGE);
    bencher.bench_local(|| scene.allocate());
}

#[divan::bench]
fn projection(bencher: Bencher) {
    let scene = Scene::new(1, Size::LARGE);
    bencher.bench_local(|| scene.project());
}

#[divan::bench]
fn whole_look_ahead(bencher: Bencher) {
    let scene = Scene::new(1, Size::LARGE);
    bencher.bench_local(|| look_ahead(&scene.snapshot, today(), None, SearchLimit::default()));
}
