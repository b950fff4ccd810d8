//! Reports an export: what it makes, or why it makes nothing.

use std::path::Path;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::Purpose;
use crate::cli::commands::export_calibration;
use crate::cli::commands::export_told as told;
use crate::cli::commands::lists;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::cli::stop::STOP;
use crate::cli::stop::prepare_for_ctrl_c;
use crate::output::atomic_file::Overwrite;
use crate::terms::failure::Failure;
use crate::terms::handoff::Check;
use crate::usecase::export::event::ExportEvent;
use crate::usecase::export::make::ExportRun;
use crate::usecase::export::make::Exported;
use crate::usecase::export::make::Made;
use crate::usecase::export::make::Verdict;
use crate::usecase::export::make::export;
use crate::usecase::export::preview::Preview;
use crate::usecase::export::request::ExportRequest;
use crate::usecase::export::request::RunAs;
use crate::usecase::listings::frames::why_none;

/// Decides whether written lists are kept, and the outcome of the command.
pub(super) type Judge<'j> = dyn FnMut(&Made<'_>) -> Result<(Verdict, Outcome), Failure> + 'j;

/// Exports, and reports the result.
pub(super) fn make(
    setting: &Setting,
    request: &ExportRequest,
    overwrite: Overwrite,
    judge: &mut Judge<'_>,
) -> Result<Outcome, Failure> {
    let text = request.meaning.as_deref().unwrap_or(&request.query);
    let (compiled, catalogue) = lists::compile_and_open(text, setting)?;
    let mut keeper = match request.check {
        Check::Content if request.run == RunAs::Writing => Some(setting.open(Purpose::Change)?),
        Check::Content | Check::Files | Check::Nothing => None,
    };
    prepare_for_ctrl_c()?;
    let run = ExportRun {
        overwrite,
        now: now()?,
        stop: &STOP,
    };
    let mut outcome = Outcome::Done;
    let mut bar = None;
    let exported = export(
        &catalogue,
        keeper.as_mut(),
        &compiled,
        request,
        run,
        &mut |made| {
            let (verdict, ended) = judge(made)?;
            outcome = ended;
            Ok(verdict)
        },
        &mut |event| watch(setting, &catalogue, &mut bar, &event),
    );
    if let Some(bar) = bar {
        bar.end();
    }
    let made = match exported? {
        Exported::Stopped => return Ok(Outcome::Stopped),
        Exported::NoFrames => {
            print::warn(&why_none(&catalogue, &compiled)?);
            return Ok(nothing(&request.to));
        }
        Exported::Refused(lacking, found) => {
            print::warn(&format!(
                "{lacking} of {} cannot be exported; nothing was written. --allow-missing leaves \
                 them out",
                told::frames(found)
            ));
            return Ok(Outcome::NotDone);
        }
        Exported::NothingLeft => return Ok(nothing(&request.to)),
        Exported::Preview(preview) => return Ok(previewed(setting, &preview)),
        Exported::Made(made) => made,
    };
    if made.verdict == Verdict::Keep && setting.quiet == Quiet::No {
        if let Some(tree) = &made.tree {
            told::tree(tree);
        }
        told::written(&made.plan, &made.lists);
        export_calibration::written(&made.serving, &made.calibration, "written");
    }
    let served = export_calibration::tell(setting, &made.calibration);
    Ok(if outcome == Outcome::Done {
        served
    } else {
        outcome
    })
}

/// Says what would be written; it ends as the export would.
fn previewed(setting: &Setting, preview: &Preview) -> Outcome {
    if setting.quiet == Quiet::No {
        told::preview(preview);
        let (serving, found) = (&preview.serving, &preview.calibration);
        export_calibration::written(serving, found, "would be written");
        print::warn("a dry run: nothing was written");
    }
    let served = export_calibration::tell(setting, &preview.calibration);
    if preview.plan.left_out.is_empty() {
        served
    } else {
        Outcome::NeedsAttention
    }
}

/// Shows the progress, and lists frames that cannot be exported.
fn watch(
    setting: &Setting,
    catalogue: &Catalogue,
    bar: &mut Option<Progress>,
    event: &ExportEvent<'_>,
) -> Result<(), Failure> {
    let mut at = |noun, done, of| {
        bar.get_or_insert_with(|| Progress::new(noun, setting.quiet))
            .at(done, of);
    };
    match *event {
        ExportEvent::Planned(done, of) => at("frames", done, of),
        ExportEvent::Linked(done, of) => at("links", done, of),
        ExportEvent::Plan(_) | ExportEvent::LinksMade | ExportEvent::Unreadable(_) => {
            if let Some(bar) = bar.take() {
                bar.end();
            }
        }
    }
    match *event {
        ExportEvent::Plan(plan) => told::left_out(catalogue, plan),
        ExportEvent::Unreadable(frames) => told::unreadable(catalogue, frames),
        _ => Ok(()),
    }
}

fn nothing(to: &Path) -> Outcome {
    print::warn(&format!(
        "nothing to export; {} was not written",
        print::path(to)
    ));
    Outcome::NeedsAttention
}
