//! Reads files back, those whose last check is the oldest first, and compares them with the hashes that were kept. A disk
//! that fails silently is found so, and the copy that still matches is named.

use std::collections::HashMap;
use std::collections::VecDeque;
use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::content::ContentRow;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::below_of;
use crate::catalogue::names::kept_name;
use crate::catalogue::proofs::ToCheck;
use crate::copy::read_back::BackReader;
use crate::copy::read_back::Content;
use crate::copy::read_back::ReadFault;
use crate::copy::read_back::Reading;
use crate::copy::read_back::Sha256Too;
use crate::terms::content::Compared;
use crate::terms::content::Hashes;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;
use crate::usecase::copy::here::Here;
use crate::usecase::copy::here::dumps_here;
use crate::usecase::dumps::away::oddness;

/// Files that are looked up at a time.
const PORTION: u32 = 500;

/// Files that are under way: while one is hashed and its result is kept, the device reads the next.
const AT_A_TIME: usize = 2;

/// Results are kept after so many files, or so many bytes: a run that is killed has them checked again.
const KEPT_AFTER: (usize, u64) = (50, 500_000_000);

/// What to check.
#[derive(Clone, Copy)]
pub struct CheckRequest<'a> {
    /// The dumps of these labels; where there are none, all.
    pub dumps: &'a [String],
    /// Seconds after which no further file is begun.
    pub for_s: Option<f64>,
    /// Bytes after which no further file is begun.
    pub at_most: Option<u64>,
    /// The current time.
    pub now: &'a dyn Fn() -> Utc,
}

/// What came of it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CheckReport {
    /// Files that are what they were.
    pub same: u64,
    /// Files that were hashed for the first time.
    pub first: u64,
    /// Files that differ from their hashes, or from a list beside the dump.
    pub differing: u64,
    /// Files that could not be read.
    pub unreadable: u64,
    /// Files that are missing, or have openly changed.
    pub changed: u64,
    /// Bytes that were read.
    pub bytes: u64,
    /// Lists of hashes beside the dumps.
    pub lists: usize,
    /// The labels of dumps that are not here.
    pub offline: Vec<String>,
    /// Whether files are left for the next run.
    pub has_more: bool,
    /// Whether it was stopped.
    pub stopped: bool,
}

/// What is told on the way.
#[derive(Debug)]
pub enum CheckNews<'a> {
    /// Bytes read so far, of so many at most; the file that is being read.
    At(u64, u64, &'a Path),
    /// Something was found.
    Found(AuditRow),
}

