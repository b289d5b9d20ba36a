//! The columns that acts change besides the ledger: where each stands, what is in it as text, and how it is set.

use super::error::StoreError;
use rusqlite::{Connection, OptionalExtension};

/// Where a change applies: `lot`, its code, no part, `place`, say.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spot<'a> {
    pub(super) what: &'a str,
    pub(super) code: &'a str,
    pub(super) part: &'a str,
    pub(super) field: &'a str,
}

impl<'a> Spot<'a> {
    pub(super) fn lot(code: &'a str, field: &'a str) -> Self {
        Self { what: "lot", code, part: "", field }
    }

    pub(super) fn order(code: &'a str, part: &'a str, field: &'a str) -> Self {
        Self { what: "order", code, part, field }
    }

    pub(super) fn plan(code: &'a str, field: &'a str) -> Self {
        Self { what: "plan", code, part: "", field }
    }

    pub(super) fn batch(code: &'a str) -> Self {
        Self { what: "batch", code, part: "", field: "stands" }
    }

    /// The state of its finished pieces.
    pub(super) fn pieces_of(code: &'a str) -> Self {
        Self { what: "batch", code, part: "", field: "state" }
    }

    pub(super) fn formula(code: &'a str, version: &'a str) -> Self {
        Self { what: "formula", code, part: version, field: "stands" }
    }

    pub(super) fn wish(code: &'a str) -> Self {
        Self { what: "wish", code, part: "", field: "stands" }
    }

    /// The name of the thing in a sentence: `lot L-0042`.
    pub(super) fn named(self) -> String {
        if self.what == "formula" {
            return format!("formula {}, version {}", self.code, self.part);
        }
        let word = if self.what == "plan" { "plan entry" } else { self.what };
        match self.part.split_once(' ') {
            Some((_, material)) => format!("{material} in order {}", self.code),
            None => format!("{word} {}", self.code),
        }
    }

    /// What stands there; `None` where there is no such thing in the store.
    pub(super) fn current(self, connection: &Connection) -> Result<Option<String>, StoreError> {
        let Some((table, key)) = table(self.what) else { return Ok(None) };
        let Some((read, _)) = column(self.what, self.field) else { return Ok(None) };
        let sql = format!("SELECT {read} FROM {table} WHERE {key}");
        let found = connection.prepare_cached(&sql)?.query_row([self.code, self.part], |row| row.get(0));
        Ok(found.optional()?)
    }

    /// Puts a value there, in the form in which [`Spot::current`] gives it.
    pub(super) fn set(self, connection: &Connection, value: &str) -> Result<(), StoreError> {
        let Some((table, key)) = table(self.what) else { return Ok(()) };
        let Some((_, write)) = column(self.what, self.field) else { return Ok(()) };
        let sql = format!("UPDATE {table} SET {write} WHERE {key}");
        connection.prepare_cached(&sql)?.execute([self.code, self.part, value])?;
        Ok(())
    }
}

/// The table of a kind of thing, and what tells its rows apart: `?1` is the code, `?2` the part.
fn table(what: &str) -> Option<(&'static str, &'static str)> {
    Some(match what {
        "lot" => ("lots", "lot = ?1 AND ?2 = ''"),
        "order" => (
            "order_lines",
            "order_code = ?1 AND material = substr(?2, instr(?2, ' ') + 1)
                AND pack = CAST(substr(?2, 1, instr(?2, ' ') - 1) AS INTEGER)",
        ),
        "plan" => ("plan", "entry = ?1 AND ?2 = ''"),
        "batch" => ("batches", "batch = ?1 AND ?2 = ''"),
        "formula" => ("formula_lines", "formula = ?1 AND version = ?2"),
        "wish" => ("wishes", "wish = ?1 AND ?2 = ''"),
        _ => return None,
    })
}

/// How a field is read as text, and how the text `?3` is written back.
fn column(what: &str, field: &str) -> Option<(&'static str, &'static str)> {
    Some(match (what, field) {
        ("lot", "state") => ("state", "state = ?3"),
        ("lot", "opened") => ("coalesce(opened, '')", "opened = nullif(?3, '')"),
        ("lot", "best_before") => ("coalesce(best_before, '')", "best_before = nullif(?3, '')"),
        ("lot", "place") => ("place", "place = ?3"),
        ("order", "stands") => ("iif(cancelled, '', 'yes')", "cancelled = (?3 = '')"),
        ("order", "packs_received") => ("CAST(packs_received AS TEXT)", "packs_received = CAST(?3 AS INTEGER)"),
        ("plan", "stands") => ("iif(dropped, '', 'yes')", "dropped = (?3 = '')"),
        ("plan", "when") => (
            "day_kind || ' ' || day",
            "day_kind = substr(?3, 1, instr(?3, ' ') - 1), day = substr(?3, instr(?3, ' ') + 1)",
        ),
        ("plan", "amount") => (
            "amount_kind || ' ' || amount",
            "amount_kind = substr(?3, 1, instr(?3, ' ') - 1),
                amount = CAST(substr(?3, instr(?3, ' ') + 1) AS INTEGER)",
        ),
        ("batch", "state") => ("state", "state = ?3"),
        ("batch", "stands") => ("iif(undone, '', 'yes')", "undone = (?3 = '')"),
        ("formula", "stands") => ("iif(withdrawn, '', 'yes')", "withdrawn = (?3 = '')"),
        ("wish", "stands") => ("iif(lifted, '', 'yes')", "lifted = (?3 = '')"),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::rows::CHANGED_FIELDS;

    #[test]
    fn every_field_that_files_may_name_has_its_column() {
        for (what, fields) in CHANGED_FIELDS {
            assert!(table(what).is_some(), "{what}");
            for field in fields {
                assert!(column(what, field).is_some(), "{what} {field}");
            }
        }
        assert!(column("lot", "cost").is_none() && table("supplier").is_none());
    }
}
