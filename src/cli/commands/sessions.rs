//! `framefall sessions`.

use std::io::Write;

use crate::catalogue::open::Catalogue;
use crate::catalogue::open::Purpose;
use crate::catalogue::sessions::SessionRow;
use crate::cli::args::SessionsArgs;
use crate::cli::print;
use crate::cli::print::written;
use crate::cli::run::Outcome;
use crate::cli::run::Setting;
use crate::pipeline::listings;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::printable::printable;

/// A step longer than this many cadences is shown as a gap.
const GAP_FROM_CADENCES: f64 = 1.5;

/// Runs the command.
pub fn run(setting: &Setting, args: &SessionsArgs) -> Result<Outcome, Failure> {
    let catalogue = Catalogue::open(&setting.catalogue()?, Purpose::Read)?;
    let Some(id) = args.id else {
        print::sheet(listings::sessions(&catalogue)?, args.form)?;
        return Ok(Outcome::Done);
    };
    let session = catalogue.session(id)?.ok_or_else(|| {
        Failure::new(FailureKind::Words, format!("there is no session {id}"))
            .hint("framefall sessions lists them")
    })?;
    print::answer(|out| show(out, &catalogue, &session))?;
    Ok(Outcome::Done)
}

fn show(out: &mut dyn Write, catalogue: &Catalogue, session: &SessionRow) -> Result<(), Failure> {
    let id = session.session_id;
    let known = |value: &Option<String>| {
        value
            .as_deref()
            .map_or("unknown".to_owned(), |v| printable(v).into_owned())
    };
    let span = |from: &Option<String>, to: &Option<String>| match (from, to) {
        (Some(from), Some(to)) => format!("{} to {}", second(from), second(to)),
        _ => "unknown".to_owned(),
    };
    let mut lines = vec![
        ("session".to_owned(), id.to_string()),
        ("night".to_owned(), session.night.clone()),
        ("site".to_owned(), known(&session.site)),
        ("camera".to_owned(), known(&session.camera)),
        (
            "focal length".to_owned(),
            session
                .focal_mm
                .map_or("unknown".to_owned(), |f| format!("{f} mm")),
        ),
        ("UTC".to_owned(), span(&session.start_utc, &session.end_utc)),
        (
            "by its clock".to_owned(),
            span(&session.start_local, &session.end_local),
        ),
        (
            "cadence".to_owned(),
            session
                .cadence_s
                .map_or("unknown".to_owned(), |c| format!("{c} s")),
        ),
        (
            "frames".to_owned(),
            format!(
                "{}, {} missing by the cadence",
                session.frames, session.missing
            ),
        ),
    ];
    for count in catalogue.settings_of(id)? {
        let mut words = vec![count.kind.unwrap_or_else(|| "kind unknown".to_owned())];
        words.extend(count.exposure_s.map(|e| format!("{e} s")));
        words.extend(count.f_number.map(|f| format!("f/{f}")));
        words.extend(count.iso.map(|i| format!("ISO {i}")));
        lines.push((
            String::new(),
            format!("{:>4} {}", count.frames, words.join(", ")),
        ));
    }
    print::pairs(out, &lines)?;
    if let Some(cadence) = session.cadence_s {
        let gaps = catalogue.gaps(id, cadence * GAP_FROM_CADENCES)?;
        if !gaps.is_empty() {
            writeln!(out, "\ngaps").map_err(written)?;
            for gap in gaps {
                writeln!(
                    out,
                    "  {:.0} s without a frame after {} ({})",
                    gap.step_s - cadence,
                    printable(&gap.after_file),
                    second(&gap.after_start)
                )
                .map_err(written)?;
            }
        }
    }
    let radiants = catalogue.radiants_of(id)?;
    if !radiants.is_empty() {
        writeln!(out, "\nradiants, geometric altitude   first   highest                        last  best rate")
            .map_err(written)?;
        for radiant in radiants {
            writeln!(
                out,
                "  {}                        {:>7.1}°  {:>7.1}° {}  {:>6.1}°  {:>6.1}/h",
                radiant.shower,
                radiant.first_alt_deg,
                radiant.highest_alt_deg,
                second(&radiant.highest_utc),
                radiant.last_alt_deg,
                radiant.best_rate
            )
            .map_err(written)?;
        }
    }
    Ok(())
}

/// An instant or a reading without its fraction of a second.
fn second(text: &str) -> String {
    match text.split_once('.') {
        Some((whole, fraction)) if fraction.ends_with('Z') => format!("{whole}Z"),
        Some((whole, _)) => whole.to_owned(),
        None => text.to_owned(),
    }
}
