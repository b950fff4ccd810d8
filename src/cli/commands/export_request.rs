//! The request for an export, from the command line or from a manifest. Reads no catalogue.

use std::path::Path;
use std::path::PathBuf;

use crate::catalogue::handoff::Grouped;
use crate::catalogue::names::os_name;
use crate::cli::args_export::ExportArgs;
use crate::cli::args_export::ExportForm;
use crate::cli::endings::refuse_as_list;
use crate::framelist::Format;
use crate::framelist::PastManifest;
use crate::terms::basis::Kind;
use crate::terms::failure::Failure;
use crate::terms::handoff::Check;
use crate::terms::handoff::Damaged;
use crate::terms::handoff::Lacking;
use crate::terms::handoff::PathsFrom;
use crate::terms::handoff::Take;
use crate::terms::linktree::LinkAs;
use crate::terms::name_text::bytes_of;
use crate::usecase::export::request::ExportRequest;
use crate::usecase::export::request::Makes;
use crate::usecase::export::request::RunAs;

/// The end of a manifest's name, after the list's.
const MANIFEST_ENDING: &str = ".manifest.json";

/// From the command line.
pub fn requested(args: &ExportArgs, query: &str) -> Result<ExportRequest, Failure> {
    let link_as = args.link_as.unwrap_or(LinkAs::Symbolic);
    let makes = match (&args.to, &args.link_into) {
        (Some(_), Some(at)) => Makes::ListAndTree(at.clone(), link_as),
        (None, Some(at)) => Makes::Tree(at.clone(), link_as),
        _ => Makes::List,
    };
    let to = args.to.as_deref().or(args.link_into.as_deref());
    let to = to.unwrap_or(Path::new(""));
    if makes.lists() {
        refuse_as_list(to)?;
    }
    let paths = if let Some(root) = &args.root {
        PathsFrom::Root(true_folder(root)?)
    } else if args.relative {
        PathsFrom::List(true_folder(folder_of(to))?)
    } else {
        PathsFrom::Absolute
    };
    if makes.lists() && to.file_name().is_some_and(|name| name.to_str().is_none()) {
        return Err(Failure::words(
            "the name of this list is not UTF-8 and cannot be written in its manifest",
        )
        .at_file(to)
        .hint("give the list a name in UTF-8"));
    }
    Ok(ExportRequest {
        query: query.to_owned(),
        meaning: None,
        to: to.to_path_buf(),
        makes,
        calibration: [
            (args.with_darks, Kind::Dark),
            (args.with_flats, Kind::Flat),
            (args.with_bias, Kind::Bias),
        ]
        .into_iter()
        .filter_map(|(wanted, kind)| wanted.then_some(kind))
        .collect(),
        manifest: with_behind(to, MANIFEST_ENDING),
        // A tree accepts any path.
        format: if args.to.is_none() {
            Format::Paths0
        } else {
            match args.form {
                Some(ExportForm::List(form)) => form,
                _ => format_of(to),
            }
        },
        show: args.show.clone(),
        limit: args.limit,
        grouped: if args.per_session {
            Grouped::BySession
        } else {
            Grouped::Together
        },
        take: args.take.unwrap_or(Take::First),
        paths,
        reference: args.reference.as_deref().map(on_the_disk),
        check: args.check.unwrap_or(Check::Files),
        lacking: lacking(args.allow_missing),
        damaged: damaged(args.with_damaged),
        run: if args.dry_run {
            RunAs::DryRun
        } else {
            RunAs::Writing
        },
    })
}

