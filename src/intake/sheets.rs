//! The empty sheets to fill in: a CSV file for each of the maker's files, and all of them as one XLSX workbook. Below the
//! header stand a line that explains each column and a line with an example; both begin with `# `, which an import does
//! not read, so that a sheet can be filled in below them and imported as it is.

use super::columns::SheetKind;
use super::describe::{Described, Shape, described, purpose};
use super::sheet::NOT_READ;
use csv::{Terminator, WriterBuilder};
use rust_xlsxwriter::{Color, Format, FormatAlign, Note, Workbook, XlsxError};

/// The files that a maker fills in.
pub const MAKERS: [SheetKind; 12] = [
    SheetKind::Materials,
    SheetKind::Suppliers,
    SheetKind::Postage,
    SheetKind::Offers,
    SheetKind::Rates,
    SheetKind::Lots,
    SheetKind::Orders,
    SheetKind::Formulas,
    SheetKind::Premixes,
    SheetKind::Products,
    SheetKind::Packaging,
    SheetKind::Plan,
];

/// Columns that the program keeps itself.
const KEPT_BY_ITSELF: [&str; 5] = ["order", "packs_received", "cancelled", "withdrawn", "dropped"];

/// The columns of a sheet to fill in.
fn columns(kind: SheetKind) -> Vec<&'static Described> {
    let is_kept =
        |own: &&Described| kind == SheetKind::Orders && own.column == "order" || !KEPT_BY_ITSELF.contains(&own.column);
    described(kind).iter().filter(is_kept).collect()
}

/// Header, explanation and example of a sheet.
#[must_use]
pub fn rows(kind: SheetKind) -> [Vec<String>; 3] {
    let own = columns(kind);
    let is_required = |name: &str| kind.columns().iter().any(|column| column.name == name && column.required);
    let says = |own: &Described| format!("{}{}", own.says, if is_required(own.column) { " (needed)" } else { "" });
    let mut header: Vec<String> = Vec::new();
    let mut explanation: Vec<String> = Vec::new();
    let mut example: Vec<String> = Vec::new();
    for column in own {
        header.push(column.column.to_owned());
        explanation.push(says(column));
        example.push(column.example.to_owned());
    }
    if let (Some(first), Some(shown)) = (explanation.first_mut(), example.first_mut()) {
        *first = format!("{NOT_READ}{first}");
        *shown = format!("{NOT_READ}{shown}");
    }
    [header, explanation, example]
}

/// The bytes of a sheet as CSV: UTF-8 with a byte-order mark, so that spreadsheets take its letters for what they are.
///
/// # Errors
/// Never for these rows; what the library says.
pub fn csv_bytes(kind: SheetKind) -> Result<Vec<u8>, csv::Error> {
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer("\u{feff}".as_bytes().to_vec());
    for row in rows(kind) {
        writer.write_record(&row)?;
    }
    writer.into_inner().map_err(|error| csv::Error::from(error.into_error()))
}

/// The bytes of a workbook with all sheets.
///
/// # Errors
/// Never for these rows; what the library says.
pub fn workbook_bytes() -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let needed = Format::new().set_bold().set_background_color(Color::RGB(0x00E6_E0D4));
    let other = Format::new().set_bold().set_background_color(Color::RGB(0x00F3_F1EC));
    let small = Format::new()
        .set_italic()
        .set_font_color(Color::RGB(0x0059_5959))
        .set_text_wrap()
        .set_align(FormatAlign::Top)
        .set_num_format("@");
    let text = Format::new().set_num_format("@");
    for kind in MAKERS {
        let sheet = book.add_worksheet().set_name(kind.stem())?;
        let required = |name: &str| kind.columns().iter().any(|column| column.name == name && column.required);
        let [header, explanation, example] = rows(kind);
        for (place, (column, own)) in header.iter().zip(columns(kind)).enumerate() {
            let place = u16::try_from(place).unwrap_or(u16::MAX);
            let format = if required(column) { &needed } else { &other };
            sheet.write_string_with_format(0, place, column, format)?;
            sheet.write_string_with_format(1, place, &explanation[usize::from(place)], &small)?;
            sheet.write_string_with_format(2, place, &example[usize::from(place)], &small)?;
            sheet.set_column_width(place, 18)?;
            // A spreadsheet would make a date of the code 1-2, and a number of the lot number 007.
            if matches!(
                own.shape,
                Shape::Code
                    | Shape::Text
                    | Shape::Material
                    | Shape::Item
                    | Shape::Supplier
                    | Shape::Formula
                    | Shape::Product
            ) {
                sheet.set_column_format(place, &text)?;
            }
        }
        sheet.insert_note(0, 0, &Note::new(purpose(kind)).set_author("Stillroom"))?;
        sheet.set_row_height(1, 62)?;
        sheet.set_freeze_panes(1, 1)?;
    }
    book.save_to_buffer()
}
