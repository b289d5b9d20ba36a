//! What is made: a plan entry or a part of it, a test batch of a product, or a premix for the shelf.

use crate::book::Book;
use crate::book::rows::BatchRow;
use crate::cli::Make;
use crate::commands::names::{entries, find};
use crate::commands::session::quantity;
use crate::error::CommandError;
use crate::intake::typed_plan_amount;
use crate::plan::calendar::Span;
use crate::plan::explode::size;
use crate::plan::model::{Formula, ItemId, LotState, PlanAmount, PlanDay, PlanEntry, Product, ProductId, Snapshot};
use crate::plan::quantity::{Mass, Quantity, Unit};
use chrono::NaiveDate;

/// What is made, as the first entry of a plan: what is at the bench now has the first choice of lots.
pub struct Subject {
    /// The workshop with the entry in front of its plan.
    pub snapshot: Snapshot,
    /// The code of the plan entry that it fulfils, wholly or in part; empty outside the plan.
    entry: String,
    /// The premix that is made; `None` for a product.
    pub premix: Option<String>,
    /// What the plan entry still asks for, where this is a part of it.
    pub rest: Option<PlanAmount>,
    /// What comes out of a premix.
    pub made: Quantity,
}

impl Subject {
    /// The name of the product that is made; a premix goes by its code.
    #[must_use]
    pub fn name(&self) -> &str {
        match &self.premix {
            Some(premix) => premix,
            None => &self.snapshot.product(self.snapshot.entries[0].product).name,
        }
    }

    /// Reads what the arguments say.
    ///
    /// # Errors
    /// Where they name nothing that is there, or no amount.
    pub fn of(arguments: &Make, snapshot: Snapshot, book: &Book, today: NaiveDate) -> Result<Self, CommandError> {
        match (&arguments.entry, &arguments.product, &arguments.premix) {
            (Some(entry), ..) => Self::entry(arguments, snapshot, book, entry, today),
            (None, Some(product), _) => Self::test_batch(arguments, snapshot, book, product, today),
            (None, None, Some(premix)) => Self::premix(arguments, snapshot, premix, today),
            (None, None, None) => Err(CommandError::input("what was made is not said").hint(
                "stillroom make ENTRY, or --product CODE --amount \"6 pcs\", or --premix CODE --amount \"500 g\"",
            )),
        }
    }

    fn entry(
        arguments: &Make,
        mut snapshot: Snapshot,
        book: &Book,
        code: &str,
        today: NaiveDate,
    ) -> Result<Self, CommandError> {
        let place = find("plan entry that is still to be made", code, entries(&snapshot))?.index();
        let mut entry = snapshot.entries.remove(place);
        let mut rest = None;
        if let Some(text) = &arguments.amount {
            let product = snapshot.product(entry.product);
            let amount = amount(text, &product.code, book)?;
            if arguments.part {
                rest = Some(left(&entry, amount, product)?);
            }
            entry.amount = amount;
        }
        let code = entry.code.clone();
        entry.when = PlanDay::MakeOn(today);
        snapshot.entries.insert(0, entry);
        Ok(Self { snapshot, entry: code, premix: None, rest, made: Quantity::ZERO })
    }

    fn test_batch(
        arguments: &Make,
        mut snapshot: Snapshot,
        book: &Book,
        code: &str,
        today: NaiveDate,
    ) -> Result<Self, CommandError> {
        let products = snapshot
            .products
            .iter()
            .enumerate()
            .map(|(place, product)| ([product.code.as_str(), &product.name], place));
        let place = find("product", code, products)?;
        let code = snapshot.products[place].code.clone();
        let amount = amount(arguments.amount.as_deref().unwrap_or_default(), &code, book)?;
        let entry = PlanEntry {
            code: "the test batch".to_owned(),
            product: ProductId::new(place),
            amount,
            when: PlanDay::MakeOn(today),
        };
        snapshot.entries.insert(0, entry);
        Ok(Self { snapshot, entry: String::new(), premix: None, rest: None, made: Quantity::ZERO })
    }

