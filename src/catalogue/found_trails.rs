//! Trails that were found in pictures, and the state of their sky: in and out. Computes no value.

use std::rc::Rc;

use rusqlite::Connection;
use rusqlite::Row;
use rusqlite::ToSql;
use rusqlite::params;
use rusqlite::types::Value;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::Columns;
use crate::catalogue::columns::columns;
use crate::catalogue::columns::parsed;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::night::NightScope;
use crate::catalogue::run_sql::forget;
use crate::terms::failure::Failure;
use crate::terms::found_trail::FoundTrail;
use crate::terms::found_trail::LightCurve;
use crate::terms::found_trail::SearchedFrame;
use crate::terms::found_trail::SessionSky;
use crate::terms::found_trail::TrailClass;
use crate::terms::found_trail::TrailEvidence;

/// Hundredths of a pixel, as stated trails are kept.
pub(super) const PARTS: f64 = 100.0;

/// Passes the evidence of a found trail that is kept on to a macro: the fields are named as the columns are.
macro_rules! evidence {
    ($with:ident) => {
        $with! {
            line_snr mean_snr peak_snr peak_at lit seen off_line_px bend_px width_px beside ends lopsided peaks unrest starry edge
            goes_on goes_on_both goes_on_far on_line stays twin others neighbours linked again crowd dashes chain
        }
    };
}
macro_rules! named {
    ($($field:ident)*) => { concat!($(stringify!($field), ", "),*) };
}
macro_rules! read_and_put {
    ($($field:ident)*) => {
        columns!(TrailEvidence: $($field)*; length_px: 0.0);

        fn values_of(evidence: &TrailEvidence) -> Vec<&dyn ToSql> {
            vec![$(&evidence.$field),*]
        }
    };
}
evidence!(read_and_put);

/// The columns of a found trail.
const COLUMNS: &str = concat!(
    "frame_id, from_x, from_y, to_x, to_y, class, score, light, ",
    evidence!(named),
    "light_curve"
);

/// A found trail as it is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptTrail {
    /// Its number in this catalogue.
    pub trail_id: i64,
    /// The frame it is in.
    pub frame_id: i64,
    /// The trail.
    pub trail: FoundTrail,
}

columns!(SessionSky: frame_id session_id file clear signs);

impl Catalogue {
    /// Whether a frame was searched for trails by this edition of the search.
    pub fn is_searched(&self, frame_id: i64, edition: u32) -> Result<bool, Failure> {
        self.exists(
            "SELECT 1 FROM measured_search WHERE frame_id = ? AND edition >= ?",
            params![frame_id, edition],
        )
    }

    /// The trails that were found in a frame and that nobody has stated, the likeliest meteor first.
    pub fn found_trails(&self, frame_id: i64) -> Result<Vec<KeptTrail>, Failure> {
        self.kept_trails("found_trail AS trail WHERE trail.frame_id = ?", frame_id)
    }

    /// The found trails in frames of a night or a session that are taken for meteors and that nobody has stated: the likeliest first,
    /// at most so many, and how many there are.
    pub fn night_candidates(
        &self,
        scope: &NightScope,
        most: usize,
    ) -> Result<(Vec<KeptTrail>, usize), Failure> {
        let from = format!(
            "derived_time AS time CROSS JOIN found_trail AS trail ON trail.frame_id = time.frame_id
             WHERE {} AND trail.class = 'meteor'",
            scope.condition()
        );
        let mut all = self.kept_trails(&from, scope.value())?;
        let count = all.len();
        all.truncate(most);
        Ok((all, count))
    }

    /// The found trail of that number, whether it was stated or not.
    pub fn found_trail(&self, trail_id: i64) -> Result<Option<KeptTrail>, Failure> {
        Ok(self
            .kept_trails("measured_trail AS trail WHERE trail.trail_id = ?", trail_id)?
            .pop())
    }

    /// What is noticed of a frame's sky: words, separated by spaces.
    pub fn sky_signs(&self, frame_id: i64) -> Result<Option<String>, Failure> {
        let sql = "SELECT signs FROM measured_search WHERE frame_id = ?";
        let signs: Option<Option<String>> = self.one_if_any(sql, [frame_id])?;
        Ok(signs.flatten())
    }

