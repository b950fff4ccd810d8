//! Whether the logs beside a catalogue belong to it. SQLite applies any log with the file's name; one that was left
//! beside a restored catalogue would damage it. Reads the logs, changes nothing.
//!
//! Source of all layouts: SQLite documentation, Database File Format: 1.3 the header, 3 the rollback journal, 4 the
//! write-ahead log.

use std::fs::File;
use std::io::Read;
use std::io::Seek;
use std::io::SeekFrom;
use std::path::Path;
use std::time::Duration;

use crate::catalogue::files::JOURNAL;
use crate::catalogue::files::LOG;
use crate::catalogue::files::beside;
use crate::catalogue::generation;
use crate::catalogue::generation::Generation;
use crate::catalogue::generation::Step;
use crate::catalogue::protected::open_unchanging;
use crate::terms::failure::Failure;

/// How the last user left the catalogue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum LastEnd {
    /// With everything in the file.
    Clean,
    /// With a log that belongs to it: a run was killed, the power failed, or another program has it open now.
    WithLog,
}

/// How often a log that seems not to belong to the file is checked: a writer may be writing it back at this moment.
const LOOKS: u32 = 4;
const BETWEEN_LOOKS: Duration = Duration::from_millis(60);

/// Checks the logs beside a catalogue.
///
/// Refuses: a log of another catalogue, or of another state of this one.
pub(super) fn look_beside(catalogue: &Path) -> Result<LastEnd, Failure> {
    let (log, journal) = (beside(catalogue, LOG), beside(catalogue, JOURNAL));
    if journal.exists() && journal_is_foreign(catalogue, &journal).unwrap_or(false) {
        return Err(foreign(&journal, "journal"));
    }
    if !log.metadata().is_ok_and(|about| about.len() > 0) {
        return Ok(LastEnd::Clean);
    }
    for look in 1.. {
        if !log_is_foreign(catalogue, &log).unwrap_or(false) {
            break;
        }
        if look == LOOKS {
            return Err(foreign(&log, "log"));
        }
        std::thread::sleep(BETWEEN_LOOKS);
    }
    Ok(LastEnd::WithLog)
}

fn foreign(at: &Path, what: &str) -> Failure {
    Failure::catalogue(format!(
        "the {what} beside the catalogue belongs to another catalogue, or to another state of this one"
    ))
    .at_file(at)
    .hint(format!(
        "nothing was changed. If you restored the catalogue from a backup, move this {what}, and \
         the file that ends in -shm, to another folder; then run the command again. Otherwise put \
         back the catalogue to which the {what} belongs"
    ))
}

/// Whether a write-ahead log begins from another state than the catalogue's; `None` if unknown: the log is empty or
/// another program's, or the catalogue cannot be read by itself.
fn log_is_foreign(catalogue: &Path, log: &Path) -> Option<bool> {
    // First the file, then the log: pages that a writer writes back in between were in the log before.
    let state = state_of_file(catalogue)?;
    let steps = steps_in_log(log).ok()?;
    let first = steps.first()?;
    Some(first.before != state && steps.iter().all(|step| step.after != state))
}

/// The state of the catalogue's file by itself, without its log.
fn state_of_file(catalogue: &Path) -> Option<Generation> {
    let db = open_unchanging(catalogue).ok()?;
    let known: bool = db
        .query_row(
            "SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE name = 'catalogue_generation')",
            [],
            |row| row.get(0),
        )
        .ok()?;
    // A catalogue of an earlier version, and one that was never changed, are in the state before the first change.
    if !known {
        return Some(Generation::default());
    }
    generation::latest(&db).ok().map(Option::unwrap_or_default)
}

/// The changes recorded in a write-ahead log, in order.
fn steps_in_log(log: &Path) -> std::io::Result<Vec<Step>> {
    const FRAME_HEAD: usize = 24;
    let mut file = File::open(log)?;
    let bytes = file.metadata()?.len();
    let head: [u8; 32] = read_at(&mut file, 0)?;
    let page_bytes = u64::from(number(&head, 8));
    let mut steps = Vec::new();
    // The checksums are left to SQLite: an additional change that was not committed does no harm.
    let (mut at, page_of) = (32, |frame: u64| frame + FRAME_HEAD as u64);
    while page_bytes >= 512 && page_of(at) + page_bytes <= bytes {
        let begins: [u8; FRAME_HEAD + generation::PAGE_HEAD] = read_at(&mut file, at)?;
        // Frames of an earlier cycle follow those of this one, and have other salts.
        if begins[8..16] != head[16..24] {
            break;
        }
        if let Ok(page) = begins[FRAME_HEAD..].try_into()
            && let Some(cell) = generation::place_on_page(page)
            && cell + generation::CELL as u64 <= page_bytes
        {
            let cell: [u8; generation::CELL] = read_at(&mut file, page_of(at) + cell)?;
            steps.extend(generation::step_in_cell(&cell));
        }
        at = page_of(at) + page_bytes;
    }
    Ok(steps)
}

/// Whether a rollback journal was written for another file; `None` if SQLite would not apply it.
///
/// A journal stores pages as they were before a change. If the first page is among them, its change counter is the
/// file's own or one less; otherwise the first page was not written yet, and both have the same file length.
fn journal_is_foreign(catalogue: &Path, journal: &Path) -> Option<bool> {
    const BEGINS: [u8; 8] = [0xd9, 0xd5, 0x05, 0xf9, 0x20, 0xa1, 0x63, 0xd7];
    let mut file = File::open(journal).ok()?;
    let bytes = file.metadata().ok()?.len();
    let head: [u8; 28] = read_at(&mut file, 0).ok()?;
    if head[..8] != BEGINS {
        return None;
    }
    let (pages_before, sector, page) = (number(&head, 16), number(&head, 20), number(&head, 24));
    let of_file: [u8; 32] = read_at(&mut File::open(catalogue).ok()?, 0).ok()?;
    let (mut at, record) = (u64::from(sector), u64::from(page) + 8);
    while page >= 512 && sector > 0 && at + record <= bytes {
        let begins: [u8; 36] = read_at(&mut file, at).ok()?;
        if number(&begins, 0) == 1 {
            let (before, now) = (number(&begins, 4 + 24), number(&of_file, 24));
            return Some(now != before && now != before.wrapping_add(1));
        }
        at += record;
    }
    // A catalogue with a write-ahead log gets a journal only when that mode is changed, which changes the first page.
    let with_log = of_file[18] == 2;
    Some(with_log || pages_before != number(&of_file, 28))
}

/// The big-endian number of four bytes at a position.
fn number(bytes: &[u8], at: usize) -> u32 {
    let four = bytes.get(at..at + 4).and_then(|four| four.try_into().ok());
    four.map_or(0, u32::from_be_bytes)
}

fn read_at<const N: usize>(file: &mut File, at: u64) -> std::io::Result<[u8; N]> {
    let mut bytes = [0; N];
    file.seek(SeekFrom::Start(at))?;
    file.read_exact(&mut bytes)?;
    Ok(bytes)
}
