//! Wishes about the reorder list.

use super::names::Space;
use super::{Context, keyed, merge};
use crate::book::rows::{WishKind, WishRow};
use crate::intake::cell;
use crate::intake::columns::SheetKind;
use crate::intake::row_reader::RowReader;

const KINDS: [(&str, WishKind); 4] = [
    ("exclude", WishKind::Exclude),
    ("pin", WishKind::Pin),
    ("prefer", WishKind::Prefer),
    ("budget", WishKind::Budget),
];

/// Reads `wishes`.
pub(super) fn wishes(context: &mut Context<'_>) {
    let existing = keyed(&context.existing.wishes, |row| row.wish.clone());
    let key_of = |_: &Context<'_>, reader: &mut RowReader<'_>| reader.required_text("wish");
    let merged = merge(context, SheetKind::Wishes, existing, key_of, |context, reader, code, _| {
        let wish = wish(context, reader, code)?;
        fault_of_kind(reader, &wish);
        Some(wish)
    });
    context.merged.wishes = merged.by_key();
}

fn wish(context: &Context<'_>, reader: &mut RowReader<'_>, code: &str) -> Option<WishRow> {
    let kind = reader.required("kind", |cell, _| cell::word(cell, &KINDS));
    let supplier = context.refer_or_empty(reader, "supplier", "", Space::Supplier);
    let material = context.refer_or_empty(reader, "material", "", Space::Material);
    let item = context.unit_of(&material);
    let home = Some(context.home);
    Some(WishRow {
        wish: code.to_owned(),
        pack: reader.optional("pack", None, |cell, mark| cell::pack(cell, mark, item)).filter(|_| item.is_some()),
        from: reader.optional("from", None, |cell, _| cell::date(cell)),
        to: reader.optional("to", None, |cell, _| cell::date(cell)),
        percent: reader.optional("percent", None, |cell, mark| cell::percent(cell, mark, 1_000)),
        amount: reader.optional("amount", None, |cell, mark| cell::price(cell, mark, home)),
        reason: reader.text("reason", ""),
        lifted: reader.or_empty("lifted", false, false, |cell, _| cell::yes_or_no(cell)),
        supplier,
        material,
        kind: kind?,
    })
}

/// What a wish of its kind lacks, or holds besides.
fn fault_of_kind(reader: &mut RowReader<'_>, wish: &WishRow) {
    let has = [
        ("supplier", !wish.supplier.is_empty()),
        ("material", !wish.material.is_empty()),
        ("pack", wish.pack.is_some()),
        ("from", wish.from.is_some()),
        ("to", wish.to.is_some()),
        ("percent", wish.percent.is_some()),
        ("amount", wish.amount.is_some()),
    ];
    let filled: Vec<&str> = has.into_iter().filter(|(_, filled)| *filled).map(|(column, _)| column).collect();
    let fits: &[&[&str]] = match wish.kind {
        WishKind::Exclude | WishKind::Pin => &[
            &["supplier"],
            &["material"],
            &["supplier", "material"],
            &["supplier", "material", "pack"],
            &["from", "to"],
        ],
        WishKind::Prefer => &[&["supplier", "percent"]],
        WishKind::Budget => &[&["amount"], &["to", "amount"]],
    };
    if !fits.contains(&filled.as_slice()) {
        let ways: Vec<String> = fits.iter().map(|columns| columns.join(", ")).collect();
        let problem =
            format!("has {} filled in", if filled.is_empty() { "nothing".to_owned() } else { filled.join(", ") });
        reader.row_fault(problem, format!("to {}, fill in just {}", wish.kind.word(), ways.join(" or ")));
    } else if let (Some(from), Some(to)) = (wish.from, wish.to)
        && to < from
    {
        reader.fault("to", "lies before from", "write the first day under from, the last under to");
    }
}
