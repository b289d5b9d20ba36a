//! The weighing sheet: targets of the scale, lots that share a line, premixes before what they go into, cautions.

use super::support::day;
use super::support::workshop::Workshop;
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::model::{EntryId, Packaging, PlanAmount, PlanDay};
use stillroom::plan::outlook::look_ahead;
use stillroom::plan::quantity::Mass;
use stillroom::render::table::Screen;
use stillroom::render::text::terminal;
use stillroom::render::weigh as words;
use stillroom::view::weigh::{WeighLineView, WeighView, weigh};

fn sheet(shop: &Workshop, readability_mg: i64) -> WeighView {
    let outlook = look_ahead(&shop.snapshot, day(0), None, SearchLimit::default());
    weigh(&shop.snapshot, &outlook, EntryId(0), readability_mg)
}

fn targets(lines: &[WeighLineView]) -> Vec<(usize, &str, i64)> {
    lines.iter().map(|line| (line.step, line.material.as_str(), line.target)).collect()
}

/// A salve of which 2 x 128,450 mg are made: 60 % oil, 39.99 % wax, 0.01 % vitamin, in a tin each.
fn salve() -> Workshop {
    let mut shop = Workshop::new();
    let (oil, wax, vitamin, tin) =
        (shop.material("oil"), shop.material("wax"), shop.material("vitamin"), shop.packaging("tin"));
    shop.item(wax).caution = "hot wax burns the skin".to_owned();
    shop.item(vitamin).caution = "hot wax burns the skin; keep cool".to_owned();
    shop.item(oil).storage = "cool and dark".to_owned();
    let salve = shop.product("salve", &[(oil, "60"), (vitamin, "0.01"), (wax, "39.99")]);
    let formula = shop.facts(salve).formula.unwrap();
    for (line, phase) in [(0, "heated"), (1, "cool-down"), (2, "heated")] {
        shop.snapshot.formulas[formula.index()].lines[line].phase = phase.to_owned();
    }
    shop.facts(salve).net_mass = Some(Mass { mg: 128_450 });
    shop.facts(salve).packaging = vec![Packaging { item: tin, per_piece_millionths: 1_000_000, per_batch: 1 }];
    shop.lot(oil, 100_000).best_before = Some(day(20));
    shop.lot(oil, 200_000).place = "shelf B".to_owned();
    shop.lot(wax, 500_000);
    shop.lot(vitamin, 10);
    shop.lot(tin, 2);
    shop.plan(salve, PlanAmount::Pieces(2), PlanDay::MakeOn(day(3)));
    shop
}

#[test]
fn targets_are_rounded_to_the_scale_and_lots_add_up_to_them() {
    let shop = salve();
    let view = sheet(&shop, 100);
    // 256.9 g: 154.14 g oil, 25.69 mg vitamin, 102.734310 g wax; the largest remainders make 154,140 + 26 + 102,734.
    let phases: Vec<&str> = view.phases.iter().map(|phase| phase.phase.as_str()).collect();
    assert_eq!(phases, ["heated", "cool-down"]);
    assert_eq!(targets(&view.phases[0].lines), [(1, "oil", 154_100), (2, "wax", 102_700)]);
    assert_eq!(targets(&view.phases[1].lines), [(3, "vitamin", 0)]);
    assert_eq!(view.phases[0].lines[1].running_total, 256_800);
    let oil = &view.phases[0].lines[0];
    assert_eq!(oil.amount, 154_140);
    let taken: Vec<(&str, i64, i64)> =
        oil.take.iter().map(|take| (take.lot.as_str(), take.amount, take.target)).collect();
    assert_eq!(taken.iter().map(|take| take.2).sum::<i64>(), oil.target);
    // One lot is enough; the other ends sooner, but nothing expires within the plan.
    assert_eq!(taken, [("L0002", 154_140, 154_100)]);
    let vitamin = &view.phases[1].lines[0];
    assert!(vitamin.finer_scale && !oil.finer_scale);
    assert_eq!((vitamin.short, vitamin.take[0].amount), (16, 10));
    assert!(view.incomplete);
    assert_eq!(targets(&view.packaging), [(4, "tin", 3)]);
    assert_eq!(view.packaging[0].short, 1);
    let page = words::page(&view);
    assert_eq!(page.missing, ["vitamin: 16 mg is missing.", "tin: 1 pc is missing."]);
    assert_eq!(page.pots[0].phases[0].lines[0].target, "154.1 g");
    assert_eq!(page.pots[0].phases[1].lines[0].note, "needs a finer scale: 26 mg exactly");
    assert_eq!(page.cautions, ["vitamin and wax: hot wax burns the skin", "vitamin: keep cool"]);
}

#[test]
fn a_line_from_two_lots_adds_up_on_the_scale() {
    let mut shop = Workshop::new();
    let oil = shop.material("oil");
    let soap = shop.product("soap", &[(oil, "100")]);
    shop.lot(oil, 33_333).best_before = Some(day(9));
    shop.lot(oil, 33_333).best_before = Some(day(10));
    shop.lot(oil, 33_334).best_before = Some(day(11));
    shop.make(soap, 100_000, day(1));
    let view = sheet(&shop, 1_000);
    let take = &view.phases[0].lines[0].take;
    assert_eq!(take.iter().map(|take| take.target).collect::<Vec<_>>(), [33_000, 33_000, 34_000]);
    assert!(take.iter().all(|take| !take.on_order && take.opens));
    assert!(!view.incomplete);
}

