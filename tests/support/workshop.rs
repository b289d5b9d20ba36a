//! A small workshop in few words, as the snapshot that the core takes.

use chrono::NaiveDate;
use stillroom::plan::calendar::OrderCalendar;
use stillroom::plan::decimal::Decimal;
use stillroom::plan::model::{
    Formula, FormulaId, FormulaLine, Hand, Item, ItemId, Lot, LotState, Offer, OpenOrder, PlanAmount, PlanDay,
    PlanEntry, Postage, Premix, Product, ProductId, Snapshot, Supplier, SupplierId, UseRates,
};
use stillroom::plan::money::{Currency, Price};
use stillroom::plan::quantity::{Mass, Percent, Quantity, Unit};

/// A percentage as people write it.
pub fn percent(text: &str) -> Percent {
    text.parse::<Decimal>().and_then(Percent::from_decimal).unwrap()
}

/// Builds a snapshot; what a method adds can be changed through the reference that it returns.
pub struct Workshop {
    /// What was built.
    pub snapshot: Snapshot,
}

impl Workshop {
    /// An empty workshop that counts in euros.
    pub fn new() -> Self {
        Self {
            snapshot: Snapshot {
                home: Currency::EUR,
                items: Vec::new(),
                suppliers: Vec::new(),
                offers: Vec::new(),
                rates: Vec::new(),
                lots: Vec::new(),
                orders: Vec::new(),
                formulas: Vec::new(),
                products: Vec::new(),
                entries: Vec::new(),
                hand: Hand::default(),
            },
        }
    }

    /// A raw material.
    pub fn material(&mut self, code: &str) -> ItemId {
        self.snapshot.items.push(Item {
            code: code.to_owned(),
            name: code.to_owned(),
            inci: String::new(),
            storage: String::new(),
            caution: String::new(),
            unit: Unit::Milligram,
            premix: None,
            unopened_life: None,
            opened_life: None,
            safety_stock: Quantity::ZERO,
            shelf_space: None,
            always_at_hand: false,
            density: None,
            piece_mass: None,
            use_rates: UseRates::default(),
        });
        ItemId::new(self.snapshot.items.len() - 1)
    }

    /// Something bought by the piece.
    pub fn packaging(&mut self, code: &str) -> ItemId {
        let item = self.material(code);
        self.item(item).unit = Unit::Piece;
        item
    }

    /// A premix without make-ahead days and loss; its formula may be given later.
    pub fn premix(&mut self, code: &str, lines: &[(ItemId, &str)]) -> ItemId {
        let formula = self.formula(code, lines);
        let item = self.material(code);
        self.item(item).premix = Some(Premix { formula: Some(formula), make_ahead_days: 0, loss: Percent::ZERO });
        item
    }

    /// The item, to be changed.
    pub fn item(&mut self, item: ItemId) -> &mut Item {
        &mut self.snapshot.items[item.index()]
    }

    /// How the premix is made, to be changed.
    pub fn making(&mut self, premix: ItemId) -> &mut Premix {
        self.item(premix).premix.as_mut().unwrap()
    }

    /// A formula of lines in percent.
    pub fn formula(&mut self, code: &str, lines: &[(ItemId, &str)]) -> FormulaId {
        let line =
            |&(item, share): &(ItemId, &str)| FormulaLine { item, percent: percent(share), phase: String::new() };
        let lines = lines.iter().map(line).collect();
        self.snapshot.formulas.push(Formula { code: code.to_owned(), version: String::new(), lines });
        FormulaId::new(self.snapshot.formulas.len() - 1)
    }

    /// A product made to a formula of these lines, without loss.
    pub fn product(&mut self, code: &str, lines: &[(ItemId, &str)]) -> ProductId {
        let formula = self.formula(code, lines);
        self.snapshot.products.push(Product {
            code: code.to_owned(),
            name: code.to_owned(),
            formula: Some(formula),
            product_use: None,
            net_mass: None,
            pieces_per_mould: None,
            loss: Percent::ZERO,
            setting_days: 0,
            curing_days: 0,
            shelf_life: None,
            minimum_life: None,
            packaging: Vec::new(),
        });
        ProductId::new(self.snapshot.products.len() - 1)
    }

    /// The facts of a product, to be changed.
    pub fn facts(&mut self, product: ProductId) -> &mut Product {
        &mut self.snapshot.products[product.index()]
    }

    /// A plan entry.
    pub fn plan(&mut self, product: ProductId, amount: PlanAmount, when: PlanDay) {
        let code = format!("E{}", self.snapshot.entries.len() + 1);
        self.snapshot.entries.push(PlanEntry { code, product, amount, when });
    }

    /// A plan entry of so many milligrams made on a day.
    pub fn make(&mut self, product: ProductId, mg: i64, on: NaiveDate) {
        self.plan(product, PlanAmount::NetMass(Mass { mg }), PlanDay::MakeOn(on));
    }

    /// A released lot that cost nothing and lasts for ever.
    pub fn lot(&mut self, item: ItemId, quantity: i64) -> &mut Lot {
        let code = format!("L{:04}", self.snapshot.lots.len() + 1);
        self.snapshot.lots.push(Lot {
            code,
            item,
            on_hand: Quantity(quantity),
            cost: Price::ZERO,
            currency: Currency::EUR,
            received: None,
            best_before: None,
            opened: None,
            state: LotState::Released,
            place: String::new(),
        });
        self.snapshot.lots.last_mut().unwrap()
    }

    /// A supplier in euros who takes orders every day, without postage, minimum order and duty.
    pub fn supplier(&mut self, calendar: OrderCalendar) -> SupplierId {
        let code = format!("S{}", self.snapshot.suppliers.len() + 1);
        self.snapshot.suppliers.push(Supplier {
            name: code.clone(),
            code,
            email: String::new(),
            currency: Currency::EUR,
            calendar,
            minimum_order: Price::ZERO,
            postage: Postage::Flat(Price::ZERO),
            free_postage_from: None,
            duty: Percent::ZERO,
        });
        SupplierId::new(self.snapshot.suppliers.len() - 1)
    }

    /// An offer of packs that last for ever.
    pub fn offer(&mut self, supplier: SupplierId, item: ItemId, pack: i64, price_minor: i64) -> &mut Offer {
        self.snapshot.offers.push(Offer {
            supplier,
            item,
            pack: Quantity(pack),
            pack_text: format!("{pack} mg"),
            breaks: vec![(1, Price { minor: price_minor })],
            life_on_arrival: None,
            item_no: String::new(),
        });
        self.snapshot.offers.last_mut().unwrap()
    }

    /// An open order.
    pub fn order(&mut self, supplier: SupplierId, item: ItemId, quantity: i64, expected: NaiveDate) -> &mut OpenOrder {
        let code = format!("O{}", self.snapshot.orders.len() + 1);
        self.snapshot.orders.push(OpenOrder {
            code,
            pack_text: String::new(),
            packs: 1,
            was_proposed: false,
            supplier,
            item,
            quantity: Quantity(quantity),
            price: Price::ZERO,
            expected,
            life_on_arrival: None,
        });
        self.snapshot.orders.last_mut().unwrap()
    }
}
