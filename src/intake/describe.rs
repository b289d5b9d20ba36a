//! What each column of the makers' files holds: its explanation, an example, what its cells look like, and the words by
//! which a maker's own spreadsheet may call it. The empty sheets and the guesses of a mapping both come from here.
//!
//! Words are written as [`fold`](crate::book::fold::fold) leaves them: small letters without accents. They are common
//! words of English, German, French, Italian and Spanish; which of them are usual is common practice, no source.

use super::columns::SheetKind;
use Shape::{
    Amount, Code, Currency, Date, Days, Formula, Item, Kind, Mass, Material, Money, Name, Number, Percent, PlanAmount,
    Product, Share, Span, State, Supplier, Text, Use, Whole, YesNo,
};

/// What the cells of a column look like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// Any words, taken as they are.
    Text,
    /// The code of the row itself.
    Code,
    /// The name of the row itself.
    Name,
    /// A material, by code or name.
    Material,
    /// A material or a premix, by code or name.
    Item,
    /// A supplier, by code or name.
    Supplier,
    /// A formula, by code or name.
    Formula,
    /// A product, by code or name.
    Product,
    /// A number with a unit.
    Amount,
    /// A number with a unit of mass.
    Mass,
    /// An amount of money.
    Money,
    /// A percentage.
    Percent,
    /// A percentage of a formula, or what fills it up.
    Share,
    /// A plain number.
    Number,
    /// A whole number.
    Whole,
    /// A number of days.
    Days,
    /// A length of time.
    Span,
    /// A day.
    Date,
    /// Yes or no.
    YesNo,
    /// A currency.
    Currency,
    /// Raw material or packaging.
    Kind,
    /// Leave-on or rinse-off.
    Use,
    /// The state of a lot.
    State,
    /// Pieces, moulds or a mass.
    PlanAmount,
}

/// A column of a file, described.
#[derive(Clone, Copy, Debug)]
pub struct Described {
    /// Its name.
    pub column: &'static str,
    /// What its cells look like.
    pub shape: Shape,
    /// What it holds, in a line for the maker.
    pub says: &'static str,
    /// An example.
    pub example: &'static str,
    /// Words that a maker's own spreadsheet may have for it, with `|` between them.
    pub words: &'static str,
}

const fn d(
    column: &'static str,
    shape: Shape,
    says: &'static str,
    example: &'static str,
    words: &'static str,
) -> Described {
    Described { column, shape, says, example, words }
}

/// What a material is called in spreadsheets.
const ITEM: &str = "material|raw material|ingredient|ingredients|item|name|article|description|rohstoff|rohstoffe|zutat|\
    zutaten|bezeichnung|artikel|stoff|material name|ingredient name|matiere premiere|matieres premieres|matiere|designation|\
    nom|materia prima|materie prime|ingrediente|ingredienti|ingredientes|nome|nombre|descrizione|descripcion|produit|articolo|\
    articulo";
const SUPPLIER: &str = "supplier|supplier name|vendor|shop|bought from|source|lieferant|lieferanten|bezugsquelle|handler|\
    fournisseur|fornitore|proveedor|bought at|where bought";

/// The columns of a file that a maker fills in, in their order; empty for files that only an export writes.
#[must_use]
pub fn described(kind: SheetKind) -> &'static [Described] {
    match kind {
        SheetKind::Materials => MATERIALS,
        SheetKind::Suppliers => SUPPLIERS,
        SheetKind::Postage => POSTAGE,
        SheetKind::Offers => OFFERS,
        SheetKind::Rates => RATES,
        SheetKind::Lots => LOTS,
        SheetKind::Orders => ORDERS,
        SheetKind::Formulas => FORMULAS,
        SheetKind::Premixes => PREMIXES,
        SheetKind::Products => PRODUCTS,
        SheetKind::Packaging => PACKAGING,
        SheetKind::Plan => PLAN,
        SheetKind::Wishes => WISHES,
        _ => &[],
    }
}

