//! How long ago files were last proved, for lists of dumps and of sessions.

use std::collections::HashMap;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::proofs::Proved;
use crate::terms::day::DAY_S;
use crate::terms::failure::Failure;
use crate::terms::plural::counted;
use crate::terms::records::Cell;
use crate::terms::time::Utc;

/// Looks up what is proved of dumps, each once.
pub struct ProvedDumps<'c> {
    catalogue: &'c Catalogue,
    now: Utc,
    known: HashMap<i64, Proved>,
    any: bool,
}

impl<'c> ProvedDumps<'c> {
    /// A look-up at this instant.
    pub fn new(catalogue: &'c Catalogue, now: Utc) -> Result<Self, Failure> {
        Ok(Self {
            catalogue,
            now,
            known: HashMap::new(),
            any: catalogue.knows_contents()?,
        })
    }

    /// When the files of these dumps were last proved: the instant of the oldest last check, and how long ago that is. The
    /// instant is unknown unless every file was read back.
    pub fn cells(&mut self, dumps: &[i64]) -> Result<[Cell; 2], Failure> {
        let mut all = Proved::default();
        let mut is_first = true;
        for dump_id in dumps.iter().filter(|_| self.any) {
            let one = match self.known.get(dump_id) {
                Some(one) => *one,
                None => self.catalogue.proved(*dump_id)?,
            };
            self.known.insert(*dump_id, one);
            all.never += one.never;
            all.oldest = match (is_first, all.oldest, one.oldest) {
                (true, _, oldest) => oldest,
                (false, Some(one), Some(other)) => Some(one.min(other)),
                (false, one, other) => one.or(other),
            };
            is_first = false;
        }
        let at = all.oldest.filter(|_| all.never == 0);
        Ok([
            at.map_or(Cell::Unknown, |at| Cell::Text(at.to_string())),
            Cell::Text(words(&all, self.now)),
        ])
    }

    /// The same for the dumps that hold a session's frames.
    pub fn cells_of_session(&mut self, session_id: i64) -> Result<[Cell; 2], Failure> {
        let dumps = if self.any {
            self.catalogue.dumps_of_session(session_id)?
        } else {
            Vec::new()
        };
        self.cells(&dumps)
    }
}

fn words(proved: &Proved, now: Utc) -> String {
    match (proved.oldest, proved.never) {
        (None, _) => "never".to_owned(),
        (Some(_), never @ 1..) => format!("{} never", counted(never, "file")),
        (Some(at), 0) => {
            let days = (now.seconds_since(at) / DAY_S as f64).floor();
            match days {
                ..1.0 => "today".to_owned(),
                1.0..2.0 => "1 day ago".to_owned(),
                days => format!("{days} days ago"),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ages_in_words() {
        let now = Utc::parse("2026-11-30T12:00:00Z").unwrap();
        let at = |text: &str| Utc::parse(text);
        for (oldest, never, expect) in [
            (None, 0, "never"),
            (None, 12, "never"),
            (at("2026-11-30T11:00:00Z"), 0, "today"),
            (at("2026-11-29T11:00:00Z"), 0, "1 day ago"),
            (at("2026-01-01T00:00:00Z"), 0, "333 days ago"),
            (at("2026-01-01T00:00:00Z"), 1, "1 file never"),
            (at("2026-01-01T00:00:00Z"), 3, "3 files never"),
        ] {
            assert_eq!(words(&Proved { oldest, never }, now), expect);
        }
    }
}
