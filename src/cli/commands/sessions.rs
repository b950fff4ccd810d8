//! `framefall sessions`.

use std::io::Write;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::marks::Mark;
use crate::catalogue::night::NightScope;
use crate::catalogue::purpose::Purpose;
use crate::catalogue::sessions::SessionRow;
use crate::cli::args::KindWord;
use crate::cli::args::MarkArgs;
use crate::cli::args::SessionsArgs;
use crate::cli::args::SessionsCommand;
use crate::cli::args_form::RowForm;
use crate::cli::commands::changed::FRAMES_MARKED;
use crate::cli::commands::changed::NO_FRAME_CHANGED;
use crate::cli::commands::changed::changed;
use crate::cli::commands::rebuild::open_to_state;
use crate::cli::commands::rebuild::warn_if_stale;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::print::written;
use crate::cli::setting::Setting;
use crate::framelist::Column;
use crate::framelist::Format;
use crate::framelist::write_sheet;
use crate::terms::basis::Kind;
use crate::terms::failure::Failure;
use crate::terms::failure::no_session;
use crate::terms::plural::and_list;
use crate::terms::plural::plural_of;
use crate::terms::printable::printable;
use crate::terms::sheet::Sheet;
use crate::usecase::examine::sky_notes::sky_words;
use crate::usecase::listings::sessions;
use crate::usecase::listings::sessions::Times;
use crate::usecase::listings::sheets;
use crate::usecase::marks::Marked;
use crate::usecase::marks::Said;
use crate::usecase::marks::mark_session;
use crate::usecase::report::night::night_report;
use crate::usecase::report::night::picture;
use crate::usecase::report::shown::Pictures;

/// Runs the command.
pub fn run(setting: &Setting, args: &SessionsArgs) -> Result<Outcome, Failure> {
    if let Some(SessionsCommand::Mark(args)) = &args.command {
        return mark(setting, args);
    }
    let catalogue = setting.open(Purpose::Read)?;
    warn_if_stale(&catalogue)?;
    let shown = args
        .id
        .map(|id| catalogue.session(id)?.ok_or_else(|| no_session(id)));
    let shown = shown.transpose()?;
    match &shown {
        Some(session) if args.form == RowForm::Table && args.show.is_none() => {
            print::answer(|out| show(out, &catalogue, session, args.utc))?;
        }
        _ => list(&catalogue, shown.map(|session| session.session_id), args)?,
    }
    Ok(Outcome::Done)
}

fn list(catalogue: &Catalogue, only: Option<i64>, args: &SessionsArgs) -> Result<(), Failure> {
    let times = if args.utc { Times::Utc } else { Times::Local };
    let mut columns = match (&args.show, args.form) {
        (Some(names), _) => sessions::chosen_columns(names)?,
        (None, RowForm::Table) => sessions::table_columns(times),
        (None, _) => sessions::every_column(),
    };
    if args.form == RowForm::Table {
        columns.extend(Column::zone_aside());
    }
    let rows = sessions::rows(catalogue, only, &columns, now()?)?;
    print::rows(columns, sessions::NO_SESSIONS, args.form, |put| {
        rows.into_iter().try_for_each(put)
    })?;
    Ok(())
}

fn mark(setting: &Setting, args: &MarkArgs) -> Result<Outcome, Failure> {
    let mut catalogue = open_to_state(setting, Purpose::Change)?;
    let said = Said {
        kind: match (args.kind, args.clear) {
            (Some(kind), _) => Some(Mark::Kind(kind.into())),
            (None, true) => Some(Mark::KindRemoved),
            (None, false) => None,
        },
        focal: match (args.focal, args.clear) {
            (Some(focal_mm), _) => Some(Mark::Focal(focal_mm)),
            (None, true) => Some(Mark::FocalRemoved),
            (None, false) => None,
        },
        frames: args.frames.as_deref(),
    };
    let marked = mark_session(&mut catalogue, args.session, &said)?;
    if setting.quiet == Quiet::No {
        let mut followed = changed(&marked.done);
        followed.retain(|(label, _)| label != FRAMES_MARKED);
        print::answer(|out| {
            writeln!(out, "{}", marked_words(args, &marked)).map_err(written)?;
            print::pairs(out, &followed)
        })?;
    }
    Ok(Outcome::Done)
}

