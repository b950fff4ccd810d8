//! `framefall dump proof` and `framefall dump hashes`.

use std::path::Path;

use crate::catalogue::purpose::Purpose;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Lines;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::cli::stop::STOP;
use crate::cli::stop::prepare_for_ctrl_c;
use crate::framelist::Format;
use crate::output::atomic_file::Overwrite;
use crate::terms::failure::Failure;
use crate::usecase::copy::hashes::HashesNews;
use crate::usecase::copy::hashes::write_hashes;
use crate::usecase::copy::proof::dump_proof;

/// What is proved of a dump, file by file and in sum.
pub(super) fn proof(setting: &Setting, label: &str, form: Format) -> Result<Outcome, Failure> {
    let catalogue = setting.open(Purpose::Read)?;
    let proof = dump_proof(&catalogue, label)?;
    print::sheet(proof.files, form)?;
    if form == Format::Table {
        print::answer(|out| {
            writeln!(out).map_err(print::written)?;
            print::pairs(out, &proof.sum)
        })?;
    }
    Ok(Outcome::done(proof.needs_attention))
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
    let overwrite = Overwrite::from(overwrite);
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
    let mut lines = Lines::default();
    lines.put("files in the list", report.files);
    lines.some("read for it", report.read);
    setting.tell(lines.some("left out", report.left_out))?;
    Ok(Outcome::done(report.left_out > 0))
}
