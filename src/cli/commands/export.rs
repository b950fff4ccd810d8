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
use crate::framelist::Format;
use crate::pipeline::frames::why_none;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::printable::printable;

/// Runs the command.
pub fn run(setting: &Setting, args: &ExportArgs) -> Result<Outcome, Failure> {
    let format = args.form.map_or_else(|| format_of(&args.to), Format::from);
    if args.to.is_dir() {
        return Err(
            failed("this is a folder; a list is written to a file", &args.to)
                .hint("name a file in it"),
        );
    }
    if args.to.exists() && !args.overwrite {
        return Err(exists(&args.to));
    }
    let (compiled, catalogue) = lists::compile_and_open(&args.query, &setting.catalogue()?)?;
    let look = lists::Look {
        format,
        show: None,
        order: &[],
        limit: None,
        width: None,
    };
    // The list grows beside its place, so that taking the place is a rename within one disk.
    let folder = match args.to.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let unwritable =
        |e: std::io::Error| failed("the list could not be written", &args.to).because(e);
    let mut builder = tempfile::Builder::new();
    builder.prefix(".framefall-").suffix(".part");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any new file: what the umask leaves. A temporary file would otherwise be its owner's alone.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let mut part = builder.tempfile_in(folder).map_err(|e| {
        failed("the list's folder cannot be written to", folder)
            .hint("check that it exists and its permissions")
            .because(e)
    })?;
    let mut out = BufWriter::with_capacity(1 << 16, part.as_file_mut());
    let rows = lists::write(&catalogue, &compiled, &look, &mut out)?;
    out.flush().map_err(unwritable)?;
    drop(out);
    if rows == 0 {
        print::complain(&why_none(&catalogue, &compiled)?);
        print::complain(&format!(
            "nothing to export; {} was not written",
            printable(&args.to.to_string_lossy())
        ));
        return Ok(Outcome::NeedsAPerson);
    }
    part.as_file().sync_all().map_err(unwritable)?;
    if args.overwrite {
        part.persist(&args.to).map_err(|e| unwritable(e.error))?;
    } else {
        part.persist_noclobber(&args.to)
            .map_err(|e| match e.error.kind() {
                std::io::ErrorKind::AlreadyExists => exists(&args.to),
                _ => unwritable(e.error),
            })?;
    }
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

fn failed(message: &str, at: &Path) -> Failure {
    Failure::new(FailureKind::Output, message).at_file(at)
}

fn exists(to: &Path) -> Failure {
    failed("this file exists already", to)
        .hint("choose another name, or replace it with --overwrite")
}