/// What marking came to, as a sentence.
fn marked_words(args: &MarkArgs, marked: &Marked) -> String {
    if marked.changed == 0 {
        return NO_FRAME_CHANGED.to_owned();
    }
    let of = if marked.changed < marked.frames {
        format!(" of {}", marked.frames)
    } else {
        String::new()
    };
    let frames = plural_of(marked.frames, "frame");
    let mut what = Vec::new();
    what.extend(
        args.kind
            .map(|kind| format!("as {}", Kind::from(kind).word())),
    );
    what.extend(
        args.focal
            .map(|mm| format!("with a focal length of {mm} mm")),
    );
    let what = if args.clear {
        "no longer marked".to_owned()
    } else {
        format!("marked {}", and_list(&what))
    };
    format!("{}{of} {frames} {what}", marked.changed)
}

impl From<KindWord> for Kind {
    fn from(word: KindWord) -> Self {
        match word {
            KindWord::Light => Self::Light,
            KindWord::Dark => Self::Dark,
            KindWord::Flat => Self::Flat,
            KindWord::Bias => Self::Bias,
            KindWord::Trial => Self::Trial,
        }
    }
}

/// Width of the picture if standard output is not a screen.
const WIDTH: usize = 80;

fn show(
    out: &mut dyn Write,
    catalogue: &Catalogue,
    session: &SessionRow,
    in_utc: bool,
) -> Result<(), Failure> {
    let zone = session.zone.as_deref().filter(|_| !in_utc);
    let id = session.session_id;
    let report = night_report(catalogue, &NightScope::Session(id), Pictures::Nothing)?;
    let part = report
        .parts
        .first()
        .and_then(|part| Some((part, part.sessions.first()?)));
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
        (
            "local time".to_owned(),
            sessions::local_span(session).unwrap_or_else(|| "unknown".to_owned()),
        ),
        ("UTC".to_owned(), span(&session.start_utc, &session.end_utc)),
        (
            "camera clock".to_owned(),
            span(&session.clock_local, &session.end_clock_local),
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
    if let Some(rhythm) = part.and_then(|(_, s)| s.rhythm) {
        lines.push((String::new(), rhythm.to_owned()));
    }
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
    for (at, words) in sky_words(catalogue, id)?.into_iter().enumerate() {
        let label = if at == 0 { "sky" } else { "" };
        lines.push((label.to_owned(), words));
    }
    print::pairs(out, &lines)?;
    if let Some((part, session)) = part {
        writeln!(out).map_err(written)?;
        for line in picture(part, session, print::screen_width().unwrap_or(WIDTH)) {
            writeln!(out, "{line}").map_err(written)?;
        }
    }
    let mut sheet = |title: &str, sheet: Sheet| -> Result<(), Failure> {
        if sheet.rows.is_empty() {
            return Ok(());
        }
        writeln!(out, "\n{title}").map_err(written)?;
        write_sheet(sheet, Format::Table, None, out).map(|_| ())
    };
    if let Some((_, session)) = part {
        sheet("gaps", sheets::session_gaps(session, zone))?;
        sheet("settings", sheets::session_changes(session))?;
        sheet(
            "meteors expected over the lights, for a watcher with the whole sky in view:\n\
             under a 6.5-magnitude sky, less what the site's sky, the Sun, the Moon and cloud take",
            sheets::session_expected(session),
        )?;
    }
    sheet(
        "radiants (geometric altitude; rate under a 6.5-magnitude sky)",
        sheets::session_radiants(catalogue, id, zone)?,
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
