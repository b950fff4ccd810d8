//! `framefall pointing`.

use crate::catalogue::purpose::Purpose;
use crate::cli::args_examine::PointingArgs;
use crate::cli::commands::rebuild::warn_if_stale;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::setting::Setting;
use crate::terms::failure::Failure;
use crate::usecase::examine::scope::lights_of;
use crate::usecase::examine::sessions::pointing_sheet;
use crate::usecase::listings::frames::why_none;

/// Runs the command.
pub fn run(setting: &Setting, args: &PointingArgs) -> Result<Outcome, Failure> {
    let catalogue = setting.open(Purpose::Read)?;
    let compiled = lights_of(&catalogue, args.of.as_deref())?;
    warn_if_stale(&catalogue)?;
    let sheet = pointing_sheet(&catalogue, &compiled)?;
    let none = sheet.rows.is_empty();
    print::sheet(sheet, args.form)?;
    if none {
        print::warn(&why_none(&catalogue, &compiled)?);
        return Ok(Outcome::NeedsAttention);
    }
    Ok(Outcome::Done)
}