/// What a file is for, in words for the maker.
#[must_use]
pub fn purpose(kind: SheetKind) -> &'static str {
    match kind {
        SheetKind::Materials => "materials: raw materials and packaging, one in each line",
        SheetKind::Suppliers => "suppliers: who you buy from, one in each line",
        SheetKind::Postage => "postage: what a supplier asks for a parcel, where it depends on value or weight",
        SheetKind::Offers => "offers: a price list, one pack of a material in each line",
        SheetKind::Rates => "rates: what foreign currencies cost",
        SheetKind::Lots => "lots: what is on your shelves, one delivery or jar in each line",
        SheetKind::Orders => "orders: what is ordered and has not come yet",
        SheetKind::Formulas => "formulas: which ingredient goes into what, and how much of it",
        SheetKind::Premixes => "premixes: formulas whose result is an ingredient of others",
        SheetKind::Products => "products: what you make, one in each line",
        SheetKind::Packaging => "packaging: what each product is packed in",
        SheetKind::Plan => "plan: what is to be made, and when",
        SheetKind::Wishes => "wishes: what you want of every reorder list",
        _ => "written by an export",
    }
}

/// A column's description.
#[must_use]
pub fn of_column(kind: SheetKind, column: &str) -> Option<&'static Described> {
    described(kind).iter().find(|described| described.column == column)
}

const MATERIALS: &[Described] = &[
    d(
        "code",
        Code,
        "a short code of your own, never changed later",
        "shea-butter",
        "code|material code|item code|kurzel",
    ),
    d("name", Name, "what you call it", "Shea butter (refined)", ITEM),
    d(
        "inci",
        Text,
        "its name on the ingredient list",
        "Butyrospermum Parkii Butter",
        "inci|inci name|nom inci|nome inci",
    ),
    d("kind", Kind, "raw or packaging; raw if empty", "raw", "kind|type|typ|art|tipo|genre"),
    d(
        "density",
        Number,
        "g/ml; needed where you measure it by volume",
        "0.92",
        "density|dichte|densite|densita|densidad",
    ),
    d(
        "piece_mass",
        Mass,
        "weight of a piece of packaging, for postage by weight",
        "12 g",
        "piece weight|weight per piece|stuckgewicht",
    ),
    d(
        "unopened_life",
        Span,
        "how long it keeps unopened, where the supplier gives no date",
        "24 months",
        "shelf life|life|haltbarkeit|unopened life|duree de conservation|durata|vida util|keeps",
    ),
    d(
        "opened_life",
        Span,
        "how long it keeps once opened",
        "12 months",
        "after opening|opened life|pao|period after opening|nach dem offnen|nach offnen|apres ouverture|dopo apertura",
    ),
    d(
        "safety_stock",
        Amount,
        "how much should always be left",
        "500 g",
        "safety stock|minimum stock|min stock|minimum|reorder level|mindestbestand|meldebestand|stock minimum|\
         stock de securite|scorta minima|stock minimo",
    ),
    d(
        "max_leave_on",
        Percent,
        "highest use rate in what stays on the skin, in percent",
        "5",
        "max leave on|leave on|max use|max use rate|max|max einsatz|usage rate|taux max",
    ),
    d("max_rinse_off", Percent, "highest use rate in what is washed off, in percent", "10", "max rinse off|rinse off"),
    d("storage", Text, "how it is kept", "cool and dark", "storage|lagerung|conservation|conservazione|almacenamiento"),
    d(
        "caution",
        Text,
        "what to beware of; stands on the weighing sheet",
        "melt gently in a water bath",
        "caution|warning|hazard|hazards|safety|vorsicht|gefahr|warnhinweis|danger|precautions|attenzione|precaucion",
    ),
    d("always_at_hand", YesNo, "yes where it never runs out (tap water)", "", "always at hand|immer da"),
    d("shelf_space", Amount, "how much there is room for", "5 kg", "shelf space|maximum stock|max stock|hochstbestand"),
];

