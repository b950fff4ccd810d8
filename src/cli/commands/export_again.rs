//! `framefall export --again MANIFEST`: a list made again, and its differences.

use std::fs::File;
use std::io;
use std::io::BufReader;
use std::path::Path;

use crate::cli::args_export::ExportArgs;
use crate::cli::commands::export_make::make;
use crate::cli::commands::export_request::requested_again;
use crate::cli::commands::export_told as told;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::setting::Setting;
use crate::framelist::Hashed;
use crate::framelist::ListDigest;
use crate::framelist::PastManifest;
use crate::framelist::read_manifest;
use crate::output::atomic_file::Overwrite;
use crate::terms::failure::Failure;
use crate::terms::printable::printable;
use crate::usecase::export::make::Made;
use crate::usecase::export::make::Verdict;
use crate::usecase::export::request::ExportRequest;
use crate::usecase::handoff::again::PastFiles;
use crate::usecase::handoff::again::differences;

/// Runs the command.
pub fn run(setting: &Setting, args: &ExportArgs, manifest: &Path) -> Result<Outcome, Failure> {
    let mut files = Some(PastFiles::default());
    let from = File::open(manifest).map_err(|e| {
        Failure::words("the manifest cannot be read")
            .at_file(manifest)
            .because(e)
    })?;
    let past = read_manifest(BufReader::new(from), manifest, &mut |file| {
        if let Some(files) = &mut files {
            files.note(file);
        }
    })?;
    let request = requested_again(args, manifest, &past)?;
    make(setting, &request, Overwrite::Yes, &mut |made| {
        judge(
            setting,
            args,
            &past,
            &request,
            made,
            files.take().unwrap_or_default(),
        )
    })
}

/// Reports the differences, and decides whether the lists are kept.
fn judge(
    setting: &Setting,
    args: &ExportArgs,
    past: &PastManifest,
    request: &ExportRequest,
    made: &Made<'_>,
    files: PastFiles,
) -> Result<(Verdict, Outcome), Failure> {
    let found = differences(
        made.catalogue,
        made.order,
        made.plan,
        made.calibration,
        made.lists,
        past,
        files,
    )?;
    let folder = request.manifest.parent().unwrap_or(Path::new(""));
    let on_disk = |(file, digest): &(String, ListDigest)| {
        digest_of(&folder.join(file)).as_ref() == Some(digest)
    };
    let there = |(file, _): &(String, ListDigest)| folder.join(file).exists();
    let whole = made.plan.left_out.is_empty();
    let done = if whole {
        Outcome::Done
    } else {
        Outcome::NeedsAttention
    };
    let (whole_there, others): (Vec<_>, Vec<_>) = made.lists.iter().partition(|list| on_disk(list));
    if found.same_bytes && others.is_empty() {
        say(
            setting,
            "the list can be made again byte for byte, and the one on the disk is unchanged",
        );
        return Ok((Verdict::Drop, done));
    }
    told::differences(&found);
    if found.same_bytes && !others.iter().any(|list| there(list)) {
        say(
            setting,
            if whole_there.is_empty() {
                "the list was missing and has been made again byte for byte"
            } else {
                "a list was missing and has been made again byte for byte"
            },
        );
        return Ok((Verdict::Keep, done));
    }
    if found.same_bytes {
        print::warn(
            "the list on the disk differs from the manifest; it can be made again byte for byte",
        );
    }
    if !args.overwrite {
        print::warn(&format!(
            "nothing was written; --overwrite replaces {}",
            print::path(&request.to)
        ));
        return Ok((Verdict::Drop, Outcome::NeedsAttention));
    }
    for (file, _) in past.lists.iter().filter(|old| there(old)) {
        if !made.lists.iter().any(|(now, _)| now == file) {
            print::warn(&format!(
                "no longer part of the export, and left unchanged: {}",
                printable(file)
            ));
        }
    }
    Ok((Verdict::Keep, Outcome::NeedsAttention))
}

fn say(setting: &Setting, line: &str) {
    setting.say(line);
}

/// The bytes of a list on the disk; `None` where it cannot be read.
fn digest_of(path: &Path) -> Option<ListDigest> {
    let mut hashed = Hashed::new(io::sink());
    io::copy(&mut File::open(path).ok()?, &mut hashed).ok()?;
    Some(hashed.digest())
}
