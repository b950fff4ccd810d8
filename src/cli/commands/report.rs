//! `framefall report`: the page appears complete or not at all.

use std::io::Write;

use crate::catalogue::night::NightScope;
use crate::catalogue::purpose::Purpose;
use crate::cli::args::ReportArgs;
use crate::cli::commands::rebuild::warn_if_stale;
use crate::cli::endings::refuse_as_report;
use crate::cli::endings::refuse_to_replace_others;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::setting::Setting;
use crate::output::atomic_file::AtomicFile;
use crate::output::atomic_file::Overwrite;
use crate::output::outside_dumps::refuse_in_dump;
use crate::terms::failure::Failure;
use crate::usecase::dumps::away::away_from;
use crate::usecase::listings::answers::night_named;
use crate::usecase::report::night::night_page;
use crate::usecase::report::season::season_page;
use crate::usecase::report::season::years;
use crate::usecase::report::shown::Pictures;

/// Runs the command.
pub fn run(setting: &Setting, args: &ReportArgs) -> Result<Outcome, Failure> {
    let overwrite = Overwrite::from(args.overwrite);
    let catalogue = setting.open(Purpose::Read)?;
    refuse_in_dump(&catalogue, &args.to)?;
    refuse_as_report(&args.to)?;
    warn_if_stale(&catalogue)?;
    let mut file = AtomicFile::begin(&args.to, overwrite, "report")?;
    refuse_to_replace_others(&args.to)?;
    let pictures = if args.no_pictures {
        Pictures::None
    } else {
        Pictures::Read
    };
    let mut away = Vec::new();
    let page = match &args.of {
        Some(of) => {
            let scope = scope(of)?;
            if pictures == Pictures::Read {
                away = away_from(&catalogue, &scope)?;
            }
            night_page(&catalogue, &scope, pictures)?
        }
        None => season_page(&catalogue, &years(&args.season)?)?,
    };
    let written = file.out().write_all(page.as_bytes());
    written.map_err(|e| file.unwritable(e))?;
    file.keep()?;
    for (label, finding) in &away {
        print::warn(&print::finding_text(label, finding));
    }
    let some_away = u64::try_from(away.len()).unwrap_or(u64::MAX);
    if let Some(cure) = print::cure_text("dump-away", some_away).filter(|_| some_away > 0) {
        print::warn(&cure);
        print::warn("the page lacks their pictures; --no-pictures leaves all pictures out");
    }
    setting.say(&format!(
        "the report was written to {} ({} KB)",
        print::path(&args.to),
        page.len().div_ceil(1000)
    ));
    Ok(Outcome::done(!away.is_empty()))
}

/// A date, or the number of a session.
fn scope(of: &str) -> Result<NightScope, Failure> {
    if let Ok(session) = of.trim().parse() {
        return Ok(NightScope::Session(session));
    }
    night_named(of).map(NightScope::Night).ok_or_else(|| {
        Failure::words(format!(
            "'{of}' is neither a date nor the number of a session"
        ))
        .hint("name the evening, as 2023-12-13, or a session; framefall sessions lists both")
    })
}