const SUPPLIERS: &[Described] = &[
    d("code", Code, "a short code of your own", "hilltop", "code|supplier code|kurzel|kundennummer"),
    d(
        "name",
        Name,
        "the supplier's name",
        "Hilltop Oils (invented)",
        "supplier|supplier name|name|company|firm|vendor|shop|lieferant|firma|fournisseur|societe|nom|fornitore|ditta|nome|\
         proveedor|empresa|nombre",
    ),
    d("email", Text, "where orders go", "orders@hilltop.example", "email|e mail|mail|e mail address|courriel|correo"),
    d(
        "currency",
        Currency,
        "in which the supplier is paid (ISO 4217)",
        "EUR",
        "currency|wahrung|devise|monnaie|valuta|moneda",
    ),
    d(
        "lead_time_days",
        Days,
        "days from ordering until it is at your door",
        "5",
        "lead time|lead time days|delivery time|delivery days|delivery|lieferzeit|lieferdauer|delai|delai de livraison|\
         tempi di consegna|consegna|plazo de entrega|plazo",
    ),
    d(
        "order_weekdays",
        Text,
        "days on which you may order; any if empty",
        "Mon Thu",
        "order days|order weekdays|bestelltage",
    ),
    d("closed", Text, "first and last day of holidays, ; between several", "2027-08-01/2027-08-15", "closed"),
    d(
        "minimum_order",
        Money,
        "smallest order that is taken",
        "30.00",
        "minimum order|min order|minimum order value|mindestbestellwert|mindestbestellung|minimum de commande|ordine minimo|\
         pedido minimo",
    ),
    d(
        "postage",
        Money,
        "what a parcel costs",
        "7.90",
        "postage|shipping|shipping cost|delivery cost|carriage|versand|versandkosten|porto|frais de port|port|spedizione|\
         spese di spedizione|gastos de envio|envio",
    ),
    d(
        "free_postage_from",
        Money,
        "order value from which postage is free",
        "150.00",
        "free postage from|free postage|free shipping|free shipping from|free delivery|versandfrei ab|versandkostenfrei ab|\
         franco|franco de port|spedizione gratuita|envio gratis",
    ),
    d("duty", Percent, "customs duty in percent of the goods", "", "duty|customs|zoll|douane|dazio|arancel"),
];

const POSTAGE: &[Described] = &[
    d("supplier", Supplier, "which supplier", "hilltop", SUPPLIER),
    d("by", Text, "value or weight of the parcel; value if empty", "value", "by|based on"),
    d("from", Text, "from this value or weight on", "0", "from|ab|a partir de|da"),
    d("fee", Money, "what the parcel costs then", "4.90", "fee|postage|porto|versandkosten|price|preis"),
];

const OFFERS: &[Described] = &[
    d("supplier", Supplier, "who sells it", "hilltop", SUPPLIER),
    d("material", Material, "which material", "shea-butter", ITEM),
    d(
        "pack",
        Amount,
        "how much is in a pack",
        "1 kg",
        "pack|pack size|packsize|size|unit size|package|packung|packungsgrosse|gebinde|gebindegrosse|inhalt|\
         conditionnement|contenance|format|confezione|envase|presentacion|quantity|menge|weight|gewicht|poids|peso|qty",
    ),
    d(
        "price",
        Money,
        "what a pack costs, without postage",
        "10.50",
        "price|net price|pack price|unit price|price per pack|cost|preis|nettopreis|einkaufspreis|ek|prix|prix ht|prezzo|\
         precio|cout",
    ),
    d("from_packs", Whole, "for so many packs or more; 1 if empty", "", "from packs|min qty|ab packungen|from qty"),
    d(
        "life_on_arrival",
        Span,
        "how long it keeps when it comes",
        "18 months",
        "life on arrival|shelf life|shelf life on arrival|haltbarkeit|duree de conservation|durata|vida util",
    ),
    d(
        "item_no",
        Text,
        "the supplier's number for it",
        "HO-107",
        "item no|item number|item code|article number|article no|product code|code|sku|ref|reference|order no|\
         artikelnummer|artikel nr|art nr|artnr|bestellnummer|bestell nr|codice|referencia",
    ),
];

const RATES: &[Described] = &[
    d("date", Date, "the day of the rate", "2027-01-04", "date|datum|data|fecha|day"),
    d("currency", Currency, "which currency", "GBP", "currency|wahrung|devise|monnaie|valuta|moneda"),
    d(
        "rate",
        Number,
        "what one of it costs in your own currency",
        "1.158",
        "rate|exchange rate|kurs|taux|cambio|tasso",
    ),
];

