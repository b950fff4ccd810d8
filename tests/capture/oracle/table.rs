//! The count of what came of every field, and its print.

use std::collections::{BTreeMap, BTreeSet};

/// What came of one field of one file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Came {
    Same,
    BothSilent,
    /// The libraries differ: not decided by them.
    Disputed,
    /// The value comes from where we do not look: maker notes, tables of lens numbers.
    Declined,
    Excepted,
    Differs,
}

pub struct Table {
    /// How often each came of each field.
    pub counts: BTreeMap<(&'static str, Came), usize>,
    /// The exceptions that were needed, by their number.
    pub used: BTreeSet<usize>,
    /// What differs, in words.
    pub differences: Vec<String>,
}

impl Table {
    pub fn new() -> Self {
        Self {
            counts: BTreeMap::new(),
            used: BTreeSet::new(),
            differences: Vec::new(),
        }
    }

    pub fn note(&mut self, field: &'static str, came: Came) {
        *self.counts.entry((field, came)).or_default() += 1;
    }

    pub fn print(&self) {
        let mut fields: Vec<&str> = self.counts.keys().map(|(field, _)| *field).collect();
        fields.dedup();
        println!(
            "{:<24} {:>6} {:>8} {:>8} {:>8} {:>8} {:>8}",
            "field", "same", "silent", "disputed", "declined", "excepted", "differs"
        );
        for field in fields {
            let of = |came| {
                self.counts
                    .iter()
                    .filter(|((f, c), _)| *f == field && *c == came)
                    .map(|(_, n)| n)
                    .sum::<usize>()
            };
            println!(
                "{field:<24} {:>6} {:>8} {:>8} {:>8} {:>8} {:>8}",
                of(Came::Same),
                of(Came::BothSilent),
                of(Came::Disputed),
                of(Came::Declined),
                of(Came::Excepted),
                of(Came::Differs)
            );
        }
        for line in &self.differences {
            println!("{line}");
        }
    }
}
