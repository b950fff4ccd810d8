//! Times in a table for people: local times under a line that names their zone, each with its offset where there are several
//! zones; hours and minutes alone if the screen is narrow and the night is in another column. Writes nothing.

use crate::framelist::cell;
use crate::framelist::keys::Column;
use crate::terms::field_kind::FieldKind;

/// The length of `2023-12-14 01:12:07`.
const DATE_AND_TIME: usize = 19;

/// Where in it hour and minute are.
const HOUR_AND_MINUTE: std::ops::Range<usize> = 11..16;

/// How the times of a table are shown.
#[derive(Default)]
pub(super) struct Times {
    /// The column that holds each row's zone, and is not shown.
    pub zone_at: Option<usize>,
    /// The zone of all rows that were held back.
    zone: Option<String>,
    /// Whether they have several.
    offsets: bool,
    /// Whether hours and minutes must do.
    short: bool,
}

impl Times {
    /// As these columns have them.
    pub fn of(columns: &[Column]) -> Self {
        let local = columns.iter().any(is_local);
        let zone_at = columns.iter().position(Column::is_zone_aside);
        Self {
            zone_at: zone_at.filter(|_| local),
            ..Self::default()
        }
    }

    /// Takes the zone of all rows, where there is one.
    pub fn take_zone(&mut self, rows: &[Vec<String>]) {
        let Some(at) = self.zone_at else {
            return;
        };
        let zones = rows.iter().filter_map(|texts| texts.get(at));
        let mut known = zones.filter(|zone| *zone != cell::UNKNOWN);
        let first = known.next().cloned();
        self.offsets = known.any(|zone| Some(zone) != first.as_ref());
        self.zone = first.filter(|_| !self.offsets);
    }

    /// Shows hours and minutes alone from now on, where a column of nights says the rest. Whether it does.
    pub fn shorten(&mut self, columns: &[Column]) -> bool {
        self.short = columns.iter().any(|column| column.field().key == "night");
        self.short
    }

    /// Leaves out what the line above or another column says.
    pub fn show(&self, columns: &[Column], texts: &mut [String]) {
        let zone = self.zone_at.and_then(|at| texts.get(at));
        let is_named = self.zone.is_some() && zone == self.zone.as_ref();
        for (text, column) in texts.iter_mut().zip(columns).filter(|(_, c)| is_time(c)) {
            if is_named && is_local(column) {
                text.truncate(DATE_AND_TIME);
            }
            if let Some(time) = text
                .get(HOUR_AND_MINUTE)
                .filter(|_| self.short && is_of_night(column))
            {
                // The offset at the end of a session is that at its start, but in one or two nights of a year.
                let kept = is_local(column) && !column.key.starts_with("end_");
                let offset = text.get(DATE_AND_TIME..).filter(|_| kept);
                *text = format!("{time}{}", offset.unwrap_or_default());
            }
        }
    }

    /// The line above the heading, with its end: whose time the times are.
    pub fn note(&self, columns: &[Column]) -> String {
        let names = |wanted: fn(&Column) -> bool| {
            let shown = columns.iter().filter(|column| wanted(column));
            let headings: Vec<&str> = shown.map(|column| column.heading.as_str()).collect();
            headings.join(", ")
        };
        match &self.zone {
            Some(zone) => format!("{}: time at the site, {zone}\n", names(is_local)),
            None if self.offsets => {
                format!(
                    "{}: time at the site, with its offset from UTC\n",
                    names(is_local)
                )
            }
            None if self.short && columns.iter().any(is_utc) => format!("{}: UTC\n", names(is_utc)),
            None => String::new(),
        }
    }
}

/// Whether a column holds times.
fn is_time(column: &Column) -> bool {
    is_local(column) || is_utc(column)
}

const fn is_local(column: &Column) -> bool {
    matches!(column.field().kind, FieldKind::Local)
}

fn is_utc(column: &Column) -> bool {
    matches!(column.field().kind, FieldKind::Instant) && is_of_night(column)
}

/// Whether its times are within the night of their row.
fn is_of_night(column: &Column) -> bool {
    column.key.starts_with("start_") || column.key.starts_with("end_")
}
