//! Trails that were found in pictures, and the state of their sky: in and out. Computes no value.

use std::rc::Rc;

use rusqlite::Connection;
use rusqlite::Row;
use rusqlite::ToSql;
use rusqlite::params;
use rusqlite::types::Value;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::parsed;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::night::NightScope;
use crate::catalogue::run_sql::RunSql;
use crate::terms::failure::Failure;
use crate::terms::found_trail::FoundTrail;
use crate::terms::found_trail::LightCurve;
use crate::terms::found_trail::SearchedFrame;
use crate::terms::found_trail::SessionSky;
use crate::terms::found_trail::TrailClass;
use crate::terms::found_trail::TrailEvidence;

/// Hundredths of a pixel, as stated trails are kept.
pub(super) const PARTS: f64 = 100.0;

/// The columns of a found trail's evidence, in the order in which they are read and written.
const EVIDENCE: &str =
    "line_snr, mean_snr, peak_snr, peak_at, lit, seen, off_line_px, bend_px, width_px, beside, ends, lopsided, peaks, unrest, starry,
    edge, goes_on, goes_on_both, goes_on_far, on_line, stays, twin, others, neighbours, linked, again, crowd, dashes, chain, light_curve";

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

impl Catalogue {
    /// Whether a frame was searched for trails by this edition of the search.
    pub fn is_searched(&self, frame_id: i64, edition: u32) -> Result<bool, Failure> {
        self.step(|db| {
            db.prepare_cached("SELECT 1 FROM measured_search WHERE frame_id = ? AND edition >= ?")?
                .exists(params![frame_id, edition])
        })
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
        Ok(self
            .row_if_any(
                "SELECT signs FROM measured_search WHERE frame_id = ?",
                [frame_id],
                |row| row.get::<_, Option<String>>(0),
            )?
            .flatten())
    }

    /// The sky of frames that were searched, of one session or of all: session by session, in order of time.
    pub fn session_skies(&self, session_id: Option<i64>) -> Result<Vec<SessionSky>, Failure> {
        self.rows(
            "SELECT search.frame_id, time.session_id, file.name, search.clear, ifnull(search.signs, '')
             FROM measured_search AS search
             JOIN derived_time AS time USING (frame_id)
             JOIN written_frame AS frame USING (frame_id)
             JOIN written_file AS file ON file.file_id = frame.first_file_id
             WHERE time.session_id = ?1 OR ?1 IS NULL AND time.session_id IS NOT NULL
             ORDER BY time.session_id, ifnull(time.start_ms, frame.clock_s * 1000), search.frame_id",
            [session_id],
            |row| {
                Ok(SessionSky {
                    frame_id: row.get(0)?,
                    session_id: row.get(1)?,
                    file: row.get(2)?,
                    clear: row.get(3)?,
                    signs: row.get(4)?,
                })
            },
        )
    }

    fn kept_trails(&self, from: &str, value: impl ToSql) -> Result<Vec<KeptTrail>, Failure> {
        self.rows(
            &format!(
                "SELECT trail.trail_id, trail.frame_id, from_x, from_y, to_x, to_y, class, score, light, {EVIDENCE}
                 FROM {from} ORDER BY score DESC, trail.trail_id"
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
    for sql in [
        "DELETE FROM measured_trail WHERE frame_id = ?",
        "DELETE FROM measured_search WHERE frame_id = ?",
    ] {
        db.prepare_cached(sql)?.execute([frame_id])?;
    }
    Ok(())
}

#[allow(clippy::cast_possible_truncation)] // pixels of a picture
fn put(db: &Connection, frame_id: i64, trail: &FoundTrail) -> rusqlite::Result<()> {
    let part = |px: f64| (px * PARTS).round() as i64;
    let e = &trail.evidence;
    db.prepare_cached(&format!(
        "INSERT INTO measured_trail (frame_id, from_x, from_y, to_x, to_y, class, score, light, {EVIDENCE})
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
    ))?
    .execute(params![
        frame_id,
        part(trail.from_px.0),
        part(trail.from_px.1),
        part(trail.to_px.0),
        part(trail.to_px.1),
        trail.class.word(),
        trail.score,
        trail.light,
        e.line_snr,
        e.mean_snr,
        e.peak_snr,
        e.peak_at,
        e.lit,
        e.seen,
        e.off_line_px,
        e.bend_px,
        e.width_px,
        e.beside,
        e.ends,
        e.lopsided,
        e.peaks,
        e.unrest,
        e.starry,
        e.edge,
        e.goes_on,
        e.goes_on_both,
        e.goes_on_far,
        e.on_line,
        e.stays,
        e.twin,
        e.others,
        e.neighbours,
        e.linked,
        e.again,
        e.crowd,
        e.dashes,
        e.chain,
        trail.light_curve.words(),
    ])?;
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
                line_snr: row.get(9)?,
                mean_snr: row.get(10)?,
                peak_snr: row.get(11)?,
                peak_at: row.get(12)?,
                lit: row.get(13)?,
                seen: row.get(14)?,
                off_line_px: row.get(15)?,
                bend_px: row.get(16)?,
                width_px: row.get(17)?,
                beside: row.get(18)?,
                ends: row.get(19)?,
                lopsided: row.get(20)?,
                peaks: row.get(21)?,
                unrest: row.get(22)?,
                starry: row.get(23)?,
                edge: row.get(24)?,
                goes_on: row.get(25)?,
                goes_on_both: row.get(26)?,
                goes_on_far: row.get(27)?,
                on_line: row.get(28)?,
                stays: row.get(29)?,
                twin: row.get(30)?,
                others: row.get(31)?,
                neighbours: row.get(32)?,
                linked: row.get(33)?,
                again: row.get(34)?,
                crowd: row.get(35)?,
                dashes: row.get(36)?,
                chain: row.get(37)?,
            },
            light_curve: parsed(row, 38, LightCurve::from_words)?.unwrap_or_default(),
        },
    })
}
