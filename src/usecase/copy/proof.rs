//! What is proved of a dump, file by file and in sum. Reads no file's contents, and decides nothing: whether a card is used
//! again is the photographer's decision.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::collections::HashMap;
use std::path::Path;
use std::path::PathBuf;

use crate::capture::walk::Walked;
use crate::capture::walk::walk;
use crate::catalogue::content::ContentRow;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::below_of;
use crate::catalogue::names::kept_folder;
use crate::catalogue::names::kept_name;
use crate::catalogue::proofs::DeviceRow;
use crate::terms::content::COPIED;
use crate::terms::content::Compared;
use crate::terms::content::UNREAD;
use crate::terms::content::VERIFIED;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Instant;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::FieldKind::Whole;
use crate::terms::field_kind::Unit;
use crate::terms::records::Cell;
use crate::terms::sheet::Sheet;
use crate::terms::time::Utc;
use crate::usecase::copy::run::FAT_NS;
use crate::usecase::dumps::away::is_there;
use crate::usecase::dumps::away::oddness;
use crate::usecase::dumps::manage::dump_labelled;

#[rustfmt::skip] // a row a column
const PROOF: &[Field] = &[
    sheet_column("file", "file", Text, 0),
    sheet_column("bytes", "bytes", Whole(Unit::Bytes), 0),
    sheet_column("proof", "proof", Text, 0),
    sheet_column("verified copies", "verified_copies", Whole(Unit::One), 0),
    sheet_column("devices", "devices", Whole(Unit::One), 0),
    sheet_column("last read back", "read_back_utc", Instant, 0),
    sheet_column("where", "where", Text, 0),
];

/// What is proved of a dump.
#[derive(Debug)]
pub struct DumpProof {
    /// Its files, one a row.
    pub files: Sheet,
    /// The same in sum: labels and values.
    pub sum: Vec<(String, String)>,
    /// Whether a file has no verified copy, differs from its hash, or is on the card alone.
    pub needs_attention: bool,
}

/// What is known of one file.
#[derive(Default)]
struct OneFile {
    bytes: u64,
    row: Option<ContentRow>,
}

/// What is proved of one file.
struct FileProof {
    word: &'static str,
    devices: Vec<DeviceRow>,
    copies: u64,
    oldest: Option<Utc>,
    places: Vec<String>,
    differs: bool,
    /// It is missing from this dump, or has openly changed.
    is_gone: bool,
}

/// What is proved of the dump of that label.
///
/// Refuses: a label that no dump has.
pub fn dump_proof(catalogue: &Catalogue, label: &str) -> Result<DumpProof, Failure> {
    let dump = dump_labelled(catalogue, label)?;
    let files = files_of(catalogue, &dump)?;
    let shared = catalogue.contents_shared_with(dump.dump_id)?;
    let with_copies: BTreeSet<i64> = shared.values().flatten().map(|row| row.dump_id).collect();
    let mut dumps = HashMap::new();
    for dump in catalogue.dumps()? {
        let is_here = with_copies.contains(&dump.dump_id) && is_there(catalogue, &dump)?;
        dumps.insert(dump.dump_id, (dump, is_here));
    }
    let mut rows = Vec::new();
    let mut sum = Sum::default();
    for (path, file) in &files {
        let proof = proof_of(catalogue, &dumps, &shared, file)?;
        sum.take(&proof);
        rows.push(vec![
            Cell::Text(path.clone()),
            whole(file.bytes),
            Cell::Text(proof.word.to_owned()),
            whole(proof.copies),
            whole(proof.devices.len() as u64),
            proof
                .oldest
                .map_or(Cell::Unknown, |at| Cell::Text(at.to_string())),
            Cell::Text(proof.places.join(", ")),
        ]);
    }
    let mut lines = sum.lines(&dump, files.len());
    let mut alone = 0;
    for card in catalogue.cards_of(dump.dump_id)? {
        let (words, lacking) = look_at_card(&card, &files);
        lines.push(("card".to_owned(), words));
        alone += lacking.len() as u64;
        for (path, bytes) in lacking {
            rows.push(vec![
                Cell::Text(path),
                whole(bytes),
                Cell::Text(UNREAD.to_owned()),
                whole(0),
                whole(0),
                Cell::Unknown,
                Cell::Text(format!(
                    "on the card {} alone",
                    kept_name(card.as_os_str()).text
                )),
            ]);
        }
    }
    Ok(DumpProof {
        files: Sheet {
            columns: PROOF,
            rows,
            when_empty: "no files",
        },
        sum: lines,
        needs_attention: sum.copied + sum.unread + sum.differing + sum.gone + alone > 0
            || files.is_empty(),
    })
}

fn whole(number: u64) -> Cell {
    Cell::Whole(i64::try_from(number).unwrap_or(i64::MAX))
}

/// Every file of a dump that is known, by an ingest or by its hash, by path.
fn files_of(catalogue: &Catalogue, dump: &DumpPlace) -> Result<BTreeMap<String, OneFile>, Failure> {
    let mut files: BTreeMap<String, OneFile> = BTreeMap::new();
    for row in catalogue.contents_of_dump(dump.dump_id)? {
        let one = files.entry(row.path.clone()).or_default();
        one.bytes = row.bytes;
        one.row = Some(row);
    }
    catalogue.files_as_read(dump.dump_id, |file| {
        let path = match file.row.folder.as_str() {
            "" => file.row.file,
            folder => format!("{folder}/{}", file.row.file),
        };
        let one = files.entry(path).or_default();
        one.bytes = file.bytes;
        // A hash of another state of the file says nothing of this one.
        one.row = one
            .row
            .take()
            .filter(|row| row.bytes == file.bytes && row.modified_ns == file.modified_ns);
        Ok(())
    })?;
    Ok(files)
}

