//! Files of every form, and files that are broken in every way.

use crate::workshop::{check_new, messages, sheets, with};
use proptest::prelude::*;
use rust_xlsxwriter::{ExcelDateTime, Format, Formula, Workbook};
use std::path::PathBuf;
use stillroom::intake::{SheetKind, Sheets, read_paths};
use stillroom::plan::quantity::Quantity;

#[test]
fn semicolons_allow_a_decimal_comma() {
    let offers = "supplier;material;pack;price;from_packs\nnorth;wax;1,5 kg;14,50;\nnorth;wax;1.5 kg;13.90;5\n";
    let book = check_new(&with(&[("offers", offers)])).unwrap().merged;
    let read: Vec<_> =
        book.offers.iter().map(|row| (row.pack.0, row.pack_text.as_str(), row.price.minor, row.from_packs)).collect();
    assert_eq!(read, [(1_500_000, "1.5 kg", 1_450, 1), (1_500_000, "1.5 kg", 1_390, 5)]);
}

#[test]
fn with_commas_only_the_point_is_a_decimal_mark() {
    let offers = "supplier,material,pack,price\nnorth,wax,1 kg,\"14,50\"\n";
    assert_eq!(
        messages(check_new(&with(&[("offers", offers)]))),
        "offers.csv, row 2, column price: \"14,50\" is not a number; write a number with a decimal point (12.50): here the comma separates columns"
    );
}

#[test]
fn tabs_marks_and_headers_in_any_order_are_understood() {
    let text = "\u{feff} NAME \tKind\t Code\tshade\r\nBeeswax\t\twax\tyellow\r\n\t\t\t\r\nTin\tPackaging\ttin\t\r\n";
    let read = sheets(&[("materials", text)]);
    assert_eq!(read.notes(), ["materials.csv: column \"shade\" left out, it is none of this file's columns."]);
    let book = check_new(&read).unwrap().merged;
    let names: Vec<_> = book.materials.iter().map(|row| (row.code.as_str(), row.name.as_str())).collect();
    assert_eq!(names, [("tin", "Tin"), ("wax", "Beeswax")]);
}

#[test]
fn rows_are_named_as_a_spreadsheet_shows_them() {
    let text = "code,name,inci,density\r\n\r\nwax,Beeswax,\"Cera\r\nAlba\",\r\noil,Oil,,thick\r\n";
    assert_eq!(
        messages(check_new(&sheets(&[("materials", text)]))),
        "materials.csv, row 3, column inci: \"Cera\u{fffd}\u{fffd}Alba\" holds a line break or another control character; write it in one line\n\
         materials.csv, row 4, column density: \"thick\" is not a number; write a number (0.92)"
    );
}

fn materials_faults(bytes: &[u8]) -> String {
    let mut sheets = Sheets::default();
    sheets.add_csv(SheetKind::Materials, "materials.csv", bytes);
    messages(check_new(&sheets))
}

