//! The files of the contract: their names, their columns, and which of these are required.

/// One of the files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum SheetKind {
    /// Raw materials and packaging.
    Materials,
    /// Who sells.
    Suppliers,
    /// Bands of postage.
    Postage,
    /// Packs and prices.
    Offers,
    /// Exchange rates.
    Rates,
    /// Formula lines.
    Formulas,
    /// Formulas whose product is an ingredient.
    Premixes,
    /// What is made.
    Products,
    /// What products are packed in.
    Packaging,
    /// Order lines.
    Orders,
    /// Deliveries.
    Lots,
    /// Plan entries.
    Plan,
    /// What the maker wants of every reorder list.
    Wishes,
    /// Facts about the workshop (export and its way back).
    Settings,
    /// What was done (export and its way back).
    Acts,
    /// What was made (export and its way back).
    Batches,
    /// Weighing sheets that were filled in (export and its way back).
    Weighings,
    /// Movements (export and its way back).
    Ledger,
    /// Finished pieces that came and went (export and its way back).
    Pieces,
    /// What acts changed besides (export and its way back).
    Changes,
    /// A counting sheet that was filled in: no file of the workshop, and not read by an import.
    Counts,
}

use SheetKind::{
    Acts, Batches, Changes, Counts, Formulas, Ledger, Lots, Materials, Offers, Orders, Packaging, Pieces, Plan,
    Postage, Premixes, Products, Rates, Settings, Suppliers, Weighings, Wishes,
};

/// A file's columns in the order in which they are written. A `*` marks a required one, a `!` one that is required
/// and part of the row's key, a `?` one that is part of the key and may be left out.
fn layout(kind: SheetKind) -> &'static str {
    match kind {
        Materials => {
            "!code *name inci kind density piece_mass unopened_life opened_life safety_stock max_leave_on max_rinse_off \
             storage caution always_at_hand shelf_space"
        }
        Suppliers => {
            "!code *name email *currency *lead_time_days order_weekdays closed minimum_order postage \
             free_postage_from duty"
        }
        Postage => "!supplier ?by !from *fee",
        Offers => "!supplier !material !pack *price ?from_packs life_on_arrival item_no",
        Rates => "!date !currency *rate",
        Lots => {
            "!lot *material *amount supplier supplier_lot received cost currency best_before opened state place order"
        }
        Orders => "!order *supplier !material !pack *packs placed *expected price packs_received cancelled",
        Formulas => "!formula ?version *ingredient *percent phase withdrawn",
        Premixes => "!code *formula make_ahead_days loss life",
        Products => {
            "!code *name *formula version use net_mass pieces_per_mould loss setting_days curing_days shelf_life \
             minimum_life"
        }
        Packaging => "!product !material per_piece per_batch",
        Plan => "!entry *product *amount make_on ready_by dropped",
        Wishes => "!wish *kind supplier material pack from to percent amount reason lifted",
        Settings => "!setting *value",
        Acts => "!act *kind subject day *recorded_at undoes who",
        Batches => {
            "!batch entry fulfils_entry product premix *formula *version *made_on *mass *pieces best_before weighed_by \
             note undone state"
        }
        Weighings => "!batch !place *lot target *weighed tare reason",
        Ledger => "!movement *act *kind *lot *amount *unit *cost *day *recorded_at reason batch reverses",
        Pieces => "!piece_movement *act *batch *kind *pieces *day reason reverses",
        Changes => "!change *act *what *code part *field before after who reason",
        Counts => "!lot material place unit *counted reason",
    }
}

/// A column of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Column {
    /// Its name.
    pub name: &'static str,
    /// A file without it is refused.
    pub required: bool,
    /// It is part of what tells rows apart.
    pub key: bool,
}

impl SheetKind {
    /// All files, in the order in which they are checked and written: what is referred to comes first.
    pub const ALL: [Self; 20] = [
        Materials, Suppliers, Postage, Offers, Rates, Formulas, Premixes, Products, Packaging, Orders, Lots, Plan,
        Wishes, Settings, Acts, Batches, Weighings, Ledger, Pieces, Changes,
    ];

    /// The file's name without its ending.
    #[must_use]
    pub fn stem(self) -> &'static str {
        match self {
            Materials => "materials",
            Suppliers => "suppliers",
            Postage => "postage",
            Offers => "offers",
            Rates => "rates",
            Lots => "lots",
            Orders => "orders",
            Formulas => "formulas",
            Premixes => "premixes",
            Products => "products",
            Packaging => "packaging",
            Plan => "plan",
            Wishes => "wishes",
            Settings => "settings",
            Acts => "acts",
            Batches => "batches",
            Weighings => "weighings",
            Ledger => "ledger",
            Pieces => "pieces",
            Changes => "changes",
            Counts => "counts",
        }
    }

    /// True for what tells of things that happened; false for the book.
    #[must_use]
    pub fn is_of_journal(self) -> bool {
        matches!(self, Settings | Acts | Batches | Weighings | Ledger | Pieces | Changes)
    }

    /// The file of a name, in small or capital letters.
    #[must_use]
    pub fn of_stem(stem: &str) -> Option<Self> {
        let stem = stem.trim();
        Self::ALL.into_iter().find(|kind| kind.stem().eq_ignore_ascii_case(stem))
    }

    /// Its columns, in the order in which they are written.
    #[must_use]
    pub fn columns(self) -> Vec<Column> {
        layout(self)
            .split_ascii_whitespace()
            .map(|word| Column {
                name: word.trim_start_matches(['*', '!', '?']),
                required: word.starts_with(['*', '!']),
                key: word.starts_with(['!', '?']),
            })
            .collect()
    }

    /// The column of a name, in small or capital letters.
    #[must_use]
    pub fn column(self, name: &str) -> Option<&'static str> {
        let name = name.trim();
        self.columns().into_iter().map(|column| column.name).find(|own| own.eq_ignore_ascii_case(name))
    }

    /// All names of files, for messages.
    #[must_use]
    pub fn all_stems() -> String {
        Self::ALL.map(Self::stem).join(", ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_found_in_any_letters() {
        assert_eq!(SheetKind::of_stem(" Materials"), Some(Materials));
        assert_eq!(SheetKind::of_stem("notes"), None);
        assert_eq!(Orders.column("Packs_Received "), Some("packs_received"));
        assert_eq!(Orders.column("colour"), None);
        let required: Vec<&str> =
            Offers.columns().into_iter().filter(|column| column.required).map(|column| column.name).collect();
        assert_eq!(required, ["supplier", "material", "pack", "price"]);
    }
}