const LOTS: &[Described] = &[
    d("lot", Code, "a code of your own for this delivery", "L2701-1", "own lot|lot code|our lot|jar"),
    d("material", Item, "which material (or premix)", "shea-butter", ITEM),
    d(
        "amount",
        Amount,
        "how much came, or is there now",
        "1 kg",
        "amount|stock|in stock|on hand|have|quantity|qty|net wt|net weight|weight|counted|count|how much|remaining|left|menge|\
         bestand|lagerbestand|vorrat|gewicht|gezahlt|anzahl|quantite|stock actuel|poids|giacenza|quantita|peso|cantidad|\
         existencias|stock on hand|current stock",
    ),
    d("supplier", Supplier, "who sent it", "hilltop", SUPPLIER),
    d(
        "supplier_lot",
        Text,
        "the supplier's lot number",
        "HO26571",
        "lot|lot no|lot number|batch|batch no|batch number|supplier lot|charge|chargennummer|charge nr|chargen nr|los|\
         numero de lot|n de lot|lotto|numero lotto|lote|numero de lote",
    ),
    d(
        "received",
        Date,
        "the day it came",
        "2027-01-12",
        "received|date received|bought|bought on|purchased|purchase date|date bought|delivered|delivery date|arrived|eingang|\
         wareneingang|gekauft|gekauft am|kaufdatum|lieferdatum|geliefert|recu|recu le|date d achat|achete le|ricevuto|\
         acquistato|data acquisto|recibido|comprado|fecha de compra",
    ),
    d(
        "cost",
        Money,
        "what all of it cost; 0 for a sample",
        "10.50",
        "cost|total cost|paid|price paid|price|value|total price|kosten|bezahlt|preis|einkaufspreis|wert|prix|prix paye|cout|\
         valeur|costo|prezzo|pagato|coste|precio|pagado",
    ),
    d("currency", Currency, "in which it was paid", "EUR", "currency|wahrung|devise|monnaie|valuta|moneda"),
    d(
        "best_before",
        Date,
        "the supplier's best-before date",
        "2028-06-30",
        "best before|best before date|bb|bbd|bbe|expiry|expiry date|expires|expires on|expiration|expiration date|exp|\
         exp date|use by|mhd|haltbar bis|mindestens haltbar bis|ablauf|ablaufdatum|ddm|dluo|dlc|a consommer avant|\
         peremption|date de peremption|scadenza|data di scadenza|caducidad|fecha de caducidad|consumo preferente",
    ),
    d(
        "opened",
        Date,
        "the day it was opened; empty if it is not",
        "",
        "opened|opened on|date opened|geoffnet|\
         geoffnet am|angebrochen|ouvert|ouvert le|aperto|aperto il|abierto",
    ),
    d(
        "state",
        State,
        "released, quarantine or rejected; released if empty",
        "",
        "state|status|zustand|etat|stato|estado",
    ),
    d(
        "place",
        Text,
        "where it stands",
        "shelf A4",
        "place|location|shelf|where|storage place|ort|lagerort|lagerplatz|regal|platz|emplacement|lieu|etagere|posto|\
         posizione|scaffale|ubicacion|estante|lugar",
    ),
    d("order", Text, "the order that it came with", "", ""),
];

const ORDERS: &[Described] = &[
    d(
        "order",
        Code,
        "a code for the order",
        "B2027-01",
        "order|order no|order number|bestellung|commande|ordine|pedido",
    ),
    d("supplier", Supplier, "who it was placed with", "hilltop", SUPPLIER),
    d("material", Material, "which material", "shea-butter", ITEM),
    d(
        "pack",
        Amount,
        "how much is in a pack",
        "1 kg",
        "pack|pack size|size|gebinde|packung|inhalt|conditionnement|formato",
    ),
    d(
        "packs",
        Whole,
        "how many packs",
        "2",
        "packs|number|qty|quantity|anzahl|menge|nombre|quantite|quantita|cantidad",
    ),
    d(
        "placed",
        Date,
        "the day it was ordered",
        "2027-01-10",
        "placed|ordered|ordered on|order date|bestellt|bestellt am|\
         bestelldatum|commande le|ordinato|pedido el",
    ),
    d(
        "expected",
        Date,
        "the day it should come",
        "2027-01-15",
        "expected|due|eta|arrives|erwartet|liefertermin|prevu|\
         previsto|esperado",
    ),
    d("price", Money, "what a pack costs", "10.50", "price|pack price|preis|prix|prezzo|precio"),
    d("packs_received", Whole, "how many packs have come", "", ""),
    d("cancelled", YesNo, "yes where the rest will not come", "", ""),
];

