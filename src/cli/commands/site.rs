//! `framefall site`.

use crate::catalogue::open::Catalogue;
use crate::catalogue::open::Purpose;
use crate::catalogue::read::Scope;
use crate::cli::args::SiteAddArgs;
use crate::cli::args::SiteAssignArgs;
use crate::cli::args::SiteCommand;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::print::written;
use crate::cli::progress::Progress;
use crate::cli::run::Outcome;
use crate::cli::run::Setting;
use crate::pipeline::listings;
use crate::pipeline::sites::StatedSite;
use crate::pipeline::sites::add_site;
use crate::pipeline::sites::assign_site;
use crate::terms::failure::Failure;
use crate::terms::printable::printable;

/// Runs the command.
pub fn run(setting: &Setting, command: &SiteCommand) -> Result<Outcome, Failure> {
    match command {
        SiteCommand::Add(args) => add(setting, args),
        SiteCommand::List { form } => {
            let catalogue = Catalogue::open(&setting.catalogue()?, Purpose::Read)?;
            print::sheet(listings::sites(&catalogue)?, *form)?;
            Ok(Outcome::Done)
        }
        SiteCommand::Assign(args) => assign(setting, args),
    }
}

fn add(setting: &Setting, args: &SiteAddArgs) -> Result<Outcome, Failure> {
    let mut catalogue = Catalogue::open(&setting.catalogue()?, Purpose::ChangeOrMake)?;
    let site = add_site(
        &mut catalogue,
        &StatedSite {
            name: &args.name,
            lat: &args.lat,
            lon: &args.lon,
            elev_m: args.elevation,
            zone: args.zone.as_deref(),
        },
    )?;
    if setting.quiet == Quiet::No {
        let zone = site.zone.as_deref().unwrap_or("unknown");
        let how = if args.zone.is_some() {
            "as stated"
        } else {
            "found from the coordinates; check it near a border"
        };
        print::answer(|out| {
            writeln!(
                out,
                "added {}: {:.5}, {:.5}, {} m, zone {zone} ({how})",
                printable(&site.name),
                site.place.lat_deg(),
                site.place.lon_deg(),
                site.place.elev_m(),
            )
            .map_err(written)
        })?;
    }
    Ok(Outcome::Done)
}

fn assign(setting: &Setting, args: &SiteAssignArgs) -> Result<Outcome, Failure> {
    let mut catalogue = Catalogue::open(&setting.catalogue()?, Purpose::Change)?;
    let scopes: Vec<Scope> = args
        .session
        .iter()
        .map(|id| Scope::Session(*id))
        .chain(args.dump.iter().cloned().map(Scope::Dump))
        .collect();
    let mut progress = Progress::new("frames", setting.quiet);
    let done = assign_site(&mut catalogue, &args.name, &scopes, &mut |at, of| {
        progress.at(at, of);
    });
    progress.end();
    let done = done?;
    if setting.quiet == Quiet::No {
        let lines = vec![
            ("frames derived anew".to_owned(), done.frames.to_string()),
            ("  of these dated".to_owned(), done.dated.to_string()),
            (
                "  of these at their own GPS position".to_owned(),
                done.by_gps.to_string(),
            ),
            ("sessions touched".to_owned(), done.sessions.to_string()),
        ];
        print::answer(|out| print::pairs(out, &lines))?;
    }
    Ok(Outcome::Done)
}
