//! The statements as a sheet, and as lines for a file.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::statements::LogRow;
use crate::framelist::statement_line;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Instant;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::FieldKind::Whole;
use crate::terms::field_kind::Unit;
use crate::terms::records::Cell;
use crate::terms::sheet::Sheet;
use crate::terms::statement::Statement;
use crate::usecase::statements::logged::act_of;
use crate::usecase::statements::words::act_words;

#[rustfmt::skip] // a row a column
const STATEMENTS: &[Field] = &[
    sheet_column("number", "number", Whole(Unit::One), 0).rank(0),
    sheet_column("stated", "stated_utc", Instant, 0).rank(1),
    sheet_column("what", "what", Text, 0).rank(0),
    sheet_column("content", "content", Text, 0).rank(0),
    sheet_column("frames", "frames", Whole(Unit::One), 0).rank(1),
    sheet_column("not here", "frames_not_here", Whole(Unit::One), 0).rank(4),
    sheet_column("takes back", "takes_back", Whole(Unit::One), 0).rank(3),
    sheet_column("taken back by", "taken_back_by", Whole(Unit::One), 0).rank(2),
];

/// Every statement, in the order in which they took effect.
pub fn statements(catalogue: &Catalogue) -> Result<Sheet, Failure> {
    let whole = |number: Option<i64>| number.map_or(Cell::Unknown, Cell::Whole);
    let mut rows = Vec::new();
    for row in catalogue.statements()? {
        let act = act_of(&row)?;
        let of_frames = act.is_of_frames();
        rows.push(vec![
            Cell::Whole(row.number),
            row.stated
                .map_or(Cell::Unknown, |at| Cell::Text(at.to_string())),
            Cell::Text(row.word),
            Cell::Text(act_words(&act)),
            whole(of_frames.then_some(row.frames)),
            whole(of_frames.then_some(row.not_here)),
            whole(row.takes_back),
            whole(row.taken_back_by),
        ]);
    }
    Ok(Sheet {
        columns: STATEMENTS,
        rows,
        when_empty: "no statements yet; sites, clocks, kinds and saved queries that you state are \
                     listed here",
    })
}

/// Every statement as a line, in the order in which they took effect; returns how many.
pub fn statement_lines(
    catalogue: &Catalogue,
    line: &mut dyn FnMut(&str) -> Result<(), Failure>,
) -> Result<u64, Failure> {
    let rows = catalogue.statements()?;
    for row in &rows {
        let statement = Statement {
            id: row.id,
            stated: row.stated,
            act: act_of(row)?,
            takes_back: row.takes_back.and_then(|number| id_of(&rows, number)),
            frames: catalogue.statement_frames(row.number)?,
        };
        line(&statement_line(&statement))?;
    }
    Ok(rows.len() as u64)
}

fn id_of(rows: &[LogRow], number: i64) -> Option<[u8; 16]> {
    let at = rows.binary_search_by_key(&number, |row| row.number).ok()?;
    Some(rows[at].id)
}
