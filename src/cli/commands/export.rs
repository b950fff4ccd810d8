//! `framefall export`: the file appears whole or not at all.

use std::io::BufWriter;
use std::io::Write;
use std::path::Path;

use crate::cli::args_list::ExportArgs;
use crate::cli::commands::lists;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::run::Outcome;
use crate::cli::run::Setting;
use crate::cli::whole::Overwrite;
use crate::cli::whole::WholeFile;
use crate::framelist::Format;
use crate::pipeline::frames::why_none;
use crate::terms::failure::Failure;
use crate::terms::printable::printable;

/// Runs the command.
pub fn run(setting: &Setting, args: &ExportArgs) -> Result<Outcome, Failure> {
    let format = args.form.map_or_else(|| format_of(&args.to), Format::from);
    let overwrite = if args.overwrite {
        Overwrite::Yes
    } else {
        Overwrite::No
    };
    let mut file = WholeFile::begin(&args.to, overwrite, "list")?;
    let (compiled, catalogue) = lists::compile_and_open(&args.query, &setting.catalogue()?)?;
    let look = lists::Look {
        format,
        show: None,
        order: &[],
        limit: None,
        width: None,
    };
    let mut out = BufWriter::with_capacity(1 << 16, file.out());
    let rows = lists::write(&catalogue, &compiled, &look, &mut out)?;
    let flushed = out.flush();
    drop(out);
    flushed.map_err(|e| file.unwritable(e))?;
    if rows == 0 {
        print::complain(&why_none(&catalogue, &compiled)?);
        print::complain(&format!(
            "nothing to export; {} was not written",
            printable(&args.to.to_string_lossy())
        ));
        return Ok(Outcome::NeedsAPerson);
    }
    file.keep()?;
    if setting.quiet == Quiet::No {
        print::complain(&format!(
            "{rows} {} written to {}",
            if rows == 1 { "frame" } else { "frames" },
            printable(&args.to.to_string_lossy())
        ));
    }
    Ok(Outcome::Done)
}

/// The form that a file's ending asks for; paths for any other.
fn format_of(to: &Path) -> Format {
    let ending = to.extension().map(|e| e.to_string_lossy().to_lowercase());
    match ending.as_deref() {
        Some("csv") => Format::Csv,
        Some("json") => Format::Json,
        Some("jsonl") => Format::Jsonl,
        _ => Format::Paths,
    }
}