/// Checks files until they are all checked, or the time or the amount is used up.
pub fn check_contents(
    catalogue: &mut Catalogue,
    request: &CheckRequest<'_>,
    stop: &AtomicBool,
    tell: &mut dyn FnMut(CheckNews<'_>) -> Result<(), Failure>,
) -> Result<CheckReport, Failure> {
    let begun = (request.now)();
    let mut report = CheckReport::default();
    let here = dumps_here(catalogue, request.dumps, &mut report.offline)?;
    report.lists = here.values().map(|at| at.listed.lists).sum();
    let ids: Vec<i64> = here.keys().copied().collect();
    let mut of = 0;
    for id in &ids {
        of += catalogue.dump_holds(*id)?.bytes;
    }
    let of = request.at_most.map_or(of, |most| most.min(of));
    let (reader, compare) = (BackReader::new(), BackReader::new());
    let mut after = None;
    let mut kept: Vec<ContentRow> = Vec::new();
    let (mut begun_bytes, mut kept_at) = (0, 0);
    loop {
        // What is not kept yet would be given again.
        keep(catalogue, &mut kept)?;
        let next = catalogue.next_to_check(&ids, begun, after.as_ref(), PORTION)?;
        if next.is_empty() {
            break;
        }
        let mut next = next.into_iter().peekable();
        let mut ahead: VecDeque<(Check<'_>, Begun)> = VecDeque::new();
        loop {
            if stop.load(Ordering::Relaxed) {
                report.stopped = true;
                report.has_more = !ahead.is_empty() || next.peek().is_some();
                break;
            }
            while ahead.len() < AT_A_TIME {
                let used_s = (request.now)().seconds_since(begun);
                let is_enough = request.for_s.is_some_and(|most| used_s >= most)
                    || request.at_most.is_some_and(|most| begun_bytes >= most);
                if is_enough && next.peek().is_some() {
                    report.has_more = true;
                    break;
                }
                let Some(file) = next.next() else {
                    break;
                };
                after = Some(file.position());
                if let Some(at) = here.get(&file.dump_id) {
                    begun_bytes += file.bytes;
                    ahead.push_back(Check::begin(&reader, at, file, (request.now)()));
                }
            }
            let Some((check, started)) = ahead.pop_front() else {
                break;
            };
            tell(CheckNews::At(report.bytes, of, &check.path))?;
            let copies = Copies {
                catalogue,
                reader: &compare,
                here: &here,
            };
            let (row, found) = check.end(started, &copies, &mut report)?;
            kept.extend(row);
            for one in found {
                tell(CheckNews::Found(one))?;
            }
            if kept.len() >= KEPT_AFTER.0 || report.bytes - kept_at >= KEPT_AFTER.1 {
                kept_at = report.bytes;
                keep(catalogue, &mut kept)?;
            }
        }
        if report.stopped || report.has_more {
            break;
        }
    }
    keep(catalogue, &mut kept)?;
    catalogue.keep_proofs()?;
    Ok(report)
}

fn keep(catalogue: &mut Catalogue, rows: &mut Vec<ContentRow>) -> Result<(), Failure> {
    if rows.is_empty() {
        return Ok(());
    }
    let batch = catalogue.batch()?;
    for row in rows.drain(..) {
        batch.put_measured(&row)?;
    }
    batch.commit()
}

/// Where copies that still match are looked for.
struct Copies<'a> {
    catalogue: &'a Catalogue,
    /// Not the one that has begun the next file.
    reader: &'a BackReader,
    here: &'a HashMap<i64, Here>,
}

/// The check of one file.
struct Check<'a> {
    at: &'a Here,
    file: ToCheck,
    path: PathBuf,
    now: Utc,
}

enum Begun {
    /// It is missing or has openly changed.
    Odd(&'static str, String),
    Reading(Result<Reading, ReadFault>),
}

impl<'a> Check<'a> {
    fn begin(reader: &BackReader, at: &'a Here, file: ToCheck, now: Utc) -> (Self, Begun) {
        let path = at.dump.root.join(below_of(&file.path));
        let begun = match oddness(&path, file.bytes, file.modified_ns) {
            Some((code, saw)) => Begun::Odd(code, saw),
            None => Begun::Reading(reader.begin(&path, at.way)),
        };
        let check = Self {
            at,
            file,
            path,
            now,
        };
        (check, begun)
    }

