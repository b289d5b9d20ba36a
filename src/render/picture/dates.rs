//! The run of best-before dates ahead: each lot that ends within the plan as a bar up to its last day, dark for what the plan
//! still uses, open for what is at risk.

use super::scale::DayScale;
use super::svg::{ALARM, Anchor, GUIDE, INK, QUIET, Svg};
use super::{Picture, WIDTH, letters};
use crate::render::amounts::{amount, day, listed};
use crate::render::one_line;
use crate::view::expiring::{ExpiringLotView, ExpiringView};

const LEFT: f64 = 8.0;
const RIGHT: f64 = 348.0;
const TOP: f64 = 30.0;
/// Height of a lot's row: its words, then its bar.
const ROW: f64 = 34.0;
/// So many lots are drawn; the table has all of them.
const MOST: usize = 14;
const SIZE: f64 = 12.0;

/// The picture.
#[must_use]
pub fn picture(view: &ExpiringView) -> Picture {
    // What is at risk comes first where not all can be drawn; all stand in the order of their days.
    let mut drawn: Vec<&ExpiringLotView> = view.lots.iter().collect();
    drawn.sort_by_key(|lot| lot.at_risk == 0);
    drawn.truncate(MOST);
    drawn.sort_by_key(|lot| lot.usable_through);
    let left_out = view.lots.len() - drawn.len();
    let bottom = TOP + ROW * drawn.len() as f64;
    let mut svg = Svg::new(bottom + if left_out > 0 { 42.0 } else { 24.0 });
    legend(&mut svg);
    let days = DayScale::new(view.as_of, view.through, LEFT, RIGHT);
    days.draw(&mut svg, TOP - 4.0, bottom);
    for (place, lot) in drawn.iter().enumerate() {
        row(&mut svg, lot, TOP + ROW * place as f64, &days);
    }
    if left_out > 0 {
        let words = format!("and {left_out} more that the plan uses up");
        svg.words((f64::from(WIDTH) / 2.0, bottom + 35.0), &words, SIZE, QUIET, Anchor::Middle);
    }
    svg.finish("dates", "Last days of lots", &words(view))
}

fn legend(svg: &mut Svg) {
    svg.rect((LEFT, 6.0), (16.0, 9.0), INK, INK);
    svg.words((LEFT + 22.0, 15.0), "the plan uses it", SIZE, QUIET, Anchor::Start);
    svg.rect((LEFT + 130.0, 6.0), (16.0, 9.0), "#ffffff", ALARM);
    svg.words((LEFT + 152.0, 15.0), "at risk", SIZE, QUIET, Anchor::Start);
}

fn row(svg: &mut Svg, lot: &ExpiringLotView, top: f64, days: &DayScale) {
    let end = days.at(lot.usable_through);
    let last = lot.usable_through.format("%-d %b").to_string();
    let risk = if lot.at_risk > 0 { format!("{}, {last}", amount(lot.at_risk, &lot.unit)) } else { last };
    let right = letters::width(&risk, SIZE);
    let name = one_line(letters::drawable(&lot.name, &lot.material));
    let name = letters::fitted(&format!("{name}, {}", lot.lot), SIZE, RIGHT - LEFT - right - 12.0);
    // The words stand on white, so that the lines of the days do not run through them.
    svg.rect((LEFT - 2.0, top), (RIGHT - LEFT + 4.0, 16.0), "#ffffff", "none");
    svg.words((LEFT, top + 12.0), &name, SIZE, INK, Anchor::Start);
    svg.words((RIGHT, top + 12.0), &risk, SIZE, if lot.at_risk > 0 { ALARM } else { QUIET }, Anchor::End);
    let (y, height) = (top + 18.0, 9.0);
    svg.line((LEFT, y + height / 2.0), (RIGHT, y + height / 2.0), GUIDE, 1.0, "");
    // A picture: a share of the bar, not an amount.
    let share = if lot.on_hand > 0 { lot.planned_use as f64 / lot.on_hand as f64 } else { 1.0 };
    let width = (end - LEFT).max(3.0);
    svg.rect((LEFT, y), (width, height), "#ffffff", if lot.at_risk > 0 { ALARM } else { INK });
    svg.rect((LEFT, y), (width * share.clamp(0.0, 1.0), height), INK, INK);
}

/// What the picture shows, in words.
fn words(view: &ExpiringView) -> String {
    let at_risk: Vec<String> = view
        .lots
        .iter()
        .filter(|lot| lot.at_risk > 0)
        .map(|lot| {
            format!(
                "{} of {} ({}) on {}",
                amount(lot.at_risk, &lot.unit),
                one_line(&lot.name),
                one_line(&lot.lot),
                day(lot.usable_through, view.as_of)
            )
        })
        .collect();
    let used_up = view.lots.len() - at_risk.len();
    let used = match used_up {
        0 => String::new(),
        1 => " 1 lot that ends by then is used up by the plan.".to_owned(),
        many => format!(" {many} lots that end by then are used up by the plan."),
    };
    if at_risk.is_empty() {
        return format!("Nothing ends with something left.{used}");
    }
    format!("At risk: {}.{used}", listed(&at_risk))
}