/// What a formula is called in spreadsheets.
const FORMULA: &str = "formula|formula name|recipe|recipe name|product|product name|rezept|rezeptur|produkt|formule|\
    recette|ricetta|prodotto|receta|producto|produit";

const FORMULAS: &[Described] = &[
    d("formula", Formula, "a code for the formula, the same in all its lines", "winter-balm", FORMULA),
    d("version", Text, "1, 2, 3 ...; 1 if empty", "1", "version|rev|revision"),
    d("ingredient", Item, "a material or a premix", "shea-butter", ITEM),
    d(
        "percent",
        Share,
        "percent of the weight, or balance for what fills up to 100",
        "100",
        "percent|percentage|%|pct|share|prozent|prozentsatz|anteil|pourcentage|percentuale|porcentaje|amount|grams|weight|\
         menge|gewicht|gramm|quantite|poids|grammes|quantita|grammi|peso|cantidad|gramos|qty|quantity",
    ),
    d("phase", Text, "heated, cool-down ...", "heated", "phase|fase|stage|part|teil"),
    d("withdrawn", YesNo, "yes in all lines of a version that was taken back", "", ""),
];

const PREMIXES: &[Described] = &[
    d("code", Code, "a code of your own, no material's", "rose-infusion", "code|premix|premix code|kurzel"),
    d("formula", Formula, "which formula it is made to", "rose-infusion", FORMULA),
    d(
        "make_ahead_days",
        Days,
        "how many days before use it has to be started",
        "28",
        "make ahead|make ahead days|vorlauf",
    ),
    d("loss", Percent, "what is lost in making it, in percent", "5", "loss|waste|verlust|schwund|perte|perdita|merma"),
    d(
        "life",
        Span,
        "how long it keeps",
        "6 months",
        "life|shelf life|haltbarkeit|duree de conservation|durata|vida util",
    ),
];

const PRODUCTS: &[Described] = &[
    d("code", Code, "a short code of your own", "winter-balm-30", "code|product code|sku|artikelnummer|kurzel"),
    d(
        "name",
        Name,
        "what it is called",
        "Winter balm, 30 g tin",
        "product|product name|name|item|produkt|produktname|bezeichnung|produit|nom|prodotto|nome|producto|nombre",
    ),
    d(
        "formula",
        Formula,
        "which formula it is made to",
        "winter-balm",
        "formula|recipe|rezept|rezeptur|formule|recette|\
         ricetta|receta",
    ),
    d("version", Text, "version of the formula; the newest if empty", "", "version"),
    d("use", Use, "leave-on or rinse-off", "leave-on", "use|kind|type|leave on or rinse off|anwendung"),
    d(
        "net_mass",
        Mass,
        "how much is in a piece",
        "30 g",
        "net mass|net weight|net wt|weight|fill|fill weight|size|weight per piece|nettogewicht|gewicht|fullmenge|fullgewicht|\
         inhalt|poids|poids net|contenance|peso|peso netto|peso neto|contenuto|contenido",
    ),
    d(
        "pieces_per_mould",
        Whole,
        "how many pieces a mould gives",
        "",
        "pieces per mould|pieces per mold|bars per mould|bars per mold|per mould|per mold|mould|mold|stuck pro form|\
         pieces par moule|pezzi per stampo|piezas por molde|batch size|bars per batch",
    ),
    d(
        "loss",
        Percent,
        "what is lost in making it, in percent",
        "2.5",
        "loss|waste|verlust|schwund|perte|perdita|merma",
    ),
    d("setting_days", Days, "days until it is firm", "", "setting days|setting|setting time"),
    d(
        "curing_days",
        Days,
        "days until it may be sold",
        "",
        "curing days|curing|cure|cure days|cure time|curing time|reifezeit|reifung|trockenzeit|sechage|maturation|cure weeks|\
         stagionatura|curado",
    ),
    d(
        "shelf_life",
        Span,
        "how long it keeps once made",
        "12 months",
        "shelf life|keeps|best before|life|haltbarkeit|duree de conservation|durata|vida util",
    ),
    d("minimum_life", Span, "how long its ingredients have to last after it is made", "4 months", "minimum life"),
];

