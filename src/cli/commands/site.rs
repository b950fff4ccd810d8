//! `framefall site`.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::Purpose;
use crate::catalogue::read::Scope;
use crate::cli::args_site::BrightnessArgs;
use crate::cli::args_site::SiteAddArgs;
use crate::cli::args_site::SiteAssignArgs;
use crate::cli::args_site::SiteChangeArgs;
use crate::cli::args_site::SiteCommand;
use crate::cli::args_site::SiteRemoveArgs;
use crate::cli::args_site::SiteTrackArgs;
use crate::cli::commands::changed::changed;
use crate::cli::commands::changed::mode;
use crate::cli::commands::changed::open_to_state;
use crate::cli::commands::changed::print_changed;
use crate::cli::commands::changed::print_lines;
use crate::cli::commands::changed::purpose;
use crate::cli::commands::changed::stating;
use crate::cli::commands::changed::watched;
use crate::cli::confirm::confirmed;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Lines;
use crate::cli::print::Quiet;
use crate::cli::print::written;
use crate::cli::setting::Setting;
use crate::terms::failure::Failure;
use crate::terms::plural::and_list;
use crate::terms::plural::counted;
use crate::terms::plural::either;
use crate::terms::plural::plural_of;
use crate::terms::printable::printable;
use crate::terms::site::Site;
use crate::terms::site::SkyBrightness;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::listings::sheets;
use crate::usecase::sites::book::StatedSite;
use crate::usecase::sites::book::add_site;
use crate::usecase::sites::book::assign_site;
use crate::usecase::sites::book::site_named;
use crate::usecase::sites::change::SiteChange;
use crate::usecase::sites::change::change_site;
use crate::usecase::sites::change::changed_site;
use crate::usecase::sites::change::remove_site;
use crate::usecase::sites::tracks;

/// Runs the command.
pub fn run(setting: &Setting, command: &SiteCommand) -> Result<Outcome, Failure> {
    match command {
        SiteCommand::Add(args) => add(setting, args),
        SiteCommand::List(list) => setting.sheet(list.form, sheets::sites),
        SiteCommand::Assign(args) => assign(setting, args),
        SiteCommand::Change(args) => change(setting, args),
        SiteCommand::Remove(args) => remove(setting, args),
        SiteCommand::Track(args) => track(setting, args),
    }
}

fn add(setting: &Setting, args: &SiteAddArgs) -> Result<Outcome, Failure> {
    let mut catalogue = open_to_state(setting, Purpose::ChangeOrMake)?;
    let stated = StatedSite {
        name: &args.name,
        lat: &args.lat,
        lon: &args.lon,
        elev_m: args.elevation,
        zone: args.zone.as_deref(),
        brightness: brightness(&args.brightness),
    };
    let (site, done) = watched(setting, |watch| add_site(&mut catalogue, &stated, watch))?;
    if setting.quiet == Quiet::No {
        let zone = site.zone.as_deref().unwrap_or("unknown");
        let how = if args.zone.is_some() {
            "as stated"
        } else {
            "found from the coordinates; check it near a border"
        };
        let sea_level = if args.elevation.is_none() {
            " (sea level: no elevation was stated)"
        } else {
            ""
        };
        print::answer(|out| {
            writeln!(
                out,
                "added {}: {:.5}, {:.5}, {} m{sea_level}, zone {zone} ({how})",
                printable(&site.name),
                site.place.lat_deg(),
                site.place.lon_deg(),
                site.place.elev_m(),
            )
            .map_err(written)
        })?;
        // Frames that are assigned to it by their own positions.
        if done.changed > 0 {
            changed(&done).print()?;
        }
    }
    Ok(Outcome::Done)
}

fn assign(setting: &Setting, args: &SiteAssignArgs) -> Result<Outcome, Failure> {
    let scopes: Vec<Scope> = args
        .session
        .iter()
        .map(|id| Scope::Session(*id))
        .chain(args.dump.iter().cloned().map(Scope::Dump))
        .collect();
    let done = stating(setting, args.dry_run, |catalogue, mode, watch| {
        assign_site(catalogue, &args.name, &scopes, mode, watch)
    })?;
    let mut lines = Lines::default();
    lines.put("assigned", args.name.trim());
    if done.by_gps > 0 {
        lines.put("at their own GPS position", counted(done.by_gps, "frame"));
    }
    print_lines(setting, lines, &done, mode(args.dry_run))
}

