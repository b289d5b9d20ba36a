//! `receive`: a parcel, or goods without an order, become lots.

use super::names::find;
use super::session::{Session, quantity, words};
use crate::book::Book;
use crate::book::rows::{LotRow, MaterialRow, OrderRow};
use crate::cli::{Receive, date};
use crate::error::CommandError;
use crate::plan::measure::DecimalMark;
use crate::plan::model::LotState;
use crate::plan::money::{Currency, Price};
use crate::plan::quantity::{Quantity, Unit};
use crate::render::amounts::amount;
use crate::store::{PacksReceived, Parcel, Writing};
use crate::view::done::{ReceivedLotView, ReceivedView};
use chrono::NaiveDate;
use std::collections::BTreeMap;

pub fn run(session: &Session, arguments: &Receive) -> Result<String, CommandError> {
    let (book, lots) = session.write(|writing| {
        let (book, _) = writing.book_ahead(session.clock.today())?;
        let (parcel, shared) = Work { session, arguments, book: &book, writing }.parcel()?;
        let lots = writing.receive_parcel(&parcel, shared, &session.stamp())?;
        Ok((book, lots))
    })?;
    let unit = |lot: &LotRow| unit_of(&book, &lot.material);
    let names: BTreeMap<&String, &String> = book.materials.iter().map(|row| (&row.code, &row.name)).collect();
    let past: Vec<&str> = lots.iter().filter(|lot| is_past(lot)).map(|lot| lot.lot.as_str()).collect();
    let lot_view = |lot: &LotRow| ReceivedLotView {
        lot: lot.lot.clone(),
        material: lot.material.clone(),
        amount: lot.amount.0,
        unit: unit(lot).symbol().to_owned(),
        order: lot.order.clone(),
        state: lot.state.word().to_owned(),
        cost: lot.currency.decimal(lot.cost.minor),
        currency: lot.currency.code().to_owned(),
        best_before: lot.best_before,
    };
    let view = ReceivedView {
        lots: lots.iter().map(lot_view).collect(),
        past_best_before: past.iter().map(|&lot| lot.to_owned()).collect(),
    };
    session.answer(&view, |_| {
        let line = |lot: &LotRow| {
            let shown = amount(lot.amount.0, unit(lot).symbol());
            let cost = lot.currency.decimal(lot.cost.minor);
            let state = if lot.state == LotState::Quarantine { ", in quarantine" } else { "" };
            let name = names.get(&lot.material).copied().unwrap_or(&lot.material);
            format!("Lot {}: {shown} of {name}, {cost} {}{state}.\n", lot.lot, lot.currency)
        };
        let mut text: String = lots.iter().map(line).collect();
        for lot in &past {
            text.push_str(&format!("note: lot {lot} was past its best-before date when it came.\n"));
        }
        text + "Write the lot numbers on the packs. `stillroom act undo` takes it back.\n"
    })
}

fn is_past(lot: &LotRow) -> bool {
    lot.best_before.zip(lot.received).is_some_and(|(best_before, received)| best_before < received)
}

/// What can be told of a lot that came, besides what the order says.
struct Details {
    supplier_lot: String,
    best_before: Option<NaiveDate>,
    place: String,
}

struct Work<'a> {
    session: &'a Session,
    arguments: &'a Receive,
    book: &'a Book,
    writing: &'a Writing<'a>,
}

