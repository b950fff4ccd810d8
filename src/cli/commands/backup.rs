//! `framefall backup`.

use crate::catalogue::purpose::Purpose;
use crate::cli::args::BackupArgs;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::print::written;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::output::atomic_file::Overwrite;
use crate::terms::failure::Failure;
use crate::terms::plural::counted;
use crate::usecase::backup::back_up;

/// Runs the command.
pub fn run(setting: &Setting, args: &BackupArgs) -> Result<Outcome, Failure> {
    let overwrite = Overwrite::from(args.overwrite);
    let mut catalogue = setting.open(Purpose::Read)?;
    let progress = Progress::new("pages", setting.quiet);
    let made = back_up(
        &mut catalogue,
        &args.to,
        overwrite,
        now()?,
        &mut |done, of| {
            progress.at(done, of);
        },
    );
    progress.end();
    let made = made?;
    if setting.quiet == Quiet::No {
        let line = format!(
            "copied {} to {}: {}, {}, {:.1} MB; the copy was checked",
            print::path(catalogue.path()),
            print::path(&args.to),
            counted(made.copied.frames, "frame"),
            counted(made.copied.statements, "statement"),
            made.copied.bytes as f64 / 1e6
        );
        print::answer(|out| writeln!(out, "{line}").map_err(written))?;
    }
    if let Some(why) = made.not_noted {
        print::warn(
            "the backup is whole, but the catalogue could not note its time; framefall audit does not know of it",
        );
        print::failure(&why);
    }
    Ok(Outcome::Done)
}
