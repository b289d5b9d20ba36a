//! What the plan noticed: a report never fails on bad data, it comes with findings.

/// What kind of thing was noticed. The word is part of the JSON contract.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum FindingKind {
    /// A formula contains itself, by way of premixes.
    FormulaCircle,
    /// A formula is named that does not exist, or has no such version.
    FormulaMissing,
    /// The lines of a formula do not add up to 100 %.
    FormulaTotal,
    /// A material stands above its highest use rate.
    UseRate,
    /// Something should have been started before today.
    StartedLate,
    /// No supplier offers the material.
    NoOffer,
    /// A material is short of which there is nothing to go by: no lot, no offer, no order.
    NothingOnFile,
    /// No exchange rate is known for a currency.
    NoRate,
    /// A limit of the search was reached: the answer may not be the best.
    SearchLimit,
    /// An open order should have come before today.
    Overdue,
    /// More comes than there is room for.
    ShelfSpace,
    /// Something that is to be ordered waits in quarantine.
    Quarantine,
}

impl FindingKind {
    /// The word of the JSON contract.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::FormulaCircle => "formula-circle",
            Self::FormulaMissing => "formula-missing",
            Self::FormulaTotal => "formula-total",
            Self::UseRate => "use-rate",
            Self::StartedLate => "started-late",
            Self::NoOffer => "no-offer",
            Self::NothingOnFile => "nothing-on-file",
            Self::NoRate => "no-rate",
            Self::SearchLimit => "search-limit",
            Self::Overdue => "overdue",
            Self::ShelfSpace => "shelf-space",
            Self::Quarantine => "quarantine",
        }
    }
}

/// One thing that was noticed.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Finding {
    /// Of what kind.
    pub kind: FindingKind,
    /// The code of what it is about: a material, a formula, a plan entry.
    pub subject: String,
    /// One sentence for the maker.
    pub message: String,
}
