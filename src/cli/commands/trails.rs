//! `framefall trails`.

use crate::catalogue::purpose::Purpose;
use crate::cli::args_trails::TrailWord;
use crate::cli::args_trails::TrailsAddArgs;
use crate::cli::args_trails::TrailsArgs;
use crate::cli::args_trails::TrailsCommand;
use crate::cli::commands::changed::mode;
use crate::cli::commands::changed::purpose;
use crate::cli::commands::changed::say_if_dry;
use crate::cli::commands::rebuild::open_to_state;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::setting::Setting;
use crate::terms::failure::Failure;
use crate::terms::trail::Judgement;
use crate::terms::trail::TrailEnds;
use crate::terms::trail::TrailIs;
use crate::usecase::looking::trail_paths::TrailDetail;
use crate::usecase::looking::trails::add_trail;
use crate::usecase::looking::trails::frame_named;
use crate::usecase::looking::trails::judge_trails;
use crate::usecase::looking::trails::judgement;
use crate::usecase::looking::trails::parse_point;
use crate::usecase::looking::trails::parse_shower;
use crate::usecase::looking::trails::trail_sheet;

/// Runs the command.
pub fn run(setting: &Setting, args: &TrailsArgs) -> Result<Outcome, Failure> {
    match &args.command {
        Some(TrailsCommand::Add(args)) => add(setting, args),
        Some(TrailsCommand::Judge(args)) => {
            let judged = judged(args.is, args.shower.as_deref())?;
            change(setting, &args.trails, Some(judged), args.dry_run)
        }
        Some(TrailsCommand::Remove(args)) => change(setting, &args.trails, None, args.dry_run),
        None => {
            let catalogue = setting.open(Purpose::Read)?;
            let of = args.of.as_deref().unwrap_or_default();
            let detail = if args.explain {
                TrailDetail::EveryRadiant
            } else {
                TrailDetail::Row
            };
            print::sheet(trail_sheet(&catalogue, of, detail)?, args.form)?;
            Ok(Outcome::Done)
        }
    }
}

fn add(setting: &Setting, args: &TrailsAddArgs) -> Result<Outcome, Failure> {
    let ends = TrailEnds {
        from: parse_point(&args.from)?,
        to: parse_point(&args.to)?,
    };
    let judged = judged(args.is, args.shower.as_deref())?;
    let mut catalogue = open_to_state(setting, purpose(args.dry_run))?;
    let frame_id = frame_named(&catalogue, &args.frame)?;
    let mode = mode(args.dry_run);
    let stated = add_trail(&mut catalogue, frame_id, ends, judged, mode)?;
    if setting.quiet == Quiet::No {
        let mut lines = Vec::new();
        if let Some(trail) = stated {
            lines.push(("trail".to_owned(), trail.trail_id.to_string()));
            lines.push(("  is".to_owned(), trail.judged.is.word().to_owned()));
            let length_px = trail.ends.length_px();
            lines.push(("  length".to_owned(), format!("{length_px:.1} px")));
        }
        print::answer(|out| print::pairs(out, &lines))?;
        say_if_dry(mode);
    }
    Ok(Outcome::Done)
}

fn change(
    setting: &Setting,
    trails: &[i64],
    judged: Option<Judgement>,
    dry_run: bool,
) -> Result<Outcome, Failure> {
    let mut catalogue = open_to_state(setting, purpose(dry_run))?;
    let mode = mode(dry_run);
    let changed = judge_trails(&mut catalogue, trails, judged, mode)?;
    if setting.quiet == Quiet::No {
        let lines = vec![("trails changed".to_owned(), changed.to_string())];
        print::answer(|out| print::pairs(out, &lines))?;
        say_if_dry(mode);
    }
    Ok(Outcome::Done)
}

fn judged(is: TrailWord, shower: Option<&str>) -> Result<Judgement, Failure> {
    judgement(is.into(), shower.map(parse_shower).transpose()?)
}

impl From<TrailWord> for TrailIs {
    fn from(word: TrailWord) -> Self {
        match word {
            TrailWord::Meteor => Self::Meteor,
            TrailWord::Satellite => Self::Satellite,
            TrailWord::Aircraft => Self::Aircraft,
            TrailWord::Other => Self::Other,
        }
    }
}