impl Work<'_> {
    /// The lots that came, and what they share of postage and duty.
    fn parcel(&self) -> Result<(Vec<Parcel>, Price), CommandError> {
        let arguments = self.arguments;
        let mut parcel = match self.order()? {
            Some(order) => self.of_order(&order)?,
            None => vec![self.without_order()?],
        };
        // Codes are told apart here, since none of them is in the store yet.
        let first = self.writing.next_lot_code()?;
        let number = first.rsplit('-').next().and_then(|digits| digits.parse::<u64>().ok()).unwrap_or(1);
        for (place, received) in (0..).zip(&mut parcel) {
            received.lot.lot = format!("L-{:04}", number + place);
        }
        let currency = parcel.first().map_or(self.writing.home()?, |received| received.lot.currency);
        let shared = arguments.postage_and_duty.as_deref().map(|text| price("--postage-and-duty", text, currency));
        Ok((parcel, shared.transpose()?.unwrap_or_default()))
    }

    /// The order that was named, or picked in a terminal.
    fn order(&self) -> Result<Option<String>, CommandError> {
        let arguments = self.arguments;
        let orders = &self.book.orders;
        if let Some(order) = &arguments.order {
            if orders.iter().any(|row| row.order == *order) {
                return Ok(Some(order.clone()));
            }
            let codes = self.writing.order_codes()?;
            // What is still to come may be called by its supplier, too.
            let by_supplier = orders.iter().filter(|row| is_open(row)).map(|row| {
                let supplier = self.book.suppliers.iter().find(|supplier| supplier.code == row.supplier);
                ([row.order.as_str(), supplier.map_or("", |supplier| &supplier.name), &row.supplier], row.order.clone())
            });
            let by_code = codes.iter().map(|code| ([code.as_str(), "", ""], code.clone()));
            return Ok(Some(find("order", order, by_supplier.chain(by_code))?));
        }
        if arguments.material.is_some() || arguments.amount.is_some() || !self.session.can_ask {
            return Ok(None);
        }
        let mut open: Vec<String> = orders.iter().filter(|row| is_open(row)).map(|row| row.order.clone()).collect();
        open.dedup();
        let mut choices: Vec<String> = open.iter().map(|order| self.named(order)).collect();
        choices.push("goods without an order".to_owned());
        let picked = self.session.or_pick(None, "ORDER", "What came?", &choices)?;
        Ok(open.get(picked).cloned())
    }

    /// The name of a material, as it stands on the pack.
    fn name_of<'n>(&'n self, code: &'n str) -> &'n str {
        self.book.materials.iter().find(|row| row.code == code).map_or(code, |row| &row.name)
    }

    fn named(&self, order: &str) -> String {
        let line = self.book.orders.iter().find(|row| row.order == order);
        let code = line.map_or("", |row| row.supplier.as_str());
        let supplier = self.book.suppliers.iter().find(|row| row.code == code).map_or(code, |row| &row.name);
        format!("{order} from {supplier}")
    }

    fn of_order(&self, code: &str) -> Result<Vec<Parcel>, CommandError> {
        let lines = self.open_lines(code)?;
        self.say_of_which(lines.iter().map(|row| row.material.as_str()).collect())?;
        let mut parcel = Vec::new();
        for line in lines {
            let open = line.packs - line.packs_received;
            let given = self.arguments.packs.map(|packs| packs.to_string());
            let given = given.or_else(|| (!self.session.can_ask).then(|| open.to_string()));
            let question =
                format!("{}, {} x {}: how many packs came?", self.name_of(&line.material), open, line.pack_text);
            let answer = self.session.or_ask(given.as_deref(), "--packs", &question, Some(&open.to_string()))?;
            let packs: i64 = match answer.trim().parse() {
                Ok(0) if self.arguments.packs.is_none() => continue,
                Ok(packs) if packs > 0 => packs,
                _ => return Err(CommandError::input(format!("{answer:?} is no number of packs above 0"))),
            };
            parcel.push(self.line(line, packs)?);
        }
        if parcel.is_empty() {
            return Err(CommandError::input(format!("nothing of order {code} came; nothing was written")));
        }
        Ok(parcel)
    }

    fn open_lines(&self, code: &str) -> Result<Vec<&OrderRow>, CommandError> {
        let orders = &self.book.orders;
        let mut lines: Vec<&OrderRow> = orders.iter().filter(|row| row.order == code && is_open(row)).collect();
        if lines.is_empty() {
            return Err(CommandError::input(format!("nothing of order {code} is still to come")));
        }
        if let Some(material) = &self.arguments.material {
            let open = lines.iter().map(|row| ([row.material.as_str()], row.material.clone()));
            let wanted = find("open line of this order for", material, open)?;
            lines.retain(|row| row.material == wanted);
        }
        if let Some(pack) = &self.arguments.pack {
            let open = lines.clone().into_iter().map(|row| ([row.pack_text.as_str()], row.pack));
            let wanted = find("open line of this order with packs of", pack, open)?;
            lines.retain(|row| row.pack == wanted);
        }
        if self.arguments.packs.is_some() && lines.len() > 1 {
            let packs: Vec<String> = lines.iter().map(|row| format!("{} of {}", row.pack_text, row.material)).collect();
            return Err(CommandError::input("--packs is for one line of an order, and several are open")
                .hint(format!("add --material and --pack: {}", packs.join("; "))));
        }
        Ok(lines)
    }

    /// What is told of a parcel has to be of a material in it, and to name it where there are several.
    fn say_of_which(&self, mut came: Vec<&str>) -> Result<(), CommandError> {
        came.dedup();
        let told = [("--supplier-lot", &self.arguments.supplier_lot), ("--best-before", &self.arguments.best_before)];
        for (option, values) in told {
            let is_clear = |value: &&String| match self.named_material(value) {
                Some((code, _)) => came.contains(&code),
                None => came.len() == 1,
            };
            if let Some(value) = values.iter().find(|value| !is_clear(value)) {
                return Err(CommandError::input(format!(
                    "{option} {value} does not say which material of the parcel it is for"
                ))
                .hint(format!("write {option} MATERIAL={value}, for {}", came.join(" or "))));
            }
        }
        Ok(())
    }

    /// `MATERIAL` and `NUMBER` of `MATERIAL=NUMBER`; `None` where the value names no material.
    fn named_material<'v>(&self, value: &'v str) -> Option<(&str, &'v str)> {
        let (code, told) = value.split_once('=')?;
        let material = self.book.materials.iter().find(|row| row.code.eq_ignore_ascii_case(code.trim()))?;
        Some((material.code.as_str(), told.trim()))
    }

    /// What the values of an option say of a material: the one that names it, else the one that names none.
    fn told<'v>(&self, values: &'v [String], material: &str) -> Option<&'v str> {
        let of_material = |value: &'v String| match self.named_material(value) {
            Some((code, told)) => (code == material).then_some(told),
            None => Some(value.as_str()),
        };
        values.iter().find_map(of_material)
    }

    fn line(&self, line: &OrderRow, packs: i64) -> Result<Parcel, CommandError> {
        let supplier = self.book.suppliers.iter().find(|row| row.code == line.supplier);
        let currency = supplier.map_or(self.writing.home()?, |row| row.currency);
        let price = self.book.pack_price(line).times(packs);
        let amount = Quantity(line.pack.0.saturating_mul(packs));
        let lot = self.lot(&line.material, amount, &line.supplier, Some(price), currency)?;
        let lot = LotRow { order: line.order.clone(), ..lot };
        Ok(Parcel { lot, packs: Some(PacksReceived { pack: line.pack, packs }) })
    }

    fn without_order(&self) -> Result<Parcel, CommandError> {
        let arguments = self.arguments;
        let materials = &self.book.materials;
        let material = match &arguments.material {
            Some(code) => find("material", code, materials.iter().map(|row| ([row.code.as_str(), &row.name], row)))?,
            None if !self.session.can_ask => {
                return Err(CommandError::input("what came is not said")
                    .hint("stillroom receive ORDER, or: stillroom receive --material CODE --amount \"500 g\""));
            }
            None => {
                let codes: Vec<String> = materials.iter().map(|row| row.code.clone()).collect();
                &materials[self.session.or_pick(None, "--material", "Which material?", &codes)?]
            }
        };
        self.say_of_which(vec![&material.code])?;
        let text =
            self.session.or_ask(arguments.amount.as_deref(), "--amount", "How much came (500 g, 24 pcs)?", None)?;
        let amount = quantity(&text, material.unit, material.density)?;
        let suppliers = self.book.suppliers.iter().map(|row| ([row.code.as_str(), &row.name], row));
        let supplier = arguments.supplier.as_deref().map(|code| find("supplier", code, suppliers)).transpose()?;
        let currency = supplier.map_or(self.writing.home()?, |row| row.currency);
        let lot = self.lot(&material.code, amount, supplier.map_or("", |row| &row.code), None, currency)?;
        Ok(Parcel { lot, packs: None })
    }

    fn lot(
        &self,
        material: &str,
        amount: Quantity,
        supplier: &str,
        ordered_at: Option<Price>,
        currency: Currency,
    ) -> Result<LotRow, CommandError> {
        let arguments = self.arguments;
        let currency = match &arguments.currency {
            None => currency,
            Some(code) => Currency::from_code(&code.to_uppercase())
                .ok_or_else(|| CommandError::input(format!("--currency {code:?} is no currency of ISO 4217")))?,
        };
        let cost = match (ordered_at, &arguments.cost) {
            (Some(price), None) => price,
            (_, given) => {
                let question = format!("What did all of it cost, in {currency} (0 for a free sample)?");
                price("--cost", &self.session.or_ask(given.as_deref(), "--cost", &question, None)?, currency)?
            }
        };
        let details = self.details(material)?;
        Ok(LotRow {
            lot: String::new(),
            material: material.to_owned(),
            amount,
            supplier: supplier.to_owned(),
            supplier_lot: details.supplier_lot,
            received: Some(self.session.clock.today()),
            cost,
            currency,
            best_before: details.best_before,
            opened: None,
            state: if arguments.quarantine { LotState::Quarantine } else { LotState::Released },
            place: details.place,
            order: String::new(),
        })
    }

    fn details(&self, material: &str) -> Result<Details, CommandError> {
        let arguments = self.arguments;
        let may_be_empty =
            |option: &str, text: String| if text.trim().is_empty() { Ok(String::new()) } else { words(option, &text) };
        let ask = |given: Option<&str>, option: &str, question: &str, usual: &str| {
            self.session.or_ask(given, option, &format!("{}: {question}", self.name_of(material)), Some(usual))
        };
        let supplier_lot =
            ask(self.told(&arguments.supplier_lot, material), "--supplier-lot", "supplier's lot number?", "")?;
        let question = "best before (2027-03-09; empty: the material's own life)?";
        let answer = ask(self.told(&arguments.best_before, material), "--best-before", question, "")?;
        let wrong = |right: String| CommandError::input(format!("--best-before {answer:?} is no date")).hint(right);
        let best_before = match answer.trim() {
            "" => None,
            day => Some(date(day).map_err(wrong)?),
        };
        let usual = if self.session.can_ask { self.writing.last_place(material)? } else { String::new() };
        let place = ask(arguments.place.as_deref(), "--place", "where is it put?", &usual)?;
        Ok(Details {
            supplier_lot: may_be_empty("--supplier-lot", supplier_lot)?,
            best_before,
            place: may_be_empty("--place", place)?,
        })
    }
}

fn is_open(row: &OrderRow) -> bool {
    !row.cancelled && row.packs_received < row.packs
}

fn price(option: &str, text: &str, currency: Currency) -> Result<Price, CommandError> {
    let decimal =
        DecimalMark::PointOrClearComma.parse(text.trim()).and_then(|decimal| decimal.scaled(currency.exponent()));
    match decimal {
        Ok(minor) if (0..=Price::MAX_ENTERED.minor).contains(&minor) => Ok(Price { minor }),
        Ok(_) => Err(CommandError::input(format!("{option} {text} is negative or too large"))),
        Err(error) => Err(CommandError::input(format!("{option} {text:?} {error}"))
            .hint(format!("write a number of {currency}: {}", currency.decimal(1_250)))),
    }
}

fn unit_of(book: &Book, code: &str) -> Unit {
    book.materials.iter().find(|row: &&MaterialRow| row.code == code).map_or(Unit::Milligram, |row| row.unit)
}