const PACKAGING: &[Described] = &[
    d("product", Product, "which product", "winter-balm-30", FORMULA),
    d(
        "material",
        Material,
        "which packaging",
        "tin-30",
        "packaging|material|item|container|verpackung|emballage|imballaggio|\
         envase|contenant",
    ),
    d(
        "per_piece",
        Number,
        "how many for each piece",
        "1",
        "per piece|each|number|pieces|qty|quantity|anzahl|pro stuck|\
         par piece|per pezzo|por pieza",
    ),
    d("per_batch", Number, "how many for a whole batch", "", "per batch|pro charge|par lot"),
];

const PLAN: &[Described] = &[
    d("entry", Code, "a code for the entry", "E01", "entry|no|nr|plan entry|batch|batch no"),
    d(
        "product",
        Product,
        "what is made",
        "winter-balm-30",
        "product|what|make|produkt|was|produit|prodotto|producto|item|\
         name|nom|nome|nombre",
    ),
    d(
        "amount",
        PlanAmount,
        "pieces (24 pcs), moulds (2 moulds) or a mass (1.5 kg)",
        "24 pcs",
        "amount|quantity|qty|pieces|how many|number|batch size|units|menge|stuck|anzahl|quantite|pieces|quantita|pezzi|\
         cantidad|piezas|bars",
    ),
    d(
        "make_on",
        Date,
        "the day it is made, or",
        "2027-03-01",
        "make on|make date|date|day|when|production date|made on|pour date|pour day|herstellen am|herstellung|datum|\
         produktionsdatum|date de fabrication|fabrication|jour|data|data di produzione|fecha|fecha de produccion|tag|termin",
    ),
    d(
        "ready_by",
        Date,
        "the day it has to be ready",
        "",
        "ready by|ready|due|needed by|needed|fertig bis|fertig|bis|\
         pret pour|pour le|pronto per|listo para|market",
    ),
    d("dropped", YesNo, "yes where it was taken out of the plan", "", ""),
];

const WISHES: &[Described] = &[
    d("wish", Code, "a code of your own", "no-palm", "wish"),
    d("kind", Text, "exclude, pin, prefer or budget", "exclude", "kind"),
    d("supplier", Supplier, "which supplier it is about", "", SUPPLIER),
    d("material", Material, "which material it is about", "palm-oil", ITEM),
    d("pack", Amount, "which pack it is about", "", "pack"),
    d("from", Date, "first day", "", "from"),
    d("to", Date, "last day", "", "to"),
    d("percent", Percent, "of prefer: how much dearer it may be", "", "percent"),
    d("amount", Money, "of budget: how much may be spent", "", "amount|budget"),
    d("reason", Text, "why", "not in my formulas any more", "reason|why"),
    d("lifted", YesNo, "yes: it no longer counts", "", ""),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_column_of_the_contract_is_described_in_its_order() {
        let mut described_files = 0;
        for kind in SheetKind::ALL {
            if kind.is_of_journal() {
                assert!(described(kind).is_empty(), "{kind:?}");
                continue;
            }
            described_files += 1;
            let own: Vec<&str> = described(kind).iter().map(|column| column.column).collect();
            let mut contract: Vec<&str> = kind.columns().iter().map(|column| column.name).collect();
            let mut sorted = own.clone();
            sorted.sort_unstable();
            contract.sort_unstable();
            assert_eq!(sorted, contract, "{kind:?}");
            for column in described(kind) {
                assert!(!column.says.is_empty() && column.says.len() <= 80, "{kind:?} {}", column.column);
            }
        }
        assert_eq!(described_files, 13);
    }

    #[test]
    fn the_reference_names_every_column() {
        let reference = include_str!("../../docs/files.md");
        for kind in SheetKind::ALL.into_iter().filter(|kind| !kind.is_of_journal()) {
            for column in described(kind) {
                assert!(reference.contains(column.column), "docs/files.md does not name {}", column.column);
            }
        }
    }

    #[test]
    fn words_are_written_as_they_are_looked_up() {
        for kind in SheetKind::ALL {
            for column in described(kind) {
                for word in column.words.split('|').map(str::trim).filter(|word| *word != "%") {
                    assert_eq!(crate::book::fold::fold(word), word, "{kind:?} {}", column.column);
                }
            }
        }
    }
}