    /// The sky of frames that were searched, of one session or of all: session by session, in order of time.
    pub fn session_skies(&self, session_id: Option<i64>) -> Result<Vec<SessionSky>, Failure> {
        self.all(
            "SELECT search.frame_id, time.session_id, file.name, search.clear, ifnull(search.signs, '')
             FROM measured_search AS search
             JOIN derived_time AS time USING (frame_id)
             JOIN written_frame AS frame USING (frame_id)
             JOIN written_file AS file ON file.file_id = frame.first_file_id
             WHERE time.session_id = ?1 OR ?1 IS NULL AND time.session_id IS NOT NULL
             ORDER BY time.session_id, ifnull(time.start_ms, frame.clock_s * 1000), search.frame_id",
            [session_id],
        )
    }

    fn kept_trails(&self, from: &str, value: impl ToSql) -> Result<Vec<KeptTrail>, Failure> {
        self.rows(
            &format!(
                "SELECT trail.trail_id, trail.{COLUMNS} FROM {from} ORDER BY score DESC, trail.trail_id"
            ),
            [value],
            kept,
        )
    }
}

impl Batch<'_> {
    /// Puts in what the search gave for a frame, in place of what an earlier search gave.
    pub fn put_search(&self, frame_id: i64, searched: &SearchedFrame) -> Result<(), Failure> {
        self.step(|db| {
            forget_trails(db, frame_id)?;
            let signs = searched.signs.join(" ");
            db.prepare_cached(
                "INSERT INTO measured_search (frame_id, edition, why_not, began, at_end, clear, sky_stops, signs)
                 VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            )?
            .execute(params![
                frame_id,
                searched.edition,
                searched.why_not,
                searched.began,
                searched.at_end,
                searched.clear,
                searched.sky_stops,
                (!signs.is_empty()).then_some(signs),
            ])?;
            searched
                .trails
                .iter()
                .try_for_each(|trail| put(db, frame_id, trail))
        })
    }
}

/// Forgets what the search gave for a frame.
pub(super) fn forget_trails(db: &Connection, frame_id: i64) -> rusqlite::Result<()> {
    forget(
        db,
        &[
            "DELETE FROM measured_trail WHERE frame_id = ?",
            "DELETE FROM measured_search WHERE frame_id = ?",
        ],
        frame_id,
    )
}

#[allow(clippy::cast_possible_truncation)] // pixels of a picture
fn put(db: &Connection, frame_id: i64, trail: &FoundTrail) -> rusqlite::Result<()> {
    let part = |px: f64| (px * PARTS).round() as i64;
    let ends = [
        trail.from_px.0,
        trail.from_px.1,
        trail.to_px.0,
        trail.to_px.1,
    ]
    .map(part);
    let (class, light_curve) = (trail.class.word(), trail.light_curve.words());
    let mut values: Vec<&dyn ToSql> = vec![&frame_id];
    values.extend(ends.iter().map(|end| end as &dyn ToSql));
    values.extend([&class as &dyn ToSql, &trail.score, &trail.light]);
    values.extend(values_of(&trail.evidence));
    values.push(&light_curve);
    let places = vec!["?"; values.len()].join(", ");
    db.prepare_cached(&format!(
        "INSERT INTO measured_trail ({COLUMNS}) VALUES ({places})"
    ))?
    .execute(&*values)?;
    Ok(())
}

/// Numbers as a table of SQL.
pub(super) fn list(numbers: &[i64]) -> Rc<Vec<Value>> {
    Rc::new(numbers.iter().copied().map(Value::Integer).collect())
}

fn kept(row: &Row<'_>) -> rusqlite::Result<KeptTrail> {
    let part = |at: usize| row.get::<_, f64>(at).map(|parts| parts / PARTS);
    let (from_px, to_px) = ((part(2)?, part(3)?), (part(4)?, part(5)?));
    #[allow(clippy::cast_possible_truncation)] // within a picture
    let length_px = (to_px.0 - from_px.0).hypot(to_px.1 - from_px.1) as f32;
    Ok(KeptTrail {
        trail_id: row.get(0)?,
        frame_id: row.get(1)?,
        trail: FoundTrail {
            from_px,
            to_px,
            class: parsed(row, 6, TrailClass::from_word)?.unwrap_or(TrailClass::OtherLight),
            score: row.get(7)?,
            light: row.get(8)?,
            evidence: TrailEvidence {
                length_px,
                ..Columns::from(row, 9).next()?
            },
            light_curve: parsed(row, 38, LightCurve::from_words)?.unwrap_or_default(),
        },
    })
}
