//! Every body, as a small sheet: what it took, when, and what is stated of its clock.

use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::FieldKind::Whole;
use crate::terms::field_kind::Unit;
use crate::terms::records::Cell;
use crate::terms::sheet::Sheet;
use crate::usecase::clocks::bodies::body_names;

#[rustfmt::skip] // a row a column
const BODIES: &[Field] = &[
    sheet_column("camera", "camera", Text, 0).rank(0),
    sheet_column("make", "make", Text, 0).rank(6),
    sheet_column("model", "model", Text, 0).rank(6),
    sheet_column("serial", "serial", Text, 0).rank(5),
    sheet_column("frames", "frames", Whole(Unit::One), 0).rank(0),
    sheet_column("first night", "first_night", Text, 0).rank(1),
    sheet_column("last night", "last_night", Text, 0).rank(1),
    sheet_column("nights", "nights", Whole(Unit::One), 0).rank(4),
    sheet_column("clock fixes", "clock_fixes", Whole(Unit::One), 0).rank(3),
    sheet_column("clock zones", "clock_zones", Whole(Unit::One), 0).rank(3),
    sheet_column("name for commands", "named", Text, 0).rank(0),
];

/// Every body that took a frame, or of which something is stated.
pub fn bodies(catalogue: &Catalogue) -> Result<Sheet, Failure> {
    let whole = |count: usize| Cell::Whole(i64::try_from(count).unwrap_or(i64::MAX));
    let text = |known: Option<String>| known.map_or(Cell::Unknown, Cell::Text);
    let names = body_names(catalogue)?;
    let mut nights = catalogue.body_nights()?;
    let mut rows = Vec::new();
    for camera in catalogue.cameras()? {
        let id = camera.camera_id;
        let took = nights.remove(&id).unwrap_or_default();
        let fixes = catalogue.clock_fixes(id)?.len();
        let zones = catalogue.clock_zones(id)?.len();
        if took.frames == 0 && fixes + zones == 0 {
            continue;
        }
        rows.push(vec![
            Cell::Text(camera.name),
            text(camera.make),
            text(camera.model),
            text(camera.serial),
            Cell::Whole(took.frames),
            text(took.first),
            text(took.last),
            Cell::Whole(took.nights),
            whole(fixes),
            whole(zones),
            text(names.get(&id).cloned()),
        ]);
    }
    Ok(Sheet {
        columns: BODIES,
        rows,
        when_empty: "no bodies yet; run framefall ingest DUMP first",
    })
}