/// From a manifest. The command line may check more on the disk, allow that frames are left out, and rename what has
/// moved with a disk: the root of the paths, the reference frame.
pub fn requested_again(
    args: &ExportArgs,
    manifest: &Path,
    past: &PastManifest,
) -> Result<ExportRequest, Failure> {
    let options = &past.options;
    let unknown = |what: &str| {
        Failure::words(format!(
            "the manifest names {what} that this framefall does not know"
        ))
        .at_file(manifest)
        .hint("use the framefall that wrote it")
    };
    let to = list_of(manifest)?;
    if args.root.is_some() && options.paths != "root" {
        return Err(
            Failure::words("the paths of this list were not relative to a --root")
                .at_file(manifest)
                .hint("leave out --root"),
        );
    }
    Ok(ExportRequest {
        query: past.query.clone(),
        meaning: Some(past.meaning.clone()),
        manifest: manifest.to_path_buf(),
        makes: Makes::List,
        calibration: options
            .calibration
            .iter()
            .map(|word| Kind::from_word(word).ok_or_else(|| unknown("a kind of frame")))
            .collect::<Result<_, _>>()?,
        format: Format::from_word(&options.form).ok_or_else(|| unknown("a format"))?,
        show: options.show.clone(),
        limit: options.limit,
        grouped: if options.per_session {
            Grouped::BySession
        } else {
            Grouped::Together
        },
        take: match options.take.as_deref() {
            None => Take::First,
            Some("raw") => Take::Raw,
            Some("jpeg") => Take::Jpeg,
            Some(_) => return Err(unknown("a kind of file")),
        },
        paths: match (options.paths.as_str(), &options.root) {
            ("absolute", _) => PathsFrom::Absolute,
            ("relative", _) => PathsFrom::List(true_folder(folder_of(&to))?),
            ("root", Some(root)) => PathsFrom::Root(match &args.root {
                Some(root) => true_folder(root)?,
                None => os_name(root.clone(), bytes_of(root)).into(),
            }),
            _ => return Err(unknown("a kind of path")),
        },
        reference: match &args.reference {
            Some(said) => Some(on_the_disk(said)),
            None => options.reference.clone(),
        },
        check: match (args.check, options.check.as_str()) {
            (Some(said), _) => said,
            (None, "files") => Check::Files,
            (None, "content") => Check::Content,
            (None, "none") => Check::Nothing,
            (None, _) => return Err(unknown("a check")),
        },
        lacking: lacking(args.allow_missing || options.allow_missing),
        damaged: damaged(args.with_damaged || options.with_damaged),
        run: RunAs::Writing,
        to,
    })
}

const fn lacking(allow_missing: bool) -> Lacking {
    if allow_missing {
        Lacking::LeftOut
    } else {
        Lacking::Refused
    }
}

const fn damaged(with_damaged: bool) -> Damaged {
    if with_damaged {
        Damaged::HandedOn
    } else {
        Damaged::LeftOut
    }
}

/// The list beside a manifest.
fn list_of(manifest: &Path) -> Result<PathBuf, Failure> {
    let name = manifest.file_name().and_then(|name| name.to_str());
    match name.and_then(|name| name.strip_suffix(MANIFEST_ENDING)) {
        Some(list) if !list.is_empty() => Ok(manifest.with_file_name(list)),
        _ => Err(Failure::words(
            "a manifest must be named like its list, followed by .manifest.json",
        )
        .at_file(manifest)
        .hint("give it that name again; the list is made beside it")),
    }
}

fn with_behind(path: &Path, behind: &str) -> PathBuf {
    let mut name = path.as_os_str().to_os_string();
    name.push(behind);
    name.into()
}

/// The folder of a file.
fn folder_of(to: &Path) -> &Path {
    match to.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// A folder by its resolved path.
fn true_folder(folder: &Path) -> Result<PathBuf, Failure> {
    folder.canonicalize().map_err(|e| {
        Failure::words("there is no such folder")
            .at_file(folder)
            .because(e)
    })
}

/// An existing file becomes its resolved path; anything else is unchanged.
fn on_the_disk(said: &str) -> String {
    if said.contains(['/', '\\'])
        && let Ok(path) = Path::new(said).canonicalize()
        && let Some(path) = path.to_str()
    {
        return path.to_owned();
    }
    said.to_owned()
}

/// The format for a file's extension; paths for any other.
fn format_of(to: &Path) -> Format {
    let ending = to.extension().map(|e| e.to_string_lossy().to_lowercase());
    match ending.as_deref() {
        Some("csv") => Format::Csv,
        Some("json") => Format::Json,
        Some("jsonl") => Format::Jsonl,
        _ => Format::Paths,
    }
}
