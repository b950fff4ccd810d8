//! Lists dumps, moves a dump's root to its present location, and renames dumps. Reads no frames.

use std::path::Path;
use std::path::PathBuf;

use crate::capture::volume::volume_of;
use crate::capture::walk::root_of;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::kept_name;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::field::Field;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Instant;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::FieldKind::Whole;
use crate::terms::field_kind::Unit;
use crate::terms::records::Cell;
use crate::terms::sheet::Sheet;
use crate::terms::statement::Act;
use crate::terms::time::Utc;
use crate::usecase::copy::age::ProvedDumps;
use crate::usecase::dumps::away::is_there;
use crate::usecase::dumps::presence::dump_presence;
use crate::usecase::dumps::sample_match::SampleMatch;
use crate::usecase::dumps::sample_match::look_for;
use crate::usecase::statements::state::state_alone;
use crate::usecase::typed::most_alike;

/// No label needs to be longer.
const LONGEST_LABEL: usize = 200;

#[rustfmt::skip] // a row a column
const DUMPS: &[Field] = &[
    sheet_column("dump", "dump", Text, 0).rank(0),
    sheet_column("status", "status", Text, 0).rank(0),
    sheet_column("root", "root", Text, 0).rank(1),
    sheet_column("disk", "disk", Text, 0).rank(2),
    sheet_column("disk id", "disk_id", Text, 0).rank(5),
    sheet_column("frames", "frames", Whole(Unit::One), 0).rank(1),
    sheet_column("files", "files", Whole(Unit::One), 0).rank(4),
    sheet_column("bytes", "bytes", Whole(Unit::Bytes), 0).rank(6),
    sheet_column("last proved", "last_proved", Text, 0).rank(2),
    sheet_column("all read back since", "proved_utc", Instant, 0),
    sheet_column("first ingest", "first_seen_utc", Instant, 0),
    sheet_column("last ingest", "last_seen_utc", Instant, 0).rank(3),
];

/// Every dump.
pub fn dumps(catalogue: &Catalogue, now: Utc) -> Result<Sheet, Failure> {
    let mut proved = ProvedDumps::new(catalogue, now)?;
    let whole = |count: u64| Cell::Whole(i64::try_from(count).unwrap_or(i64::MAX));
    let text = |known: Option<String>| known.map_or(Cell::Unknown, Cell::Text);
    let mut rows = Vec::new();
    for dump in catalogue.dumps()? {
        let holds = catalogue.dump_holds(dump.dump_id)?;
        let status = if is_there(catalogue, &dump)? {
            "present"
        } else {
            "offline"
        };
        let place = kept_name(dump.place().as_os_str()).text;
        let [proved_utc, last_proved] = proved.cells(&[dump.dump_id])?;
        rows.push(vec![
            Cell::Text(dump.label),
            Cell::Text(status.to_owned()),
            Cell::Text(place),
            text(dump.volume.label),
            text(dump.volume.id),
            whole(holds.frames),
            whole(holds.files),
            whole(holds.bytes),
            last_proved,
            proved_utc,
            Cell::Text(dump.first_seen_utc),
            Cell::Text(dump.last_seen_utc),
        ]);
    }
    Ok(Sheet {
        columns: DUMPS,
        rows,
        when_empty: "no dumps yet; run framefall ingest DUMP first",
    })
}

/// How much of a sample of a dump's files must match.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Enough {
    /// All of it.
    All,
    /// More than half.
    Most,
}

/// A dump that was moved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MovedDump {
    /// Its label.
    pub label: String,
    /// Where it was.
    pub from: PathBuf,
    /// Where it is.
    pub to: PathBuf,
    /// The comparison of its files there.
    pub found: SampleMatch,
    /// The labels of dumps that were there before and are now offline.
    pub freed: Vec<String>,
}

/// Moves a dump's root, after checking its files there.
///
/// Refuses: an unknown dump; a location that is not a folder; one whose files are not the dump's; one that is another
/// dump's, or whose files the catalogue already knows as another's.
pub fn move_dump(
    catalogue: &mut Catalogue,
    label: &str,
    to: &Path,
    enough: Enough,
) -> Result<MovedDump, Failure> {
    let dump = dump_labelled(catalogue, label)?;
    let to = dump_root(to)?;
    let mut moved = MovedDump {
        label: dump.label.clone(),
        from: dump.place().to_path_buf(),
        to: to.clone(),
        found: SampleMatch::default(),
        freed: Vec::new(),
    };
    if to == dump.root {
        return Ok(moved);
    }
    let freed = match way_to(catalogue, &dump, &to)? {
        Way::Free(freed) => freed,
        Way::Claimed(why) => {
            return Err(Failure::words(format!("{label} was not moved: {why}"))
                .at_file(&to)
                .hint("framefall dump list shows the dumps and their locations"));
        }
    };
    moved.found = look_for(catalogue, &dump, &to)?;
    let found = &moved.found;
    let is_enough =
        found.looked == 0 || found.is_whole() || (enough == Enough::Most && found.is_mostly());
    if !is_enough {
        return Err(not_its_files(label, &to, found));
    }
    put_root(catalogue, &dump, &to, &freed)?;
    moved.freed = freed.into_iter().map(|other| other.label).collect();
    Ok(moved)
}

fn not_its_files(label: &str, to: &Path, found: &SampleMatch) -> Failure {
    let failure = Failure::new(
        FailureKind::Dump,
        format!("{label} was not moved: {}", found.words()),
    )
    .at_file(to);
    if found.is_mostly() {
        failure.hint("if you deleted or changed some, --mostly moves it anyway")
    } else {
        failure.hint(
            "name the folder with the contents of the old root; framefall ingest adds any other \
             folder as a new dump",
        )
    }
}

