//! The counting sheet: every lot once, by place, with or without amounts, and as rows to fill in.

use super::support::day;
use super::support::workshop::Workshop;
use stillroom::plan::model::LotState;
use stillroom::render::counting as words;
use stillroom::render::table::Screen;
use stillroom::view::counting::counting;

fn shop() -> Workshop {
    let mut shop = Workshop::new();
    let (oil, tin) = (shop.material("oil"), shop.packaging("tin"));
    shop.lot(oil, 1_234_567).place = "shelf B".to_owned();
    shop.lot(tin, 40);
    let lot = shop.lot(oil, 500);
    (lot.place, lot.state) = ("=shelf A".to_owned(), LotState::Quarantine);
    shop
}

#[test]
fn lots_stand_by_place_and_the_sheet_keeps_amounts_to_itself() {
    let shop = shop();
    let view = counting(&shop.snapshot, day(0), None, false);
    let places: Vec<&str> = view.places.iter().map(|place| place.place.as_str()).collect();
    assert_eq!(places, ["=shelf A", "shelf B", ""]);
    assert!(view.places.iter().flat_map(|place| &place.lots).all(|lot| lot.on_hand.is_none()));
    let text = words::terminal(&view, Screen::default());
    assert!(!text.contains("1.235") && text.contains("3 lots in 3 places") && text.contains("quarantine"), "{text}");
    let shown = counting(&shop.snapshot, day(0), Some("shelf B"), true);
    assert_eq!(shown.places.len(), 1);
    assert!(words::terminal(&shown, Screen::default()).contains("1.235 kg"));
}

#[test]
fn rows_can_be_filled_in() {
    let shop = shop();
    let csv = String::from_utf8(words::rows(&counting(&shop.snapshot, day(0), None, false))).unwrap();
    assert_eq!(
        csv,
        "lot,material,place,unit,counted\r\nL0003,oil,'=shelf A,g,\r\nL0001,oil,shelf B,g,\r\nL0002,tin,,pcs,\r\n"
    );
}