fn proof_of(
    catalogue: &Catalogue,
    dumps: &HashMap<i64, (DumpPlace, bool)>,
    shared: &HashMap<[u8; 32], Vec<ContentRow>>,
    file: &OneFile,
) -> Result<FileProof, Failure> {
    let mut proof = FileProof {
        word: UNREAD,
        devices: Vec::new(),
        copies: 0,
        oldest: None,
        places: Vec::new(),
        differs: false,
        is_gone: false,
    };
    let Some(own) = &file.row else {
        return Ok(proof);
    };
    let mut counted = Vec::new();
    for row in shared.get(&own.blake3).into_iter().flatten() {
        let Some((dump, is_here)) = dumps.get(&row.dump_id) else {
            continue;
        };
        let is_own = row.dump_id == own.dump_id && row.path == own.path;
        if row.dump_id == own.dump_id && !is_own {
            continue;
        }
        // What was read back there once is no copy any more.
        let path = dump.root.join(below_of(&row.path));
        if *is_here && let Some((code, _)) = oddness(&path, row.bytes, row.modified_ns) {
            proof.is_gone |= is_own;
            proof.places.push(format!("{}: {code}", dump.label));
            continue;
        }
        if proof.word == UNREAD {
            proof.word = COPIED;
        }
        let day =
            |at: Option<Utc>| at.map_or(String::new(), |at| format!(" {:.10}", at.to_string()));
        let mut word = row.way.map_or(COPIED, |way| way.proof());
        match row.result {
            Some(Compared::Differs) => {
                proof.differs |= is_own;
                word = "differs";
            }
            Some(Compared::Unreadable) => {
                proof.differs |= is_own;
                word = "could not be read";
            }
            None => word = COPIED,
            Some(Compared::Same) => {}
        }
        proof
            .places
            .push(format!("{}: {word}{}", dump.label, day(row.checked)));
        if !row.is_verified() || counted.contains(&row.dump_id) {
            continue;
        }
        counted.push(row.dump_id);
        let Some(device) = row.device_id.map(|id| catalogue.device(id)).transpose()? else {
            continue;
        };
        // A dump that was moved to another volume since is not what was read back there.
        let moved =
            matches!((&device.volume.id, &dump.volume.id), (Some(then), Some(now)) if then != now);
        if moved {
            continue;
        }
        proof.copies += 1;
        proof.word = VERIFIED;
        proof.oldest = match (proof.oldest, row.checked) {
            (Some(one), Some(other)) => Some(one.min(other)),
            (one, other) => one.or(other),
        };
        if !proof.devices.iter().any(|other| other.is_same(&device)) {
            proof.devices.push(device);
        }
    }
    Ok(proof)
}

#[derive(Default)]
struct Sum {
    two_devices: u64,
    one_device: u64,
    copied: u64,
    unread: u64,
    differing: u64,
    gone: u64,
    oldest: Option<Utc>,
}

impl Sum {
    fn take(&mut self, proof: &FileProof) {
        self.gone += u64::from(proof.is_gone);
        match (proof.word, proof.devices.len()) {
            (UNREAD, _) if proof.is_gone => {}
            (VERIFIED, 2..) => self.two_devices += 1,
            (VERIFIED, _) => self.one_device += 1,
            (UNREAD, _) => self.unread += 1,
            _ => self.copied += 1,
        }
        self.differing += u64::from(proof.differs);
        self.oldest = match (self.oldest, proof.oldest) {
            (Some(one), Some(other)) => Some(one.min(other)),
            (one, other) => one.or(other),
        };
    }

    fn lines(&self, dump: &DumpPlace, files: usize) -> Vec<(String, String)> {
        let mut lines = vec![
            ("dump".to_owned(), dump.label.clone()),
            ("files".to_owned(), files.to_string()),
        ];
        for (label, count) in [
            ("verified on two devices or more", self.two_devices),
            ("verified on one device", self.one_device),
            ("copied, not verified", self.copied),
            ("unread: no hash is known", self.unread),
            ("differ from their hash in this dump", self.differing),
            ("missing or changed in this dump", self.gone),
        ] {
            if count > 0 {
                lines.push((label.to_owned(), count.to_string()));
            }
        }
        if let Some(at) = self.oldest {
            lines.push(("read back since".to_owned(), at.to_string()));
        }
        lines
    }
}

/// What a card has that no copy has: its files are compared by path, size and time stamp.
fn look_at_card(card: &Path, files: &BTreeMap<String, OneFile>) -> (String, Vec<(String, u64)>) {
    let shown = kept_name(card.as_os_str()).text;
    if !card.is_dir() {
        return (format!("{shown} is not there"), Vec::new());
    }
    let mut lacking = Vec::new();
    let mut found = 0_u64;
    for step in walk(card) {
        let Ok(Walked::File(file)) = step else {
            continue;
        };
        let path = kept_folder(&PathBuf::from(&file.folder).join(&file.name)).text;
        let is_copied = files
            .get(&path)
            .and_then(|one| one.row.as_ref())
            .is_some_and(|row| {
                row.bytes == file.bytes && row.modified_ns.abs_diff(file.modified_ns) <= FAT_NS
            });
        if is_copied {
            found += 1;
        } else {
            lacking.push((path, file.bytes));
        }
    }
    if found == 0 {
        return (
            format!("{shown} holds none of these files; it may be another card"),
            Vec::new(),
        );
    }
    let words = match lacking.len() {
        0 => format!("{shown}: all its {found} files are in this dump"),
        alone => format!("{shown}: {alone} of its files are on the card alone"),
    };
    (words, lacking)
}
