//! Reads one file into a `FileReading`: recognises its container, gathers, judges. The only way from a path to a
//! record.

use std::ffi::OsStr;
use std::fs::File;
use std::io;
use std::path::Path;

use crate::capture::class;
use crate::capture::class::FileClass;
use crate::capture::container;
use crate::capture::container::Container;
use crate::capture::folder::open;
use crate::capture::gathered::Gathered;
use crate::capture::health;
use crate::capture::identity;
use crate::capture::record;
use crate::capture::shortage::is_shortage;
use crate::capture::source::Fault;
use crate::capture::source::Source;
use crate::capture::tags::Tags;
use crate::terms::basis::Health;
use crate::terms::finding::Finding;
use crate::terms::records::CaptureRecord;
use crate::terms::records::Extent;
use crate::terms::records::FileReading;

/// Reads files, one after another, with one set of buffers. One for each thread.
#[derive(Debug)]
pub struct FileReader {
    source: Source,
    gathered: Gathered,
}

impl Default for FileReader {
    fn default() -> Self {
        Self::new()
    }
}

impl FileReader {
    /// A reader with empty buffers.
    pub fn new() -> Self {
        Self {
            source: Source::idle(),
            gathered: Gathered::default(),
        }
    }

    /// Reads a file's capture metadata.
    ///
    /// Takes: its path; its size and class from the walk. Gives: a reading, whatever state the file is in: an error of
    /// the disk is a reading with health `unreadable`. `None` if the file is not a frame: skipped by its class, or
    /// opened and of no known container. Fails: if this computer cannot open more files or has no memory. That has
    /// nothing to do with the file. Reads at most 128 KiB of it, and holds less than 2 MiB for it, whatever it claims.
    /// Never panics on its contents.
    pub fn read(
        &mut self,
        path: &Path,
        bytes: u64,
        class: FileClass,
    ) -> io::Result<Option<FileReading>> {
        if let FileClass::PassedOver(_) = class {
            return Ok(None);
        }
        if bytes == 0 {
            return Ok(empty(class));
        }
        match open(path) {
            Ok(file) => self.read_file(file, path.file_name().unwrap_or_default(), bytes, class),
            Err(error) if is_shortage(&error) => Err(error),
            Err(error) => Ok(Some(not_opened(error))),
        }
    }

    fn read_file(
        &mut self,
        file: File,
        name: &OsStr,
        bytes: u64,
        class: FileClass,
    ) -> io::Result<Option<FileReading>> {
        self.source.open_file(file, bytes);
        let reading = self.read_source(name, class);
        self.source.close();
        match self.source.shortage() {
            Some(error) => Err(error),
            None => Ok(reading),
        }
    }

    /// The same for bytes that represent a whole file of this name.
    pub fn read_bytes(
        &mut self,
        name: &OsStr,
        bytes: Vec<u8>,
        class: FileClass,
    ) -> Option<FileReading> {
        if let FileClass::PassedOver(_) = class {
            return None;
        }
        if bytes.is_empty() {
            return empty(class);
        }
        self.source.open_bytes(bytes);
        self.read_source(name, class)
    }

    /// Bytes that the reader's buffers hold between files. Data that a container unpacks or lists while it is read adds
    /// less than 1 MiB.
    pub fn held_memory(&self) -> usize {
        self.source.held_memory() + self.gathered.held_memory()
    }

    fn read_source(&mut self, name: &OsStr, class: FileClass) -> Option<FileReading> {
        self.gathered.clear();
        if let Some(found) = container::recognise(self.source.head()) {
            return Some(self.read_container(found, &class::extension(name)));
        }
        if class == FileClass::Sniff && self.source.fault().is_none() {
            return None;
        }
        Some(self.not_understood())
    }

    fn read_container(&mut self, found: &Container, extension: &str) -> FileReading {
        let mut findings = Vec::new();
        let (source, gathered) = (&mut self.source, &mut self.gathered);
        let (_, read) = found;
        let format = read(source, extension, gathered);
        if !class::agrees(extension, format) {
            findings.push(Finding::new(
                "extension-differs",
                format!("the extension is .{extension}, the contents are {format}"),
                "used the contents",
            ));
        }
        let tags = Tags::read(gathered.block.write());
        for error in tags.errors() {
            gathered.warn(|| error.clone());
        }
        let record = record::record(&tags, gathered, &mut findings);
        if !gathered.complaints.is_empty() {
            findings.push(Finding::new(
                "metadata-broken",
                gathered.complaints.join("; "),
                "kept what could be read",
            ));
        }
        let fingerprint = identity::fingerprint(source, &gathered.block);
        let health = health::judge(source.fault(), gathered, &record, &mut findings);
        let by_length = |e: &&Extent| e.length;
        FileReading {
            format,
            record,
            health,
            fingerprint,
            thumbnail: gathered.jpegs.iter().min_by_key(by_length).copied(),
            preview: gathered.jpegs.iter().max_by_key(by_length).copied(),
            findings,
            bytes_read: source.bytes_read(),
        }
    }

    /// A file named like a picture whose contents are of no known container.
    fn not_understood(&mut self) -> FileReading {
        let mut reading = nothing(Health::Unreadable);
        let finding = if let Some(fault) = self.source.fault() {
            health::read_error(fault)
        } else if let Some(byte) = identity::repeated_byte(&mut self.source) {
            Finding::new(
                "blank-file",
                format!(
                    "all sampled bytes of {} are {byte:#04x}",
                    self.source.length()
                ),
                "kept the frame without time and settings",
            )
        } else {
            let head = self.source.head();
            let start: Vec<String> = head.iter().take(8).map(|b| format!("{b:02X}")).collect();
            Finding::new(
                "not-understood",
                format!("the first bytes {}", start.join(" ")),
                "kept the frame without time and settings",
            )
        };
        reading.findings.push(finding);
        reading.fingerprint = identity::fingerprint(&mut self.source, &self.gathered.block);
        reading.bytes_read = self.source.bytes_read();
        reading
    }
}

fn nothing(health: Health) -> FileReading {
    FileReading {
        format: "unknown",
        record: CaptureRecord::default(),
        health,
        fingerprint: None,
        thumbnail: None,
        preview: None,
        findings: Vec::new(),
        bytes_read: 0,
    }
}

fn empty(class: FileClass) -> Option<FileReading> {
    if class == FileClass::Sniff {
        return None;
    }
    let mut reading = nothing(Health::Unreadable);
    reading.findings.push(Finding::new(
        "empty-file",
        "0 bytes",
        "kept the frame without time and settings",
    ));
    Some(reading)
}

fn not_opened(error: io::Error) -> FileReading {
    let mut reading = nothing(Health::Unreadable);
    reading
        .findings
        .push(health::read_error(&Fault { offset: 0, error }));
    reading
}
