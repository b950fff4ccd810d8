//! `framefall showers`.

use crate::catalogue::purpose::Purpose;
use crate::cli::args::ShowersArgs;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::setting::Setting;
use crate::framelist::Format;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;
use crate::usecase::listings::one_shower::one_shower;
use crate::usecase::listings::showers::Which;
use crate::usecase::listings::showers::shower_sheet;
use crate::usecase::sites::book::site_named;

/// Runs the command.
pub fn run(setting: &Setting, args: &ShowersArgs) -> Result<Outcome, Failure> {
    let at = match &args.on {
        Some(said) => instant(said)?,
        None => now()?,
    };
    let site = match &args.site {
        Some(name) => Some(site_named(&setting.open(Purpose::Read)?, name)?),
        None => None,
    };
    if let Some(named) = &args.shower {
        let sheet = one_shower(named, at, site.as_ref())?;
        if args.form == Format::Table {
            print::answer(|out| print::pairs(out, &print::labelled(&sheet)))?;
        } else {
            print::sheet(sheet, args.form)?;
        }
        return Ok(Outcome::Done);
    }
    let which = if args.all { Which::All } else { Which::Active };
    print::sheet(shower_sheet(at, site.as_ref(), which)?, args.form)?;
    Ok(Outcome::Done)
}

/// Parses an instant, or a date as its 0h UTC.
fn instant(said: &str) -> Result<Utc, Failure> {
    let day = WallTime::parse(&format!("{said}T00:00:00"))
        .and_then(|_| Utc::parse(&format!("{said}T00:00:00Z")));
    day.or_else(|| Utc::parse(said)).ok_or_else(|| {
        Failure::words(format!("'{said}' is not an instant"))
            .hint("write a date, 2026-12-14, or an instant with its offset, 2026-12-14T02:00Z")
    })
}