    /// What is to be kept of the file, and what was found.
    fn end(
        self,
        begun: Begun,
        copies: &Copies<'_>,
        report: &mut CheckReport,
    ) -> Result<(Option<ContentRow>, Vec<AuditRow>), Failure> {
        let reading = match begun {
            Begun::Odd(code, saw) => {
                report.changed += 1;
                return Ok((None, vec![self.found(code, saw, "compared nothing")]));
            }
            Begun::Reading(reading) => reading,
        };
        let known = self.file.known.as_ref();
        // SHA-256 is slower than most disks; one that is kept is of the same bytes if the BLAKE3 is.
        let sha256 = if known.is_none_or(|row| row.sha256.is_none()) {
            Sha256Too::Yes
        } else {
            Sha256Too::No
        };
        let read =
            reading.and_then(|reading| reading.end(sha256, &mut |bytes| report.bytes += bytes));
        let content = match read {
            Ok(content) => content,
            Err(fault) => {
                report.unreadable += 1;
                let saw = format!("at byte {}: {}", fault.offset, fault.error);
                let row = known.map(|row| ContentRow {
                    checked: Some(self.now),
                    result: Some(Compared::Unreadable),
                    way: None,
                    ..row.clone()
                });
                return Ok((
                    row,
                    vec![self.found("read-error", saw, "went on with the next")],
                ));
            }
        };
        if let Some((code, saw)) = oddness(&self.path, self.file.bytes, self.file.modified_ns) {
            report.changed += 1;
            return Ok((None, vec![self.found(code, saw, "compared nothing")]));
        }
        let mut found = Vec::new();
        let mut row = self.row(&content);
        match known {
            Some(before) if before.blake3 == content.blake3 => {
                report.same += 1;
                row.taken = before.taken;
                row.sha256 = before.sha256.or(content.sha256);
                row.result = Some(Compared::Same);
            }
            Some(before) => {
                report.differing += 1;
                row = ContentRow {
                    result: Some(Compared::Differs),
                    checked: row.checked,
                    way: row.way,
                    device_id: row.device_id,
                    ..before.clone()
                };
                found.push(self.found(
                    "contents-differ",
                    Self::differs(copies, before)?,
                    "kept the hash of before",
                ));
            }
            None => report.first += 1,
        }
        if let (Some(sha256), true) = (row.sha256, found.is_empty()) {
            let listed = &self.at.listed;
            let blake3 = content.blake3;
            match listed.differing(&self.file.path, &Hashes { blake3, sha256 }) {
                Some(finding) => {
                    report.differing += 1;
                    found.push(self.found(finding.code, finding.saw, &finding.did));
                }
                // The list says that these are the bytes that there were.
                None if known.is_none() && listed.names(&self.file.path) => {
                    row.result = Some(Compared::Same);
                }
                None => {}
            }
        }
        Ok((Some(row), found))
    }

    fn row(&self, content: &Content) -> ContentRow {
        ContentRow {
            dump_id: self.file.dump_id,
            path: self.file.path.clone(),
            bytes: self.file.bytes,
            modified_ns: self.file.modified_ns,
            blake3: content.blake3,
            sha256: content.sha256,
            taken: Some(self.now),
            checked: Some(self.now),
            way: Some(content.way),
            result: None,
            device_id: Some(self.at.device_id),
        }
    }

    /// What is said of a file whose contents have changed: since when, and which copy still matches.
    fn differs(copies: &Copies<'_>, before: &ContentRow) -> Result<String, Failure> {
        let day = |at: Option<Utc>| {
            at.map_or_else(String::new, |at| format!(" on {:.10}", at.to_string()))
        };
        let since = day(before.checked.or(before.taken));
        let saw = format!("its contents have changed since they were read{since}");
        let mut away = None;
        for copy in copies.catalogue.contents_with(&before.blake3)? {
            if (copy.dump_id, &copy.path) == (before.dump_id, &before.path) {
                continue;
            }
            let Some(at) = copies.here.get(&copy.dump_id) else {
                away.get_or_insert(copy);
                continue;
            };
            let path = at.dump.root.join(below_of(&copy.path));
            let read = copies
                .reader
                .read(&path, at.way, Sha256Too::No, &mut |_| {});
            if read.is_ok_and(|content| content.blake3 == before.blake3) {
                return Ok(format!(
                    "{saw}; this copy still matches: {}",
                    path.display()
                ));
            }
        }
        let Some(copy) = away else {
            return Ok(format!("{saw}; no copy that matches is known"));
        };
        let dump = copies.catalogue.dump_place(copy.dump_id)?;
        let path: PathBuf = dump.place().join(below_of(&copy.path));
        Ok(format!(
            "{saw}; a copy that is not here matched when it was last read{}: {} in dump {}",
            day(copy.checked.or(copy.taken)),
            path.display(),
            dump.label
        ))
    }

    fn found(&self, code: &'static str, saw: String, did: &str) -> AuditRow {
        let (folder, file) = self
            .file
            .path
            .rsplit_once('/')
            .unwrap_or(("", &self.file.path));
        AuditRow {
            code: code.to_owned(),
            dump: self.at.dump.label.clone(),
            folder: folder.to_owned(),
            file: file.to_owned(),
            path: kept_name(self.path.as_os_str()).text,
            saw,
            did: did.to_owned(),
            ..AuditRow::default()
        }
    }
}