    /// A premix is made as a product of its formula without packaging.
    fn premix(arguments: &Make, mut snapshot: Snapshot, code: &str, today: NaiveDate) -> Result<Self, CommandError> {
        let premixes = snapshot.items.iter().enumerate().filter(|(_, item)| item.premix.is_some());
        let id =
            find("premix", code, premixes.map(|(place, item)| ([item.code.as_str(), &item.name], ItemId::new(place))))?;
        let item = snapshot.item(id);
        let made = quantity(arguments.amount.as_deref().unwrap_or_default(), Unit::Milligram, item.density)?;
        if made.is_zero() {
            return Err(CommandError::input("--amount is nothing"));
        }
        let (code, premix) = (item.code.clone(), item.premix.clone());
        let product = Product {
            code: code.clone(),
            name: item.name.clone(),
            formula: premix.as_ref().and_then(|premix| premix.formula),
            product_use: None,
            net_mass: None,
            pieces_per_mould: None,
            loss: premix.map(|premix| premix.loss).unwrap_or_default(),
            setting_days: 0,
            curing_days: 0,
            shelf_life: item.unopened_life,
            minimum_life: None,
            packaging: Vec::new(),
        };
        snapshot.products.push(product);
        let entry = PlanEntry {
            code: format!("the premix {code}"),
            product: ProductId::new(snapshot.products.len() - 1),
            amount: PlanAmount::NetMass(Mass { mg: made.0 }),
            when: PlanDay::MakeOn(today),
        };
        snapshot.entries.insert(0, entry);
        Ok(Self { snapshot, entry: String::new(), premix: Some(code), rest: None, made })
    }

    /// The product that is made; for a premix, the one that stands in for it.
    pub fn product(&self) -> &Product {
        self.snapshot.product(self.snapshot.entries[0].product)
    }

    /// Its own shelf life, whatever is in it.
    pub fn own_life(&self) -> Option<Span> {
        self.product().shelf_life
    }

    fn formula(&self) -> Result<&Formula, CommandError> {
        let formula = self.product().formula.map(|formula| &self.snapshot.formulas[formula.index()]);
        formula.ok_or_else(|| CommandError::input(format!("the formula of {} is not on file", self.product().code)))
    }

    /// The batch without what the bench adds.
    ///
    /// # Errors
    /// Where the formula is not on file.
    pub fn batch(&self, today: NaiveDate) -> Result<BatchRow, CommandError> {
        let formula = self.formula()?;
        Ok(BatchRow {
            batch: String::new(),
            entry: self.entry.clone(),
            fulfils_entry: !self.entry.is_empty() && self.rest.is_none(),
            product: if self.premix.is_some() { String::new() } else { self.product().code.clone() },
            premix: self.premix.clone().unwrap_or_default(),
            formula: formula.code.clone(),
            version: formula.version.clone(),
            made_on: today,
            mass: Mass::default(),
            pieces: 0,
            best_before: None,
            weighed_by: String::new(),
            note: String::new(),
            undone: false,
            state: LotState::Released,
        })
    }
}

/// `30 pcs`, `1 mould` or a mass, that the product can be made in.
fn amount(text: &str, product: &str, book: &Book) -> Result<PlanAmount, CommandError> {
    let row = book.products.iter().find(|row| row.code == product);
    let row = row.ok_or_else(|| CommandError::work(format!("product {product} is not in the store")))?;
    typed_plan_amount(text, row).map_err(|(problem, remedy)| CommandError::input(problem).hint(remedy))
}

/// What an entry still asks for after a part of it, in pieces where both are, else as a mass.
fn left(entry: &PlanEntry, part: PlanAmount, product: &Product) -> Result<PlanAmount, CommandError> {
    let whole = size(entry, product);
    let done = size(&PlanEntry { amount: part, ..entry.clone() }, product);
    let rest = if matches!((entry.amount, part), (PlanAmount::NetMass(_), _) | (_, PlanAmount::NetMass(_))) {
        PlanAmount::NetMass(Mass { mg: whole.net.mg - done.net.mg })
    } else {
        PlanAmount::Pieces(whole.pieces - done.pieces)
    };
    match rest {
        PlanAmount::Pieces(rest) | PlanAmount::NetMass(Mass { mg: rest }) if rest <= 0 => {
            Err(CommandError::input(format!("that is all of {} or more, and no part", entry.code))
                .hint("leave --part out"))
        }
        rest => Ok(rest),
    }
}
