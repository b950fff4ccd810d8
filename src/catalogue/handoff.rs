//! Frames in the order in which they are exported. Accesses no disk.

use rusqlite::Row;
use rusqlite::params_from_iter;

use crate::catalogue::columns::instant_text;
use crate::catalogue::columns::parsed;
use crate::catalogue::failure::failed;
use crate::catalogue::fetch::Bound;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::plan::Needs;
use crate::catalogue::plan::Plan;
use crate::catalogue::plan::Walk;
use crate::catalogue::plan_sql::Statement;
use crate::catalogue::plan_sql::select;
use crate::catalogue::planner::plan;
use crate::catalogue::scale::date_of;
use crate::catalogue::scale::known_format;
use crate::catalogue::scale::numbered;
use crate::catalogue::select::Order;
use crate::catalogue::select::Way;
use crate::query::Checked;
use crate::terms::basis::Health;
use crate::terms::basis::Kind;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field::field_keyed;
use crate::terms::field_kind::Table;
use crate::terms::handoff::HandedFrame;
use crate::terms::time::Utc;
use crate::terms::turn::SessionTurn;
use crate::terms::turn::Turn;
use crate::terms::turn::TurnBasis;

/// How frames are grouped before they are ordered by their starts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grouped {
    /// Not at all.
    Together,
    /// By session; those without one come last.
    BySession,
}

/// Whether to find out which frames have more files than the one shown for them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Further {
    /// Find out.
    Asked,
    /// Report `false` for all.
    NotAsked,
}

/// A frame in a list.
#[derive(Clone, Debug, PartialEq)]
pub struct OrderedFrame {
    /// Its number.
    pub frame_id: i64,
    /// The file shown for it.
    pub first_file_id: i64,
    /// The container of that file.
    pub first_format: &'static str,
    /// The state of that file.
    pub first_health: Health,
    /// Whether it has more files; `false` if that was not requested.
    pub further_files: bool,
    /// When the shutter opened.
    pub start_utc: Option<Utc>,
    /// The middle of the exposure.
    pub mid_utc: Option<Utc>,
    /// Its clock's seconds and the digits of the fraction, by which frames without UTC are ordered.
    pub clock: (Option<i64>, Option<String>),
    /// Its kind.
    pub kind: Option<Kind>,
    /// Its session.
    pub session: Option<i64>,
    /// Its position in it.
    pub seq: Option<i64>,
    /// The turn of the sky since its middle light, where the clock alone does not tell it.
    pub turn: Option<SessionTurn>,
}

/// The state of the catalogue when a list was made, as a few numbers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CatalogueState {
    /// The count of migrations.
    pub schema: i64,
    /// When a dump was last ingested.
    pub latest_ingest_utc: Option<String>,
    /// The highest number of a file, of a session, of a clock fix and of a stated zone: each only ever grows.
    pub newest: [Option<i64>; 4],
}

/// Whether a frame has more files, as SQL.
const FURTHER: &str = "EXISTS (SELECT 1 FROM written_file AS further
                            WHERE further.frame_id = frame.frame_id AND further.frame_id <> further.file_id)";

impl Catalogue {
    /// Passes every frame of a query to `each`, ordered by its start; those without UTC last, by their clocks. Frames
    /// of one instant come in the order of their numbers. `each` may stop the run by returning `false`.
    pub fn frames_in_order(
        &self,
        query: &Checked,
        grouped: Grouped,
        further: Further,
        mut each: impl FnMut(OrderedFrame) -> Result<bool, Failure>,
    ) -> Result<(), Failure> {
        let session = field_keyed("session").map(|session| Order {
            source: ColumnSource::Frame(session),
            way: Way::Up,
        });
        let order = match grouped {
            Grouped::Together => Vec::new(),
            Grouped::BySession => session.into_iter().collect(),
        };
        let ours = |e| failed(&self.path, e);
        let further = match further {
            Further::Asked => FURTHER,
            Further::NotAsked => "0",
        };
        let columns = format!(
            "frame.frame_id, frame.first_file_id, time.start_ms, frame.exposure_s, frame.clock_s, frame.clock_fraction,
             time.kind_no, time.session_id, time.seq, {further}, file.format_no, file.health_no, time.turn_basis, time.turn_deg"
        );
        let ordered = Plan {
            order: Some(order),
            ..plan(query, Needs::of(&[Table::Time, Table::File]), Walk::Free)
        };
        let Statement { sql, values } = select(&columns, &ordered);
        let mut statement = self.db.prepare_cached(&sql).map_err(ours)?;
        let mut rows = statement
            .query(params_from_iter(values.iter().map(Bound)))
            .map_err(ours)?;
        while let Some(row) = rows.next().map_err(ours)? {
            if !each(ordered_frame(row).map_err(ours)?)? {
                break;
            }
        }
        Ok(())
    }

    /// Where an exported frame is filed.
    pub fn handed_frame(&self, frame_id: i64) -> Result<HandedFrame, Failure> {
        self.row(
            "SELECT time.session_id, time.seq, time.night_day, time.kind_no
             FROM written_frame AS frame LEFT JOIN derived_time AS time USING (frame_id)
             WHERE frame.frame_id = ?",
            [frame_id],
            |row| {
                Ok(HandedFrame {
                    session: row.get(0)?,
                    seq: row.get(1)?,
                    night: row.get::<_, Option<i64>>(2)?.and_then(date_of),
                    kind: numbered(row.get(3)?),
                })
            },
        )
    }

    /// The state of the catalogue, as a few numbers.
    pub fn state(&self) -> Result<CatalogueState, Failure> {
        self.step(|db| {
            let newest = |sql: &str| db.query_row(sql, [], |row| row.get(0));
            Ok(CatalogueState {
                schema: db.pragma_query_value(None, "user_version", |row| row.get(0))?,
                latest_ingest_utc: db.query_row(
                    "SELECT max(last_seen_ms) FROM written_dump",
                    [],
                    |row| instant_text(row, 0),
                )?,
                newest: [
                    newest("SELECT max(file_id) FROM written_file")?,
                    newest("SELECT max(session_id) FROM given_session")?,
                    newest("SELECT max(fix_id) FROM stated_clock_fix")?,
                    newest("SELECT max(zone_id) FROM stated_clock_zone")?,
                ],
            })
        })
    }
}

fn ordered_frame(row: &Row<'_>) -> rusqlite::Result<OrderedFrame> {
    let start_utc = row.get::<_, Option<i64>>(2)?.and_then(Utc::from_unix_ms);
    let exposure_s: Option<f64> = row.get(3)?;
    let session: Option<i64> = row.get(7)?;
    let turn = || -> rusqlite::Result<Option<SessionTurn>> {
        let basis = parsed(row, 12, TurnBasis::from_word)?;
        let turn = basis
            .zip(row.get(13)?)
            .map(|(basis, deg)| Turn { deg, basis });
        let of = |(session, turn)| SessionTurn { session, turn };
        Ok(session.zip(turn).map(of))
    };
    Ok(OrderedFrame {
        turn: turn()?,
        frame_id: row.get(0)?,
        first_file_id: row.get(1)?,
        start_utc,
        mid_utc: start_utc.and_then(|at| at.plus_s(exposure_s.unwrap_or(0.0) / 2.0)),
        clock: (row.get(4)?, row.get(5)?),
        kind: numbered(row.get(6)?),
        session,
        seq: row.get(8)?,
        further_files: row.get(9)?,
        first_format: row
            .get::<_, Option<i64>>(10)?
            .map_or("unknown", known_format),
        first_health: numbered(row.get(11)?).unwrap_or(Health::Unreadable),
    })
}
