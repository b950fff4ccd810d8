//! `framefall sessions`.

use std::io::Write;

use crate::catalogue::open::Catalogue;
use crate::catalogue::open::Purpose;
use crate::catalogue::sessions::SessionRow;
use crate::cli::args::RowForm;
use crate::cli::args::SessionsArgs;
use crate::cli::print;
use crate::cli::print::written;
use crate::cli::run::Outcome;
use crate::cli::run::Setting;
use crate::framelist::Format;
use crate::framelist::write_sheet;
use crate::pipeline::listings;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::printable::printable;
use crate::terms::sheet::Sheet;

/// Runs the command.
pub fn run(setting: &Setting, args: &SessionsArgs) -> Result<Outcome, Failure> {
    let catalogue = Catalogue::open(&setting.catalogue()?, Purpose::Read)?;
    let Some(id) = args.id else {
        print::sheet(listings::sessions(&catalogue, None)?, args.form)?;
        return Ok(Outcome::Done);
    };
    let session = catalogue.session(id)?.ok_or_else(|| {
        Failure::new(FailureKind::Words, format!("there is no session {id}"))
            .hint("framefall sessions lists them")
    })?;
    if args.form == RowForm::Table {
        print::answer(|out| show(out, &catalogue, &session))?;
    } else {
        print::sheet(listings::sessions(&catalogue, Some(id))?, args.form)?;
    }
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
    let mut sheet = |title: &str, sheet: Sheet| -> Result<(), Failure> {
        if sheet.rows.is_empty() {
            return Ok(());
        }
        writeln!(out, "\n{title}").map_err(written)?;
        write_sheet(sheet, Format::Table, None, out).map(|_| ())
    };
    if let Some(cadence) = session.cadence_s {
        sheet("gaps", listings::session_gaps(catalogue, id, cadence)?)?;
    }
    sheet(
        "radiants (geometric altitude; rate under a 6.5-magnitude sky)",
        listings::session_radiants(catalogue, id)?,
    )
}

/// An instant or a reading without its fraction of a second.
fn second(text: &str) -> String {
    match text.split_once('.') {
        Some((whole, fraction)) if fraction.ends_with('Z') => format!("{whole}Z"),
        Some((whole, _)) => whole.to_owned(),
        None => text.to_owned(),
    }
}