/// Changes a dump's root, and records its volume. Offline dumps at that location give it up.
pub(crate) fn put_root(
    catalogue: &mut Catalogue,
    dump: &DumpPlace,
    to: &Path,
    freed: &[DumpPlace],
) -> Result<(), Failure> {
    let volume = volume_of(to);
    let batch = catalogue.batch()?;
    for other in freed {
        batch.set_aside(other)?;
    }
    batch.put_root(dump.dump_id, to, &volume)?;
    batch.commit()
}

/// Frees the root of an offline dump.
pub(crate) fn set_aside(catalogue: &mut Catalogue, dump: &DumpPlace) -> Result<(), Failure> {
    let batch = catalogue.batch()?;
    batch.set_aside(dump)?;
    batch.commit()
}

/// Whether a dump's root may be moved to a place.
enum Way {
    /// It may, once these offline dumps have given it up.
    Free(Vec<DumpPlace>),
    /// It may not: another dump's files are there, or would become this one's.
    Claimed(String),
}

/// Whether a dump's root may be moved to a place.
fn way_to(catalogue: &Catalogue, dump: &DumpPlace, place: &Path) -> Result<Way, Failure> {
    let mut freed = Vec::new();
    for other in catalogue.dumps()? {
        if other.dump_id == dump.dump_id || other.left.is_some() {
            continue;
        }
        let Some(why) = claim(catalogue, dump, &other, place)? else {
            continue;
        };
        if !dump_presence(catalogue, &other)?.is_away() {
            return Ok(Way::Claimed(why));
        }
        freed.push(other);
    }
    Ok(Way::Free(freed))
}

/// The objection of another dump to a dump's move to a location.
pub(crate) fn claim(
    catalogue: &Catalogue,
    dump: &DumpPlace,
    other: &DumpPlace,
    place: &Path,
) -> Result<Option<String>, Failure> {
    let label = &other.label;
    if other.root == place {
        return Ok(Some(format!("that is the root of dump {label}")));
    }
    if let Ok(below) = place.strip_prefix(&other.root)
        && catalogue.has_files_in(other.dump_id, below)?
    {
        return Ok(Some(format!(
            "the catalogue knows the files there as those of dump {label}, at {}",
            other.root.display()
        )));
    }
    if let Ok(below) = other.root.strip_prefix(place)
        && catalogue.has_files_in(dump.dump_id, below)?
    {
        return Ok(Some(format!(
            "the root of dump {label}, {}, is where files of this one would be",
            other.root.display()
        )));
    }
    Ok(None)
}

/// Whether the catalogue knows any file in a folder, or in the folders below it.
pub fn has_pictures(catalogue: &Catalogue, folder: &Path) -> Result<bool, Failure> {
    let root = dump_root(folder)?;
    for dump in catalogue.dumps()? {
        let below = if dump.root.starts_with(&root) {
            Path::new("")
        } else if let Ok(below) = root.strip_prefix(&dump.root) {
            below
        } else {
            continue;
        };
        if catalogue.has_files_in(dump.dump_id, below)? {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Gives a dump another label.
///
/// Refuses: an unknown dump; a label that is empty, too long, has control characters in it, or belongs to another dump.
pub fn rename_dump(catalogue: &mut Catalogue, label: &str, new: &str) -> Result<(), Failure> {
    let dump = dump_labelled(catalogue, label)?;
    let new = new.trim();
    let refused = |message: &str| Err(Failure::words(message));
    if new.is_empty() {
        return refused("a dump needs a label");
    }
    if new.chars().count() > LONGEST_LABEL || new.chars().any(char::is_control) {
        return refused("a label is one line of at most 200 characters");
    }
    let file = catalogue.batch()?.mark_of_dump(dump.dump_id)?;
    let act = Act::Label(label.to_owned(), new.to_owned(), file);
    state_alone(catalogue, &act)
}

/// The dump of that label.
///
/// Refuses: a label that no dump has, with the nearest one.
pub(crate) fn dump_labelled(catalogue: &Catalogue, label: &str) -> Result<DumpPlace, Failure> {
    let mut all = catalogue.dumps()?;
    if let Some(at) = all.iter().position(|dump| dump.label == label) {
        return Ok(all.swap_remove(at));
    }
    let hint = most_alike(&all, |dump| &dump.label, label).map_or_else(
        || "framefall dump list shows the dumps".to_owned(),
        |dump| format!("did you mean '{}'?", dump.label),
    );
    Err(Failure::words(format!("there is no dump named '{label}'")).hint(hint))
}

/// The root of a dump or a card as named in the catalogue: absolute, with links in its own path resolved.
///
/// Refuses: a path that is not a folder, or does not exist.
pub fn dump_root(dump: &Path) -> Result<PathBuf, Failure> {
    let refuse = |message: &str| Failure::new(FailureKind::Dump, message).at_file(dump);
    let root = root_of(dump).map_err(|e| {
        if e.kind() == std::io::ErrorKind::NotFound {
            refuse("there is no such folder").hint("check the path; is the disk or card mounted?")
        } else {
            refuse("the folder cannot be opened").because(e)
        }
    })?;
    if !root.is_dir() {
        return Err(refuse("a folder is needed; this is a file")
            .hint("name the folder of the card or dump"));
    }
    Ok(root)
}
