//! Pictures: words inside the frame that do not run into each other, measured by the library that draws them; a text that
//! says the same; and a drawing for whatever a workshop holds.

use super::support::workshop::Workshop;
use super::support::{Random, day};
use resvg::tiny_skia::Rect;
use resvg::usvg::{Group, Node, Options, Tree, fontdb::Database};
use std::sync::{Arc, LazyLock};
use stillroom::plan::allocate::SearchLimit;
use stillroom::plan::outlook::look_ahead;
use stillroom::render::picture::png::Painter;
use stillroom::render::picture::{Picture, balance, dates, month as calendar};
use stillroom::view::expiring::expiring;
use stillroom::view::forecast::forecast;
use stillroom::view::month::month;

static FONTS: LazyLock<Arc<Database>> = LazyLock::new(|| {
    let mut fonts = Database::new();
    fonts.load_font_data(include_bytes!("../../fonts/NotoSans-subset.ttf").to_vec());
    Arc::new(fonts)
});

/// The words of a picture with their boxes, as drawn.
fn words(picture: &Picture) -> Vec<(String, Rect)> {
    let options = Options { fontdb: Arc::clone(&FONTS), font_family: "Noto Sans".to_owned(), ..Options::default() };
    let file = picture.svg.replacen("<svg ", "<svg xmlns=\"http://www.w3.org/2000/svg\" ", 1);
    let tree = Tree::from_str(&file, &options).unwrap();
    let mut found = Vec::new();
    collect(tree.root(), &mut found);
    found
}

fn collect(group: &Group, found: &mut Vec<(String, Rect)>) {
    for node in group.children() {
        match node {
            Node::Group(group) => collect(group, found),
            Node::Text(text) => {
                let letters: String = text.chunks().iter().map(|chunk| chunk.text().to_owned()).collect();
                // What is inked, not the lines that the letters stand in.
                found.push((letters, text.flattened().abs_bounding_box()));
            }
            _ => {}
        }
    }
}

fn assert_legible(picture: &Picture, drawn: bool) {
    let words = words(picture);
    let (width, height) = (picture.width as f32, picture.height as f32);
    for (place, (letters, area)) in words.iter().enumerate() {
        let inside = area.left() >= 0.0 && area.top() >= 0.0 && area.right() <= width && area.bottom() <= height;
        assert!(inside, "{}: {letters:?} stands outside: {area:?}", picture.id);
        for (other_letters, other) in &words[place + 1..] {
            // Half a unit is given: letters have round edges.
            let apart = area.right() <= other.left() + 0.5
                || other.right() <= area.left() + 0.5
                || area.bottom() <= other.top() + 0.5
                || other.bottom() <= area.top() + 0.5;
            assert!(apart, "{}: {letters:?} runs into {other_letters:?}", picture.id);
        }
    }
    assert!(!picture.text.is_empty() && picture.svg.contains("<title") && picture.svg.contains("<desc"));
    if !drawn {
        return;
    }
    let png = Painter::default().png(picture).unwrap();
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    let size = |at: usize| u32::from_be_bytes(png[at..at + 4].try_into().unwrap());
    assert_eq!((size(16), size(20)), (2 * picture.width, 2 * picture.height));
}

/// All pictures of a workshop.
fn pictures(shop: &Workshop) -> Vec<Picture> {
    let outlook = look_ahead(&shop.snapshot, day(0), None, SearchLimit::default());
    let materials = forecast(&shop.snapshot, &outlook).materials;
    let mut pictures: Vec<Picture> = materials.iter().map(|material| balance::picture(material, day(0))).collect();
    pictures.push(dates::picture(&expiring(&shop.snapshot, &outlook)));
    for through in [0, 6, 30, 61] {
        pictures.push(calendar::picture(&month(&shop.snapshot, &outlook, day(through))));
    }
    pictures
}

/// A workshop of random days, amounts and names, some far too long, some in scripts that the font does not have.
fn random_shop(seed: u64) -> Workshop {
    let mut random = Random::new(seed);
    let mut shop = Workshop::new();
    let names = [
        "Oil",
        "Shea butter, unrefined, of the second pressing, from the cooperative",
        "Wwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwww",
        "乳木果油",
        "масло ши нерафинированное, из первого отжима",
        "<b>&\"'",
    ];
    let supplier = shop.supplier(Default::default());
    for (place, name) in names.iter().enumerate() {
        let code = format!("material-{place}");
        let item = shop.material(&code);
        let largest = 10_i64.pow(u32::try_from(random.between(1, 11)).unwrap());
        shop.item(item).name = (*name).to_owned();
        if random.percent(50) {
            shop.item(item).safety_stock = stillroom::plan::quantity::Quantity(random.amount(1, largest));
        }
        for _ in 0..random.between(0, 6) {
            let amount = random.amount(1, largest);
            let last = day(random.between(0, 90));
            shop.lot(item, amount).best_before = Some(last);
        }
        if random.percent(50) {
            shop.order(supplier, item, random.amount(1, largest), day(random.between(0, 90)));
        }
        let product = shop.product(&format!("product-{place}"), &[(item, "100")]);
        for _ in 0..random.between(0, 12) {
            shop.make(product, random.amount(1, largest), day(random.between(0, 90)));
        }
    }
    shop
}

#[test]
fn words_of_pictures_do_not_collide() {
    let mut drawn = 0;
    for seed in 0..24 {
        for picture in pictures(&random_shop(seed)) {
            // A sample is drawn, which takes most of the time.
            assert_legible(&picture, seed % 10 == 0);
            drawn += 1;
        }
    }
    assert!(drawn > 200, "only {drawn} pictures were drawn");
}

#[test]
fn an_empty_workshop_has_pictures_too() {
    for picture in pictures(&Workshop::new()) {
        assert_legible(&picture, true);
    }
}

#[test]
fn two_codes_never_share_an_id() {
    let mut shop = Workshop::new();
    for code in ["a b", "a_b", "a-b", "ä", "A B"] {
        let item = shop.material(code);
        shop.lot(item, 5);
    }
    let mut ids: Vec<String> = pictures(&shop).into_iter().map(|picture| picture.id).collect();
    ids.retain(|id| id.starts_with("balance-"));
    assert_eq!(ids.len(), 5);
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), 5, "{ids:?}");
    assert!(ids.iter().all(|id| id.chars().all(|letter| letter.is_ascii_alphanumeric() || "-_".contains(letter))));
}

#[test]
fn same_workshop_same_picture() {
    let (first, second) = (pictures(&random_shop(7)), pictures(&random_shop(7)));
    let bytes = |pictures: &[Picture]| -> Vec<Vec<u8>> {
        pictures.iter().map(|picture| Painter::default().png(picture).unwrap()).collect()
    };
    assert!(bytes(&first) == bytes(&second));
}