/// A salve from a base from an infusion, both made ahead; the infusion also goes straight in.
#[test]
fn premixes_stand_before_what_they_go_into_with_their_own_lots() {
    let mut shop = Workshop::new();
    let (oil, petals, wax) = (shop.material("oil"), shop.material("petals"), shop.material("wax"));
    let infusion = shop.premix("infusion", &[(oil, "90"), (petals, "10")]);
    shop.making(infusion).make_ahead_days = 28;
    let base = shop.premix("base", &[(infusion, "75"), (wax, "25")]);
    shop.making(base).make_ahead_days = 1;
    let salve = shop.product("salve", &[(base, "80"), (infusion, "20")]);
    shop.lot(oil, 10_000_000);
    shop.lot(petals, 10_000_000);
    shop.lot(wax, 10_000_000);
    shop.lot(infusion, 100_000);
    shop.make(salve, 1_000_000, day(60));
    let view = sheet(&shop, 100);
    let made: Vec<(&str, i64, String, String)> = view
        .premixes
        .iter()
        .map(|premix| {
            (premix.premix.as_str(), premix.weighed_mass, premix.weigh_on.to_string(), premix.needed_on.to_string())
        })
        .collect();
    // 1 kg: 800 g base of 600 g infusion, and 200 g infusion; 100 g infusion is there and serves the base's day first.
    let (base_day, salve_day) = (day(59).to_string(), day(60).to_string());
    assert_eq!(
        made,
        [
            ("infusion", 500_000, day(31).to_string(), base_day.clone()),
            ("infusion", 200_000, day(32).to_string(), salve_day.clone()),
            ("base", 800_000, base_day, salve_day),
        ]
    );
    assert_eq!(targets(&view.premixes[0].phases[0].lines), [(1, "oil", 450_000), (2, "petals", 50_000)]);
    assert_eq!(targets(&view.premixes[1].phases[0].lines), [(3, "oil", 180_000), (4, "petals", 20_000)]);
    assert_eq!(targets(&view.premixes[2].phases[0].lines), [(5, "infusion", 600_000), (6, "wax", 200_000)]);
    assert_eq!(targets(&view.phases[0].lines), [(7, "base", 800_000), (8, "infusion", 200_000)]);
    let infused = &view.premixes[2].phases[0].lines[0];
    assert_eq!((infused.made, infused.short, infused.take[0].amount), (500_000, 0, 100_000));
    assert!(!view.incomplete);
    let text = terminal(&words::document(&view), Screen::default());
    assert!(text.contains("Premix base") && text.contains("the premix made first"), "{text}");
}

/// What every line takes is what the allocation draws for the entry, nothing left out and nothing twice.
#[test]
fn everything_that_is_allocated_is_on_the_sheet() {
    let snapshot = super::example::snapshot();
    let outlook = look_ahead(&snapshot, day(0), None, SearchLimit::default());
    let mut lines = 0;
    for entry in 0..snapshot.entries.len() {
        let view = weigh(&snapshot, &outlook, EntryId::new(entry), 100);
        let on_sheet = || {
            let premixes = view.premixes.iter().flat_map(|premix| &premix.phases);
            premixes.chain(&view.phases).flat_map(|phase| &phase.lines).chain(&view.packaging)
        };
        let mut taken: Vec<(String, i64)> =
            on_sheet().flat_map(|line| line.take.iter().map(|take| (take.lot.clone(), take.amount))).collect();
        let mut drawn = Vec::new();
        let mut short = 0;
        for part in &outlook.items {
            let Some(allocation) = &part.allocation else { continue };
            let of_entry = |need: usize| part.demands[need].entry == EntryId::new(entry);
            for draw in allocation.draws.iter().filter(|draw| of_entry(draw.need)) {
                let code = match part.sources[draw.supply] {
                    stillroom::plan::supply::Source::Lot(lot) => snapshot.lots[lot].code.clone(),
                    stillroom::plan::supply::Source::Order(order) => snapshot.orders[order].code.clone(),
                };
                drawn.push((code, draw.quantity.0));
            }
        }
        for shortage in outlook.shortages.iter().filter(|shortage| shortage.entry == EntryId::new(entry)) {
            short += shortage.quantity.0;
        }
        taken.sort();
        drawn.sort();
        assert_eq!(taken, drawn, "{}", view.entry);
        assert_eq!(on_sheet().map(|line| line.short).sum::<i64>(), short, "{}", view.entry);
        let steps: Vec<usize> = on_sheet().map(|line| line.step).collect();
        assert_eq!(steps, (1..=steps.len()).collect::<Vec<_>>(), "{}", view.entry);
        lines += steps.len();
    }
    assert!(lines > 400, "only {lines} lines");
}