fn brightness(args: &BrightnessArgs) -> Option<SkyBrightness> {
    let magnitude = args
        .limiting_magnitude
        .map(SkyBrightness::LimitingMagnitude);
    args.sky_brightness.map(SkyBrightness::Sqm).or(magnitude)
}

fn change(setting: &Setting, args: &SiteChangeArgs) -> Result<Outcome, Failure> {
    let mut catalogue = open_to_state(setting, purpose(args.dry_run))?;
    let site = changed_site(
        &catalogue,
        &args.site,
        &SiteChange {
            name: args.name.as_deref(),
            lat: args.lat.as_deref(),
            lon: args.lon.as_deref(),
            elev_m: args.elevation,
            zone: args.zone.as_deref(),
            brightness: brightness(&args.brightness),
        },
    )?;
    say_whom_it_concerns(setting, &catalogue, &site)?;
    let mode = mode(args.dry_run);
    let done = watched(setting, |watch| {
        change_site(&mut catalogue, &site, mode, watch)
    })?;
    let words = format!(
        "{}: {:.5}, {:.5}, {} m, zone {}",
        printable(&site.name),
        site.place.lat_deg(),
        site.place.lon_deg(),
        site.place.elev_m(),
        site.zone.as_deref().unwrap_or("unknown")
    );
    print_changed(setting, ("changed", words), &done, mode)
}

fn remove(setting: &Setting, args: &SiteRemoveArgs) -> Result<Outcome, Failure> {
    let removed = |purpose: Purpose, mode: Mode| -> Result<_, Failure> {
        let mut catalogue = open_to_state(setting, purpose)?;
        let site = site_named(&catalogue, &args.site)?;
        say_whom_it_concerns(setting, &catalogue, &site)?;
        let done = watched(setting, |watch| {
            remove_site(&mut catalogue, &site, mode, watch)
        })?;
        Ok((printable(&site.name).into_owned(), done))
    };
    if !args.yes {
        let (name, done) = removed(Purpose::Try, Mode::DryRun)?;
        let would = ("would be removed", name.clone());
        print_changed(setting, would, &done, mode(args.dry_run))?;
        if args.dry_run || !confirmed(false, &format!("Remove the site {name}?"))? {
            return Ok(if args.dry_run {
                Outcome::Done
            } else {
                Outcome::NotDone
            });
        }
    }
    let (name, done) = removed(Purpose::Change, Mode::Lasting)?;
    print_changed(setting, ("removed", name), &done, Mode::Lasting)
}

/// Reports which frames are at a site, before it is changed.
fn say_whom_it_concerns(
    setting: &Setting,
    catalogue: &Catalogue,
    site: &Site,
) -> Result<(), Failure> {
    if setting.quiet == Quiet::Yes {
        return Ok(());
    }
    let there = catalogue.sessions_at_site(site.id)?;
    let frames: i64 = there.iter().map(|t| t.frames).sum();
    let sessions: Vec<String> = there
        .iter()
        .filter_map(|t| Some(format!("{} ({})", t.session_id?, t.frames)))
        .collect();
    let of = if sessions.is_empty() {
        String::new()
    } else {
        let noun = plural_of(sessions.len() as u64, "session");
        format!(", in {noun} {}", and_list(&sessions))
    };
    let frames = frames.unsigned_abs();
    print::warn(&format!(
        "{} {} at this site{of}",
        counted(frames, "frame"),
        either(frames, "is", "are")
    ));
    Ok(())
}

fn track(setting: &Setting, args: &SiteTrackArgs) -> Result<Outcome, Failure> {
    if args.list {
        return setting.sheet(args.form, tracks::tracks);
    }
    let stated = stating(setting, args.dry_run, |catalogue, mode, watch| {
        match (&args.file, &args.remove) {
            (Some(file), _) => tracks::state_track(catalogue, file, mode, watch),
            (None, name) => {
                let name = name.as_deref().unwrap_or_default();
                tracks::remove_track(catalogue, name, mode, watch)
            }
        }
    })?;
    let label = if args.file.is_some() {
        "added"
    } else {
        "removed"
    };
    let timeless = match stated.timeless {
        0 => String::new(),
        some => format!(", {} without a time left out", counted(some, "point")),
    };
    let words = format!(
        "{}: {}, {}{timeless}",
        stated.name,
        printable(&stated.file),
        counted(stated.points, "point")
    );
    print_changed(setting, (label, words), &stated.done, mode(args.dry_run))
}
