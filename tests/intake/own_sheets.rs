//! Spreadsheets as makers keep them, all invented: what is guessed of each, and what an import makes of it by the mapping.

use rust_xlsxwriter::{ExcelDateTime, Format, Workbook, Worksheet};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use stillroom::book::rows::Share;
use stillroom::book::{Book, Journal};
use stillroom::intake::map::file::meaning_text;
use stillroom::intake::map::{Mapping, Mappings, SheetGuess, guess, read_tables, write_text};
use stillroom::intake::{Checked, Fault, check, read_paths_with};
use stillroom::plan::calendar::Span;
use stillroom::plan::money::Currency;
use stillroom::plan::quantity::{Percent, Quantity, Unit};
use tempfile::TempDir;

/// Fills a sheet of a workbook.
type Fill<'a> = &'a dyn Fn(&mut Worksheet);

/// A folder with a maker's files and her mappings.
struct Desk {
    folder: TempDir,
}

impl Desk {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn csv(&self, name: &str, text: &str) -> PathBuf {
        std::fs::write(self.path(name), text).unwrap();
        self.path(name)
    }

    fn workbook(&self, name: &str, sheets: &[(&str, Fill<'_>)]) -> PathBuf {
        let mut book = Workbook::new();
        for (title, fill) in sheets {
            let sheet = book.add_worksheet();
            sheet.set_name(*title).unwrap();
            fill(sheet);
        }
        book.save(self.path(name)).unwrap();
        self.path(name)
    }

    /// Guesses the mapping of a file, decides what is open, and keeps it.
    fn map(&self, path: &Path, decide: &[(&str, &str)]) -> Vec<SheetGuess> {
        let tables = read_tables(path).unwrap();
        let guesses: Vec<SheetGuess> = tables.iter().map(|(_, table)| guess(table.as_ref().unwrap(), "EUR")).collect();
        let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
        let file = path.file_name().unwrap().to_str().unwrap().to_owned();
        let sheets = guesses.iter().map(|guess| guess.sheet.clone()).collect();
        let mut text = write_text(&Mapping { name: name.clone(), file, sheets }, &[BTreeMap::new()]);
        for (setting, value) in decide {
            let open = format!("\n{setting} = \"?\"");
            assert!(text.contains(&open), "{setting} is not open\n{text}");
            text = text.replace(&open, &format!("\n{setting} = \"{value}\""));
        }
        std::fs::create_dir_all(self.path("mappings")).unwrap();
        std::fs::write(self.path("mappings").join(format!("{name}.toml")), text).unwrap();
        guesses
    }

    fn import_over(&self, paths: &[PathBuf], book: &Book) -> Result<Checked, Vec<Fault>> {
        let mappings = Mappings::read_folder(&self.path("mappings")).unwrap();
        let mut sheets = read_paths_with(paths, &mappings);
        sheets.translate(book);
        check(&sheets, Currency::EUR, book, &[], &Journal::default())
    }

    fn import(&self, paths: &[PathBuf]) -> Checked {
        self.import_over(paths, &Book::default()).unwrap_or_else(|faults| panic!("{}", shown(&faults)))
    }

    fn faults(&self, paths: &[PathBuf]) -> String {
        shown(&self.import_over(paths, &Book::default()).expect_err("faults"))
    }
}

fn shown(faults: &[Fault]) -> String {
    faults.iter().map(|fault| format!("{fault}\n")).collect()
}

/// `title -> meaning (unit)` of each column.
fn meanings(guess: &SheetGuess) -> Vec<String> {
    let one = |(title, own): &(String, stillroom::intake::map::ColumnUse)| {
        let beside = own.unit.as_ref().or(own.currency.as_ref()).map_or(String::new(), |unit| format!(" ({unit})"));
        format!("{title} -> {}{beside}", meaning_text(&own.meaning))
    };
    guess.sheet.columns.iter().map(one).collect()
}

fn notes(checked: &Checked) -> String {
    checked.notes.join("\n")
}

/// The percent of a formula's lines.
fn recipe(book: &Book, formula: &str) -> Vec<(String, String)> {
    let lines = book.formula_lines.iter().filter(|line| line.formula == formula);
    let share = |share: Share| match share {
        Share::Balance => "balance".to_owned(),
        Share::Percent(percent) => stillroom::plan::decimal::shortest(percent.millionths, Percent::PLACES),
    };
    lines.map(|line| (line.ingredient.clone(), share(line.share))).collect()
}

fn pairs(list: &[(&str, &str)]) -> Vec<(String, String)> {
    list.iter().map(|(left, right)| ((*left).to_owned(), (*right).to_owned())).collect()
}

fn german(sheet: &mut Worksheet) {
    let day = Format::new().set_num_format("dd.mm.yyyy");
    sheet.write(0, 0, "Mein Lager").unwrap();
    for (place, title) in
        ["Rohstoff", "INCI", "Menge (kg)", "MHD", "Lieferant", "Preis", "Lagerort", "Notiz"].iter().enumerate()
    {
        sheet.write(2, u16::try_from(place).unwrap(), *title).unwrap();
    }
    let mut line = |row: u32, cells: [&str; 8]| {
        for (place, text) in cells.iter().enumerate().filter(|(_, text)| !text.is_empty()) {
            sheet.write(row, u16::try_from(place).unwrap(), *text).unwrap();
        }
    };
    line(
        3,
        ["Sheabutter (raffiniert)", "Butyrospermum Parkii Butter", "2,5", "", "Hügelöl", "€ 21,50", "Regal A", "neu"],
    );
    line(4, ["Öle", "", "", "", "", "", "", ""]);
    line(
        5,
        ["Mandelöl, süß", "Prunus Amygdalus Dulcis Oil", "1,250", "30.6.2028", "Hügelöl", "18,90 €", "Regal B", ""],
    );
    line(6, ["Bienenwachs", "Cera Alba", "", "", "Imkerei Tal", "12,00", "Regal A", ""]);
    line(7, ["Dosen 30 ml", "", "1.200 Stück", "", "Blechmann", "1.034,50", "Keller", ""]);
    line(9, ["Summe", "", "", "", "", "1.086,90", "", ""]);
    // As a spreadsheet keeps what is typed as a number or a date.
    sheet.write_number(6, 2, 0.75).unwrap();
    sheet.write_datetime_with_format(3, 3, ExcelDateTime::from_ymd(2027, 12, 31).unwrap(), &day).unwrap();
}

#[test]
fn a_german_list_with_decimal_commas_is_stock_and_materials() {
    let desk = Desk::new();
    let path = desk.workbook("vorrat.xlsx", &[("Lager", &german)]);
    let guesses = desk.map(&path, &[("lead_time_days", "5")]);
    assert_eq!(
        meanings(&guesses[0]),
        [
            "Rohstoff -> materials.name",
            "INCI -> materials.inci",
            "Menge (kg) -> lots.amount (kg)",
            "MHD -> lots.best_before",
            "Lieferant -> lots.supplier",
            "Preis -> lots.cost",
            "Lagerort -> lots.place",
            "Notiz -> left out",
        ]
    );
    assert_eq!(guesses[0].settled.why["decimal"], "decided by line 4, \"2,5\"");
    assert_eq!(guesses[0].settled.why["dates"], "decided by line 6, \"30.6.2028\"");
    assert_eq!(guesses[0].settled.why["currency"], "decided by line 4, \"€ 21,50\"");
    let checked = desk.import(std::slice::from_ref(&path));
    let book = &checked.merged;
    let lots: Vec<_> = book
        .lots
        .iter()
        .map(|lot| (lot.lot.as_str(), lot.amount.0, lot.cost.minor, lot.best_before.map(|day| day.to_string())))
        .collect();
    let day = |text: &str| Some(text.to_owned());
    assert_eq!(
        lots,
        [
            ("bienenwachs-1", 750_000, 1_200, None),
            ("dosen-30-ml-1", 1_200, 103_450, None),
            ("mandelol-suss-1", 1_250_000, 1_890, day("2028-06-30")),
            ("sheabutter-raffiniert-1", 2_500_000, 2_150, day("2027-12-31")),
        ]
    );
    let tins = book.materials.iter().find(|row| row.code == "dosen-30-ml").unwrap();
    assert_eq!((tins.unit, tins.name.as_str()), (Unit::Piece, "Dosen 30 ml"));
    assert_eq!(
        book.suppliers.iter().map(|row| row.name.as_str()).collect::<Vec<_>>(),
        ["Blechmann", "Hügelöl", "Imkerei Tal"]
    );
    let told = notes(&checked);
    for text in [
        "vorrat.xlsx, sheet Lager: read by the mapping vorrat.",
        "column \"Notiz\" left out.",
        "line 1 left out, above the header.",
        "line 5 left out, as the mapping says.",
        "line 9 left out, nothing stands there.",
        "line 10 left out, it looks like a total (Summe).",
        "added to suppliers, because nothing else knows them: Hügelöl, Imkerei Tal, Blechmann; their postage and minimum order count as none until a \
         list of suppliers says them.",
    ] {
        assert!(told.contains(text), "{text}\n{told}");
    }
    // The same file once more changes nothing: codes that were made from names stay.
    let again = desk.import_over(&[path], book).unwrap();
    assert_eq!(again.changes, []);
}

#[test]
fn an_american_stock_list_in_ounces_says_what_is_open() {
    let desk = Desk::new();
    let text = "Ingredient,Net wt / oz,Expires,Lot #,Paid,Shelf\n\
                Cocoa butter,16,03/31/2028,CB-1,$12.50,2\n\
                Jojoba oil,\"1,000.5\",12/05/27,J77,$61.00,2\n\
                Lye,2 lbs,,,,\n";
    let path = desk.csv("stock-us.csv", text);
    let guesses = desk.map(&path, &[]);
    assert_eq!(guesses[0].sheet.open(), ["currency"]);
    assert_eq!(guesses[0].settled.why["currency"], "line 2, \"$12.50\", may be USD, CAD, AUD, NZD");
    let said = desk.faults(std::slice::from_ref(&path));
    assert!(said.contains("currency is not decided in the mapping stock-us (mappings/stock-us.toml)"), "{said}");
    desk.map(&path, &[("currency", "USD")]);
    let checked = desk.import(&[path]);
    let lot = |code: &str| checked.merged.lots.iter().find(|lot| lot.lot == code).unwrap();
    // 16 oz are a pound, 453.59237 g; 1,000.5 oz are 28,363.697... g: 1000.5 x 28,349.523125 mg = 28,363,697.9 mg.
    assert_eq!(lot("cocoa-butter-cb-1").amount, Quantity(453_592));
    assert_eq!(lot("jojoba-oil-j77").amount, Quantity(28_363_698));
    assert_eq!(lot("jojoba-oil-j77").best_before.unwrap().to_string(), "2027-12-05");
    assert_eq!(lot("jojoba-oil-j77").currency.code(), "USD");
    assert_eq!(lot("lye-1").amount, Quantity(907_185));
}

#[test]
fn formulas_side_by_side_are_read_from_percent_cells() {
    let desk = Desk::new();
    let fill = |sheet: &mut Worksheet| {
        for (place, title) in ["Ingredient", "Lip balm", "Hand butter", "Bar", "Notes"].iter().enumerate() {
            sheet.write(0, u16::try_from(place).unwrap(), *title).unwrap();
        }
        let lines =
            [("Beeswax", [0.2, 0.05, 0.0]), ("Shea butter", [0.3, 0.55, 0.125]), ("Almond oil", [0.5, 0.4, 0.875])];
        for (row, (name, shares)) in (1..).zip(lines) {
            sheet.write(row, 0, name).unwrap();
            for (column, share) in (1..).zip(shares) {
                sheet.write_number(row, column, share).unwrap();
            }
        }
        sheet.write(4, 0, "Total").unwrap();
        sheet.write_number(4, 1, 1.0).unwrap();
        sheet.write(1, 4, "the yellow one").unwrap();
    };
    let path = desk.workbook("recipes.xlsx", &[("All", &fill)]);
    let guesses = desk.map(&path, &[]);
    assert_eq!(
        meanings(&guesses[0]),
        [
            "Ingredient -> formulas.ingredient",
            "Lip balm -> formula Lip balm",
            "Hand butter -> formula Hand butter",
            "Bar -> formula Bar",
            "Notes -> left out"
        ]
    );
    assert_eq!(guesses[0].settled.why["unit"], "every formula adds up to 1: fractions of 1");
    let checked = desk.import(&[path]);
    assert_eq!(
        recipe(&checked.merged, "lip-balm"),
        pairs(&[("beeswax", "20"), ("shea-butter", "30"), ("almond-oil", "50")])
    );
    assert_eq!(recipe(&checked.merged, "bar"), pairs(&[("shea-butter", "12.5"), ("almond-oil", "87.5")]));
    assert!(
        notes(&checked)
            .contains("added to materials, because nothing else knows them: Beeswax, Shea butter, Almond oil.")
    );
}

#[test]
fn a_price_list_of_one_supplier_asks_who_that_is() {
    let desk = Desk::new();
    let fill = |sheet: &mut Worksheet| {
        sheet.write(0, 0, "Bramblewick price list, spring").unwrap();
        for (place, title) in ["Item no", "Description", "Pack size", "Price (GBP)", "Price per kg"].iter().enumerate()
        {
            sheet.write(1, u16::try_from(place).unwrap(), *title).unwrap();
        }
        let lines = [
            ("BW-1", "Shea butter", "1 kg", 9.8, 9.8),
            ("BW-2", "Shea butter", "5 kg", 41.0, 8.2),
            ("BW-9", "Glass jar 60 ml", "24 pcs", 14.4, 0.0),
        ];
        for (row, (number, name, pack, price, per_kg)) in (2..).zip(lines) {
            sheet.write(row, 0, number).unwrap();
            sheet.write(row, 1, name).unwrap();
            sheet.write(row, 2, pack).unwrap();
            sheet.write_number(row, 3, price).unwrap();
            sheet.write_number(row, 4, per_kg).unwrap();
        }
    };
    let path = desk.workbook(
        "bramblewick.xlsx",
        &[
            ("Prices", &fill),
            ("Terms", &|sheet: &mut Worksheet| {
                sheet.write(0, 0, "Payment in 30 days").unwrap();
            }),
        ],
    );
    let guesses = desk.map(&path, &[("supplier", "Bramblewick"), ("lead_time_days", "9")]);
    assert_eq!(guesses[0].columns[4].why, "a price for each kg is not the price of a pack: not understood");
    assert!(guesses[1].sheet.holds.is_empty());
    let checked = desk.import(std::slice::from_ref(&path));
    let supplier = &checked.merged.suppliers[0];
    assert_eq!((supplier.code.as_str(), supplier.currency.code(), supplier.lead_time_days), ("bramblewick", "GBP", 9));
    let offers: Vec<_> =
        checked.merged.offers.iter().map(|row| (row.material.as_str(), row.pack.0, row.price.minor)).collect();
    assert_eq!(
        offers,
        [("glass-jar-60-ml", 24, 1_440), ("shea-butter", 1_000_000, 980), ("shea-butter", 5_000_000, 4_100)]
    );
    assert!(notes(&checked).contains("bramblewick.xlsx, sheet Terms: left out, as the mapping bramblewick says."));
    // A supplier who is paid in another currency cannot have these prices.
    let suppliers = desk.csv("suppliers.csv", "code,name,currency,lead_time_days\nbramblewick,Bramblewick,EUR,9\n");
    let said = desk.faults(&[suppliers, path]);
    assert!(said.contains("is in GBP, and the supplier bramblewick is paid in EUR"), "{said}");
}

#[test]
fn a_stock_count_with_a_column_of_units_finds_what_is_there_by_name() {
    let desk = Desk::new();
    let materials = desk.csv(
        "materials.csv",
        "code,name,kind,density\nM1,Beurre de karité,,\nM2,Huile d’olive,,0.915\nP1,Boîte 30 ml,packaging,\n",
    );
    let text = "Inventaire du 1er mars\n\n\
                Matière première;Quantité;Unité;Emplacement;À consommer avant\n\
                BEURRE DE KARITE;1 250,5;g;étagère 1;mars 2028\n\
                Huile d'olive;2,5;litres;étagère 2;31/12/27\n\
                boite 30 ml;48;unités;tiroir;\n\
                Cire d'abeille;0;g;;\n\
                Total général;;;;\n";
    let path = desk.csv("inventaire.csv", text);
    let guesses = desk.map(&path, &[]);
    assert_eq!(
        meanings(&guesses[0]),
        [
            "Matière première -> lots.material",
            "Quantité -> lots.amount",
            "Unité -> unit",
            "Emplacement -> lots.place",
            "À consommer avant -> lots.best_before"
        ]
    );
    let checked = desk.import(&[path, materials]);
    let lots: Vec<_> = checked
        .merged
        .lots
        .iter()
        .map(|lot| (lot.material.as_str(), lot.amount.0, lot.best_before.map_or(String::new(), |day| day.to_string())))
        .collect();
    // 2.5 l x 0.915 g/ml = 2,287.5 g.
    assert_eq!(
        lots,
        [
            ("M1", 1_250_500, "2028-03-31".to_owned()),
            ("M2", 2_287_500, "2027-12-31".to_owned()),
            ("P1", 48, String::new())
        ]
    );
    let told = notes(&checked);
    assert!(
        told.contains("\"À consommer avant\": mars 2028 is taken as the last day of the month, 2028-03-31."),
        "{told}"
    );
    assert!(told.contains("line 7 has no amount, so no lot."), "{told}");
    assert!(told.contains("line 8 left out, it looks like a total (Total général)."), "{told}");
}

#[test]
fn recipes_in_grams_whose_name_stands_once_become_percent() {
    let desk = Desk::new();
    let text = "Ricette di casa;;;\n;;;\nRicetta;Ingrediente;Peso (g);Fase\n\
                Balsamo d'inverno;Cera d'api;70;calda\n;Burro di karité;210;calda\n;Olio di mandorle;140;calda\n;Totale;420;\n\
                Olio corpo;Olio di mandorle;3,5;\n;Olio di jojoba;28,5;\n";
    let path = desk.csv("ricette.csv", text);
    let guesses = desk.map(&path, &[]);
    assert_eq!(
        meanings(&guesses[0]),
        [
            "Ricetta -> formulas.formula",
            "Ingrediente -> formulas.ingredient",
            "Peso (g) -> formulas.percent (g)",
            "Fase -> formulas.phase"
        ]
    );
    let checked = desk.import(&[path]);
    // 70, 210 and 140 of 420: 16.666..., 50 and 33.333... %: the thousandth that is left goes to the larger remainder.
    assert_eq!(
        recipe(&checked.merged, "balsamo-d-inverno"),
        pairs(&[("cera-d-api", "16.667"), ("burro-di-karite", "50"), ("olio-di-mandorle", "33.333")])
    );
    // 3.5 of 32 g are exactly 10.9375 %.
    assert_eq!(
        recipe(&checked.merged, "olio-corpo"),
        pairs(&[("olio-di-mandorle", "10.9375"), ("olio-di-jojoba", "89.0625")])
    );
    let told = notes(&checked);
    assert!(told.contains("Balsamo d'inverno: 420 g in all, turned into percent rounded to 0.001 %"), "{told}");
    assert!(told.contains("Olio corpo: 32 g in all, turned into percent exactly."), "{told}");
    assert!(told.contains("line 7 left out, it looks like a total (Totale)."), "{told}");
}

#[test]
fn a_list_of_products_names_their_packaging_and_a_title_the_unit_of_formulas() {
    let desk = Desk::new();
    let recipes = desk.csv("Rezepte.csv", "Zutat (g);Balsam;Salbe\nBienenwachs;40;30\nSheabutter;60;90\n");
    let guesses = desk.map(&recipes, &[]);
    assert_eq!(guesses[0].sheet.unit, stillroom::intake::map::Decision::Is("g".to_owned()));
    let text = "Produkt;Rezept;Füllmenge;Verpackung\nBalsam;Balsam;30 g;Dose\nSalbe;Salbe;50 g;\n";
    let products = desk.csv("Produkte.csv", text);
    let guesses = desk.map(&products, &[]);
    assert_eq!(meanings(&guesses[0])[3], "Verpackung -> packaging.material");
    let checked = desk.import(&[recipes, products]);
    let packed: Vec<_> =
        checked.merged.packaging.iter().map(|row| (row.product.as_str(), row.material.as_str())).collect();
    assert_eq!(packed, [("balsam", "dose")]);
    assert_eq!(checked.merged.products.len(), 2);
    let told = notes(&checked);
    assert!(told.contains("Produkte.csv: line 3 has no packaging."), "{told}");
    assert!(told.contains("Salbe: 120 g in all, turned into percent exactly"), "{told}");
}

#[test]
fn formulas_below_each_other_are_told_from_remarks() {
    let desk = Desk::new();
    let text = "Winter balm,,\nIngredient,grams,\nBeeswax,70,\nShea butter,30,\nTotal,100,\n,,\nMelt slowly.,,\n,,\n\
                Summer bar,,\nIngredient,%,\nBeeswax,40,\nCocoa butter,q.s.,\n";
    let path = desk.csv("my-recipes.csv", text);
    desk.map(&path, &[]);
    let checked = desk.import(&[path]);
    assert_eq!(recipe(&checked.merged, "winter-balm"), pairs(&[("beeswax", "70"), ("shea-butter", "30")]));
    assert_eq!(recipe(&checked.merged, "summer-bar"), pairs(&[("beeswax", "40"), ("cocoa-butter", "balance")]));
    assert!(notes(&checked).contains("line 7 left out, it is no ingredient and begins no formula (Melt slowly.)."));
}

#[test]
fn products_plan_and_suppliers_of_one_workbook_fit_together() {
    let desk = Desk::new();
    let table = |rows: &'static [&'static [&'static str]]| {
        move |sheet: &mut Worksheet| {
            for (row, cells) in (0..).zip(rows) {
                for (column, text) in (0..).zip(*cells) {
                    sheet.write(row, column, *text).unwrap();
                }
            }
        }
    };
    let recipes = table(&[
        &["Recipe", "Ingredient", "%"],
        &["Winter balm", "Beeswax", "20"],
        &["Winter balm", "Almond oil", "80"],
    ]);
    let products = table(&[
        &["Product", "Recipe", "Net weight (g)", "Shelf life (months)", "Cure weeks"],
        &["Winter balm tin", "winter balm", "30", "12", "0"],
    ]);
    let plan = table(&[
        &["Date", "Product", "Pieces"],
        &["9/3/2027", "Winter balm tin", "24"],
        &["23/3/2027", "Winter balm tin", "48"],
    ]);
    let suppliers = table(&[
        &["Supplier", "E-mail", "Delivery time", "Shipping", "Free shipping from"],
        &["Hilltop", "hello@hilltop.example", "5 days", "£6.90", "£80"],
    ]);
    let path = desk.workbook(
        "workshop-2027.xlsx",
        &[("Recipes", &recipes), ("Products", &products), ("Plan", &plan), ("Suppliers", &suppliers)],
    );
    let guesses = desk.map(&path, &[]);
    let held: Vec<_> = guesses.iter().map(|guess| guess.sheet.holds[0].stem()).collect();
    assert_eq!(held, ["formulas", "products", "plan", "suppliers"]);
    let checked = desk.import(std::slice::from_ref(&path));
    let product = &checked.merged.products[0];
    assert_eq!((product.code.as_str(), product.formula.as_str()), ("winter-balm-tin", "winter-balm"));
    assert_eq!((product.net_mass.unwrap().mg, product.shelf_life), (30_000, Some(Span { months: 12, days: 0 })));
    let entries: Vec<&str> = checked.merged.plan.iter().map(|row| row.entry.as_str()).collect();
    assert_eq!(entries, ["winter-balm-tin-2027-03-09", "winter-balm-tin-2027-03-23"]);
    let supplier = &checked.merged.suppliers[0];
    assert_eq!((supplier.currency.code(), supplier.lead_time_days), ("GBP", 5));
    assert_eq!(supplier.email, "hello@hilltop.example");
}

#[test]
fn what_is_not_understood_in_a_mapped_cell_stops_everything_and_is_named() {
    let desk = Desk::new();
    let path = desk.csv(
        "stock.csv",
        "Item,Amount (g),Best before\nShea butter,ca. 500,soon\nBeeswax,1.250,2027-12-01\nLye,2.5,\n",
    );
    desk.map(&path, &[]);
    let said = desk.faults(&[path]);
    assert!(
        said.contains("stock.csv, row 2, column amount (your \"Amount (g)\"): \"ca. 500\" is not an amount"),
        "{said}"
    );
    assert!(
        said.contains("stock.csv, row 2, column best_before (your \"Best before\"): \"soon\" is not a date"),
        "{said}"
    );
    assert_eq!(said.lines().count(), 2, "{said}");
}

#[test]
fn columns_that_changed_are_named_and_two_mappings_that_fit_are_not_guessed_between() {
    let desk = Desk::new();
    let path = desk.csv("stock.csv", "Item,Amount (g),Shelf\nShea butter,500,A\n");
    desk.map(&path, &[]);
    let other = desk.csv("stock.csv", "Item,Amount (g),Shelf,Colour\nShea butter,500,A,white\n");
    let said = desk.faults(&[other]);
    assert!(said.contains("has other columns than the mapping stock; new: \"Colour\""), "{said}");
    let second = desk.csv("second.csv", "Item,Amount (g),Shelf\nShea butter,500,A\n");
    desk.map(&second, &[]);
    // Each file goes with the mapping that was made with it; a third one could be either.
    desk.import(&[second]);
    let third = desk.csv("third.csv", "Shelf,Item,Amount (g)\nA,Shea butter,500\n");
    let said = desk.faults(&[third]);
    assert!(said.contains("fits several mappings: second, stock; say which one with --mapping NAME"), "{said}");
}

#[test]
fn a_name_that_is_two_things_is_not_guessed() {
    let desk = Desk::new();
    let materials = desk.csv("materials.csv", "code,name\nshea-1,Shea butter\nshea-2,shea BUTTER\n");
    let path = desk.csv("stock.csv", "Item,Amount (g),Shelf\nShea butter,500,A\nshea-2,250,B\n");
    desk.map(&path, &[]);
    let said = desk.faults(&[materials, path]);
    assert!(
        said.contains(
            "\"Shea butter\" is the name of several: shea-1, shea-2; write the code of the one that is meant"
        ),
        "{said}"
    );
}
