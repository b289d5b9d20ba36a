//! What was found for a material before, among the same orders of those who sell it: the search comes back to the same place often.

use super::books::Column;
use super::mixes::Stir;
use std::collections::HashMap;
use std::hash::BuildHasherDefault;

/// So many answers are remembered at the most.
const REMEMBERED: usize = 1 << 15;

/// The cheapest column that was found below a limit, with its cost.
#[derive(Debug)]
struct Answer {
    limit: f64,
    column: Option<(Column, f64)>,
}

/// Material and mark of the orders.
type Question = (usize, u64);

/// The answers.
#[derive(Debug, Default)]
pub(super) struct Memory {
    answers: HashMap<Question, Answer, BuildHasherDefault<Stir>>,
}

impl Memory {
    /// What was found below a limit, or `None` where nobody has looked.
    #[must_use]
    pub fn find(&self, question: Question, limit: f64) -> Option<Option<&Column>> {
        let answer = self.answers.get(&question)?;
        match &answer.column {
            Some((column, cost)) => Some((*cost < limit).then_some(column)),
            None => (limit <= answer.limit).then_some(None),
        }
    }

    /// Remembers what was found below a limit.
    pub fn keep(&mut self, question: Question, limit: f64, column: Option<(&Column, f64)>) {
        if self.answers.len() >= REMEMBERED {
            self.answers.clear();
        }
        let column = column.map(|(column, cost)| (column.clone(), cost));
        self.answers.insert(question, Answer { limit, column });
    }
}
