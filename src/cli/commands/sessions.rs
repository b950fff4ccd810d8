//! `framefall sessions`.

use std::io::Write;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::night::NightScope;
use crate::catalogue::purpose::Purpose;
use crate::catalogue::sessions::SessionRow;
use crate::cli::args::MarkArgs;
use crate::cli::args::SessionsArgs;
use crate::cli::args::SessionsCommand;
use crate::cli::commands::changed::FRAMES_MARKED;
use crate::cli::commands::changed::NO_FRAME_CHANGED;
use crate::cli::commands::changed::changed;
use crate::cli::commands::changed::open_to_state;
use crate::cli::commands::rebuild::warn_if_stale;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Lines;
use crate::cli::print::Quiet;
use crate::cli::print::written;
use crate::cli::setting::Setting;
use crate::framelist::Column;
use crate::framelist::Format;
use crate::framelist::write_sheet;
use crate::terms::failure::Failure;
use crate::terms::failure::no_session;
use crate::terms::plural::and_list;
use crate::terms::plural::plural_of;
use crate::terms::printable::printable;
use crate::terms::sheet::Sheet;
use crate::terms::statement::Act;
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
        Some(session) if args.form == Format::Table && args.show.is_none() => {
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
        (None, Format::Table) => sessions::table_columns(times),
        (None, _) if only.is_some() => sessions::every_column_of_one(),
        (None, _) => sessions::every_column(),
    };
    if args.form == Format::Table {
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
    let kind = (args.kind.is_some() || args.clear).then_some(Act::Kind(args.kind));
    let focal = (args.focal.is_some() || args.clear).then_some(Act::Focal(args.focal));
    let said = Said {
        acts: &kind.into_iter().chain(focal).collect::<Vec<Act>>(),
        frames: args.frames.as_deref(),
    };
    let marked = mark_session(&mut catalogue, args.session, &said)?;
    if setting.quiet == Quiet::No {
        let mut followed = changed(&marked.done).0;
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
    what.extend(args.kind.map(|kind| format!("as {}", kind.word())));
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
    let report = night_report(catalogue, &NightScope::Session(id), Pictures::None)?;
    let part = report
        .parts
        .first()
        .and_then(|part| Some((part, part.sessions.first()?)));
    let or_unknown = |value: Option<String>| value.unwrap_or_else(|| "unknown".to_owned());
    let known = |value: &Option<String>| {
        or_unknown(value.as_deref().map(|value| printable(value).into_owned()))
    };
    let with_unit =
        |value: Option<f64>, unit: &str| or_unknown(value.map(|value| format!("{value} {unit}")));
    let span = |from: &Option<String>, to: &Option<String>| {
        let ends = from.as_ref().zip(to.as_ref());
        or_unknown(ends.map(|(from, to)| format!("{} to {}", second(from), second(to))))
    };
    let (frames, missing) = (session.frames, session.missing);
    let mut lines = Lines::default();
    lines
        .put("session", id)
        .put("night", &session.night)
        .put("site", known(&session.site))
        .put("camera", known(&session.camera))
        .put("focal length", with_unit(session.focal_mm, "mm"))
        .put("local time", or_unknown(sessions::local_span(session)))
        .put("UTC", span(&session.start_utc, &session.end_utc))
        .put(
            "camera clock",
            span(&session.clock_local, &session.end_clock_local),
        )
        .put("cadence", with_unit(session.cadence_s, "s"))
        .put(
            "frames",
            format!("{frames}, {missing} missing by the cadence"),
        );
    if let Some(rhythm) = part.and_then(|(_, s)| s.rhythm) {
        lines.put("", rhythm);
    }
    for count in catalogue.settings_of(id)? {
        let mut words = vec![count.kind.unwrap_or_else(|| "kind unknown".to_owned())];
        words.extend(count.exposure_s.map(|e| format!("{e} s")));
        words.extend(count.f_number.map(|f| format!("f/{f}")));
        words.extend(count.iso.map(|i| format!("ISO {i}")));
        lines.put("", format!("{:>4} {}", count.frames, words.join(", ")));
    }
    for (at, words) in sky_words(catalogue, id)?.into_iter().enumerate() {
        lines.put(if at == 0 { "sky" } else { "" }, words);
    }
    print::pairs(out, &lines.0)?;
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