#[test]
fn broken_text_files_say_where_and_what() {
    let check = |bytes: &[u8], expected: &str| assert_eq!(materials_faults(bytes), expected);
    let header = "code,name,inci,kind,density,piece_mass,unopened_life,opened_life,safety_stock,max_leave_on,max_rinse_off,storage,caution,always_at_hand,shelf_space";
    check(b"", &format!("materials.csv: is empty; start it with a header row ({header})"));
    check(b"\xef\xbb\xbf\r\n \r\n", &format!("materials.csv: is empty; start it with a header row ({header})"));
    check(b",,\n,,\n", "materials.csv: is empty; start it with a header row");
    check(b"code,name\n", "");
    check(
        b"code,name\nwax,Cire d'abeille\noil,Huile v\xe9g\xe9tale\n",
        "materials.csv: has letters that are not in UTF-8 (the first in line 3); in your spreadsheet program save it as `CSV UTF-8`, or as a workbook (.xlsx)",
    );
    check(
        b"\xff\xfec\0o\0d\0e\0",
        "materials.csv: is in UTF-16; in your spreadsheet program save it as `CSV UTF-8`, or as a workbook (.xlsx)",
    );
    check(
        b"code,name\nwax,Bee\0swax\n",
        "materials.csv: holds a NUL at byte 18: it is not a text file; in your spreadsheet program save it as `CSV UTF-8`, or as a workbook (.xlsx)",
    );
    check(
        b"\x7fELF\x02\x01\x01\x80\x81\xff",
        "materials.csv: has letters that are not in UTF-8 (the first in line 1); in your spreadsheet program save it as `CSV UTF-8`, or as a workbook (.xlsx)",
    );
    check(
        b"code,name,Code\nwax,Beeswax,w\n",
        "materials.csv, row 1: \"code\" stands twice in the header; keep one of the two columns",
    );
    check(
        b"code,title\nwax,Beeswax\n",
        "materials.csv, row 1, column name: is missing; add it to the header, which has \"code, title\"",
    );
    check(
        b"code,name\nwax\noil,Oil,extra\n",
        "materials.csv, row 2: has 1 cell where the header has 2; look for a delimiter too many or too few, or a quote that is not closed\n\
         materials.csv, row 3: has 3 cells where the header has 2; look for a delimiter too many or too few, or a quote that is not closed",
    );
    check(
        b"code,name,inci\nwax,\"Beeswax,x\noil,Oil,x\n",
        "materials.csv, row 2: has 2 cells where the header has 3; look for a delimiter too many or too few, or a quote that is not closed",
    );
}

#[test]
fn a_megabyte_in_a_line_is_refused_with_the_row() {
    let long = format!("code,name\nwax,{}\n", "x".repeat(1 << 20));
    assert_eq!(
        materials_faults(long.as_bytes()),
        format!(
            "materials.csv, row 2: \"{}…\" is longer than 32767 characters; look for a quote that is not closed",
            "x".repeat(60)
        )
    );
    let wide = "a,".repeat(1 << 19);
    assert_eq!(materials_faults(wide.as_bytes()), "materials.csv, row 1: has 524289 columns; keep to 200 at the most");
}

#[test]
fn references_into_a_file_that_cannot_be_read_are_not_called_unknown() {
    let mut sheets = with(&[("materials", "")]);
    sheets.add_csv(SheetKind::Settings, "settings.csv", b"setting,value\nhome_currency,EUR\n");
    assert!(messages(check_new(&sheets)).starts_with("materials.csv: is empty"));
    assert_eq!(messages(check_new(&sheets)).lines().count(), 1);
    assert_eq!(sheets.home_currency().map(|currency| currency.to_string()).as_deref(), Some("EUR"));
}

#[test]
fn a_folder_gives_what_is_of_a_workshop() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    write("Materials.CSV", "code,name\nwax,Beeswax\n");
    for name in ["README.txt", "notes.md", ".hidden.csv", "readme"] {
        write(name, "words");
    }
    write("recipes.csv", "a,b\n");
    write("picture.png", "x");
    write("all.xlsx", "x");
    let read = read_paths(&[folder.path().to_owned()]);
    assert_eq!(
        read.notes(),
        [
            "picture.png: left out, it is none of the files of a workshop.",
            "recipes.csv: left out, it is none of the files of a workshop.",
            "all.xlsx: left out, name a workbook itself to read it.",
        ]
    );
    assert_eq!(check_new(&read).unwrap().merged.materials.len(), 1);
    let twice = read_paths(&[folder.path().join("Materials.CSV"), folder.path().to_owned()]);
    assert_eq!(
        messages(check_new(&twice)),
        "Materials.CSV, row 2: \"wax\" is in row 2 already; keep one of the two rows"
    );
}

#[test]
fn a_named_file_has_to_be_of_a_workshop() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| -> PathBuf { folder.path().join(name) };
    std::fs::write(path("recipes.csv"), "a,b\n").unwrap();
    std::fs::write(path("old.ods"), "x").unwrap();
    let names = "materials, suppliers, postage, offers, rates, formulas, premixes, products, packaging, orders, lots, plan, wishes, settings, acts, batches, weighings, ledger, pieces, changes";
    let read = read_paths(&[path("recipes.csv"), path("old.ods"), path("lots.csv"), path("nowhere")]);
    assert_eq!(
        messages(check_new(&read)),
        format!(
            "recipes.csv: is none of the files of a workshop; name it after what it holds ({names})\n\
             old.ods: is neither CSV nor XLSX; give CSV files, a folder of them or an XLSX workbook\n\
             lots.csv: is not there; look at the path\n\
             nowhere: is not there; look at the path"
        )
    );
    let empty = tempfile::tempdir().unwrap();
    let faults = messages(check_new(&read_paths(&[empty.path().to_owned()])));
    assert!(faults.ends_with(&format!("has no file of a workshop; name them {names} (.csv)")), "{faults}");
}

