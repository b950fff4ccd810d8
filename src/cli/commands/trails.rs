//! `framefall trails`.

use crate::catalogue::purpose::Purpose;
use crate::cli::args_trails::TrailsAddArgs;
use crate::cli::args_trails::TrailsArgs;
use crate::cli::args_trails::TrailsCommand;
use crate::cli::args_trails::TrailsPictureArgs;
use crate::cli::commands::changed::mode;
use crate::cli::commands::changed::open_to_state;
use crate::cli::commands::changed::purpose;
use crate::cli::commands::changed::tell_lines;
use crate::cli::outcome::Outcome;
use crate::cli::print::Lines;
use crate::cli::setting::Setting;
use crate::output::atomic_file::AtomicFile;
use crate::output::outside_dumps::refuse_in_dump;
use crate::terms::failure::Failure;
use crate::terms::picture::Positions;
use crate::terms::trail::Judgement;
use crate::terms::trail::TrailEnds;
use crate::terms::trail::TrailIs;
use crate::usecase::examine::trail_picture::Named;
use crate::usecase::examine::trail_picture::trail_picture;
use crate::usecase::looking::trail_list::trail_sheet;
use crate::usecase::looking::trail_paths::TrailDetail;
use crate::usecase::looking::trails::TrailNumbers;
use crate::usecase::looking::trails::add_trail;
use crate::usecase::looking::trails::frame_named;
use crate::usecase::looking::trails::judge_trails;
use crate::usecase::looking::trails::judgement;
use crate::usecase::looking::trails::parse_point;
use crate::usecase::looking::trails::parse_shower;

/// Runs the command.
pub fn run(setting: &Setting, args: &TrailsArgs) -> Result<Outcome, Failure> {
    match &args.command {
        Some(TrailsCommand::Add(args)) => add(setting, args),
        Some(TrailsCommand::Judge(args)) => {
            let judged = judged(args.is, args.shower.as_deref())?;
            change(setting, &numbers(&args.trails)?, Some(judged), args.dry_run)
        }
        Some(TrailsCommand::Remove(args)) => {
            let numbers = TrailNumbers {
                stated: args.trails.clone(),
                ..TrailNumbers::default()
            };
            change(setting, &numbers, None, args.dry_run)
        }
        Some(TrailsCommand::Picture(args)) => picture(setting, args),
        None => {
            let of = args.of.as_deref().unwrap_or_default();
            let detail = if args.explain {
                TrailDetail::EveryRadiant
            } else {
                TrailDetail::Row
            };
            let positions = if args.oriented {
                Positions::AsShown
            } else {
                Positions::AsStored
            };
            setting.sheet(args.form, |catalogue| {
                trail_sheet(catalogue, of, detail, args.class, positions)
            })
        }
    }
}

/// Writes the picture of a trail, and tells what is known of it.
fn picture(setting: &Setting, args: &TrailsPictureArgs) -> Result<Outcome, Failure> {
    let catalogue = setting.open(Purpose::Read)?;
    let numbers = numbers(std::slice::from_ref(&args.trail))?;
    let named = match numbers.stated.first() {
        Some(stated) => Named::Stated(*stated),
        None => Named::Candidate(numbers.candidates[0]),
    };
    refuse_in_dump(&catalogue, &args.to)?;
    let drawn = trail_picture(&catalogue, named)?;
    AtomicFile::write(&args.to, args.overwrite, "picture", &drawn.jpeg)?;
    let mut lines = Lines::default();
    lines.put("file", drawn.file).0.extend(drawn.lines);
    setting.tell(&lines)?;
    Ok(Outcome::Done)
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
    let mut lines = Lines::default();
    if let Some(trail) = stated {
        let length = format!("{:.1} px", trail.ends.length_px());
        lines
            .put("trail", trail.trail_id)
            .put("  is", trail.judged.is.word())
            .put("  length", length);
    }
    tell_lines(setting, &lines, mode)
}

fn change(
    setting: &Setting,
    numbers: &TrailNumbers,
    judged: Option<Judgement>,
    dry_run: bool,
) -> Result<Outcome, Failure> {
    let mut catalogue = open_to_state(setting, purpose(dry_run))?;
    let mode = mode(dry_run);
    let changed = judge_trails(&mut catalogue, numbers, judged, mode)?;
    let mut lines = Lines::default();
    lines.put("trails changed", changed);
    tell_lines(setting, &lines, mode)
}

/// Numbers of stated trails, and of candidates.
fn numbers(words: &[String]) -> Result<TrailNumbers, Failure> {
    let mut numbers = TrailNumbers::default();
    for word in words {
        let (list, digits) = match word.strip_prefix(['c', 'C']) {
            Some(digits) => (&mut numbers.candidates, digits),
            None => (&mut numbers.stated, word.as_str()),
        };
        list.push(digits.parse().map_err(|_| {
            let message = format!("'{word}' is not the number of a trail");
            Failure::words(message).hint("write 17 for a stated trail, c17 for a candidate")
        })?);
    }
    Ok(numbers)
}

fn judged(is: TrailIs, shower: Option<&str>) -> Result<Judgement, Failure> {
    judgement(is, shower.map(parse_shower).transpose()?)
}
