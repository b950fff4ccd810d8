//! `framefall dump proof` and `framefall dump hashes`.

use std::path::Path;

use crate::catalogue::purpose::Purpose;
use crate::cli::args_form::RowForm;
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
use crate::usecase::copy::hashes::HashesNews;
use crate::usecase::copy::hashes::write_hashes;
use crate::usecase::copy::proof::dump_proof;

/// What is proved of a dump, file by file and in sum.
pub(super) fn proof(setting: &Setting, label: &str, form: RowForm) -> Result<Outcome, Failure> {
    let catalogue = setting.open(Purpose::Read)?;
    let proof = dump_proof(&catalogue, label)?;
    print::sheet(proof.files, form)?;
    if form == RowForm::Table {
        print::answer(|out| {
            writeln!(out).map_err(print::written)?;
            print::pairs(out, &proof.sum)
        })?;
    }
    Ok(if proof.needs_attention {
        Outcome::NeedsAttention
    } else {
        Outcome::Done
    })
}

/// Writes the list of hashes of a dump.
pub(super) fn hashes(
    setting: &Setting,
    label: &str,
    to: &Path,
    overwrite: bool,
) -> Result<Outcome, Failure> {
    let mut catalogue = setting.open(Purpose::Change)?;
    prepare_for_ctrl_c()?;
    let overwrite = if overwrite {
        Overwrite::Yes
    } else {
        Overwrite::No
    };
    let of = 0;
    let progress = Progress::new("MB", setting.quiet);
    let report = write_hashes(
        &mut catalogue,
        label,
        (to, overwrite),
        now()?,
        &STOP,
        &mut |news| match news {
            HashesNews::At(done, path) => {
                progress.at(done / 1_000_000, of);
                progress.doing(format!("reading {}", path.display()));
            }
            HashesNews::Odd(path, finding) => {
                progress.say(print::finding_text(&path.to_string_lossy(), finding));
            }
        },
    );
    drop(catalogue);
    progress.end();
    let report = report?;
    if report.stopped {
        print::warn("stopped; no list was written, and the same command carries on");
        return Ok(Outcome::Stopped);
    }
    if setting.quiet == Quiet::No {
        let lines = [
            ("files in the list", report.files),
            ("read for it", report.read),
            ("left out", report.left_out),
        ];
        let lines: Vec<(String, String)> = lines
            .into_iter()
            .filter(|(label, count)| *count > 0 || *label == "files in the list")
            .map(|(label, count)| (label.to_owned(), count.to_string()))
            .collect();
        print::answer(|out| print::pairs(out, &lines))?;
    }
    Ok(if report.left_out > 0 {
        Outcome::NeedsAttention
    } else {
        Outcome::Done
    })
}