fn workbook_bytes(fill: impl FnOnce(&mut Workbook)) -> Vec<u8> {
    let mut workbook = Workbook::new();
    fill(&mut workbook);
    workbook.save_to_buffer().unwrap()
}

fn read_workbook(bytes: Vec<u8>) -> Sheets {
    let mut sheets = Sheets::default();
    sheets.add_workbook("shop.xlsx", bytes);
    sheets
}

fn sound_workbook() -> Vec<u8> {
    workbook_bytes(|workbook| {
        let sheet = workbook.add_worksheet().set_name("Materials").unwrap();
        for (column, name) in ["code", "name", "density", "max_leave_on", "always_at_hand"].into_iter().enumerate() {
            sheet.write(0, column as u16, name).unwrap();
        }
        sheet.write(2, 0, 101).unwrap();
        sheet.write(2, 1, "Oil").unwrap();
        sheet.write(2, 2, 0.1 + 0.2 + 0.615).unwrap();
        sheet.write(2, 3, 100.0 - 95.7).unwrap();
        sheet.write(2, 4, true).unwrap();
        let lots = workbook.add_worksheet().set_name("LOTS").unwrap();
        for (column, name) in ["lot", "material", "amount", "cost", "best_before", "received"].into_iter().enumerate() {
            lots.write(0, column as u16, name).unwrap();
        }
        let date = Format::new().set_num_format("dd/mm/yyyy");
        lots.write(1, 0, "L1").unwrap();
        lots.write(1, 1, 101).unwrap();
        lots.write(1, 2, "1,5 l").unwrap();
        lots.write(1, 3, 12.5).unwrap();
        lots.write_with_format(1, 4, ExcelDateTime::from_ymd(2028, 2, 29).unwrap(), &date).unwrap();
        lots.write(1, 5, "2027-03-09").unwrap();
        workbook.add_worksheet().set_name("Sums").unwrap().write(0, 0, "x").unwrap();
    })
}

#[test]
fn a_workbook_is_read_by_its_sheets() {
    let read = read_workbook(sound_workbook());
    assert_eq!(read.notes(), ["shop.xlsx, sheet Sums: left out, it is none of the files of a workshop."]);
    let book = check_new(&read).unwrap().merged;
    let material = &book.materials[0];
    assert_eq!((material.code.as_str(), material.always_at_hand), ("101", true));
    assert_eq!(material.density.map(|density| density.micrograms_per_ml), Some(915_000));
    assert_eq!(material.max_leave_on.map(|percent| percent.millionths), Some(4_300_000));
    let lot = &book.lots[0];
    assert_eq!((lot.amount, lot.cost.minor), (Quantity(1_372_500), 1_250));
    assert_eq!(lot.best_before.map(|day| day.to_string()).as_deref(), Some("2028-02-29"));
    assert_eq!(lot.received.map(|day| day.to_string()).as_deref(), Some("2027-03-09"));
}

#[test]
fn faults_of_a_workbook_name_sheet_and_row() {
    let bytes = workbook_bytes(|workbook| {
        let sheet = workbook.add_worksheet().set_name("materials").unwrap();
        for (column, name) in ["code", "name", "density", "safety_stock", "shade"].into_iter().enumerate() {
            sheet.write(0, column as u16, name).unwrap();
        }
        sheet.write(4, 0, "oil").unwrap();
        sheet.write(4, 1, "Oil").unwrap();
        sheet.write_formula(4, 2, Formula::new("=1/0").set_result("#DIV/0!")).unwrap();
        sheet.write(4, 3, "1,500 g").unwrap();
        sheet.write(5, 0, "wax").unwrap();
        sheet.write(5, 1, "Wax").unwrap();
        sheet.write(5, 2, 1e308).unwrap();
        sheet.write(5, 3, 500).unwrap();
        sheet.write(5, 7, "stray").unwrap();
    });
    assert_eq!(
        messages(check_new(&read_workbook(bytes))),
        "shop.xlsx, sheet materials, row 5, column density: \"#DIV/0!\" is an error of the spreadsheet; mend the formula, or write the value\n\
         shop.xlsx, sheet materials, row 6: has a value in a column without a name; name the column in the header, or empty the cell\n\
         shop.xlsx, sheet materials, row 5, column safety_stock: \"1,500 g\" is not an amount; write a number and a unit (mg, g, kg, oz, lb, ml, l, fl oz, tsp, tbsp, pcs)"
    );
}

#[test]
fn broken_workbooks_get_a_message() {
    let good = sound_workbook();
    let check = |bytes: Vec<u8>, start: &str| {
        let faults = messages(check_new(&read_workbook(bytes)));
        assert!(faults.starts_with(start), "{faults}");
        assert_eq!(faults.lines().count(), 1, "{faults}");
    };
    check(Vec::new(), "shop.xlsx: cannot be read as XLSX (");
    check(b"code,name\nwax,Beeswax\n".to_vec(), "shop.xlsx: cannot be read as XLSX (");
    for length in [10, good.len() / 3, good.len() / 2, good.len() - 10] {
        check(good[..length].to_vec(), "shop.xlsx: cannot be read as XLSX (");
    }
    let other = workbook_bytes(|workbook| drop(workbook.add_worksheet().write(0, 0, "x").unwrap().write(0, 1, 2)));
    check(other, "shop.xlsx: has no sheet of a workshop; name them materials, ");
    let corner = workbook_bytes(|workbook| {
        let sheet = workbook.add_worksheet().set_name("materials").unwrap();
        sheet.write(0, 0, "code").unwrap();
        sheet.write(1_048_575, 16_383, "far").unwrap();
    });
    check(corner, "shop.xlsx, sheet materials: has more than 200 columns, 1000000 rows or 5000000 cells; ");
}

#[test]
fn a_workbook_that_would_unpack_to_too_much_is_not_unpacked() {
    let mut bytes = sound_workbook();
    let entry = bytes.windows(4).position(|window| window == b"PK\x01\x02").unwrap();
    bytes[entry + 24..entry + 28].copy_from_slice(&u32::MAX.to_le_bytes());
    assert_eq!(
        messages(check_new(&read_workbook(bytes))),
        "shop.xlsx: unpacks to more than 64 MB; save its sheets as CSV files"
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn random_bytes_never_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let mut sheets = Sheets::default();
        for kind in SheetKind::ALL {
            sheets.add_csv(kind, kind.stem(), &bytes);
        }
        sheets.add_workbook("x.xlsx", bytes);
        prop_assert!(check_new(&sheets).is_err());
    }

    #[test]
    fn random_cells_never_make_it_panic(cells in prop::collection::vec("[0-9a-z,.;'=/ P-]{0,12}|\\PC{0,8}|1 kg|2027-03-09|EUR|balance", 32)) {
        let mut sheets = Sheets::default();
        for kind in SheetKind::ALL {
            let columns = kind.columns();
            let mut writer = csv::Writer::from_writer(Vec::new());
            writer.write_record(columns.iter().map(|column| column.name)).unwrap();
            for row in 0..2 {
                writer.write_record(cells.iter().cycle().skip(row * 7).take(columns.len())).unwrap();
            }
            sheets.add_csv(kind, kind.stem(), &writer.into_inner().unwrap());
        }
        if let Err(faults) = check_new(&sheets) {
            prop_assert!(faults.iter().all(|fault| !fault.to_string().contains('\n')));
        }
    }

    #[test]
    fn damaged_workbooks_never_make_it_panic(places in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..20)) {
        let mut bytes = sound_workbook();
        for (place, byte) in places {
            let place = place.index(bytes.len());
            bytes[place] = byte;
        }
        let _ = check_new(&read_workbook(bytes));
    }
}
