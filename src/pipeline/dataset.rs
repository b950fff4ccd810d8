//! Query -> a data set for engines that read columns: a table with a row a frame, one with a row a frame and shower. Opens no
//! file.
//!
//! Both tables are written in one walk over the frames in the order of their starts; of each, a stretch of frames and the row
//! groups that are being filled are held, however many there are.

use std::io::Write;
use std::path::Component;
use std::path::Path;
use std::path::PathBuf;
use std::sync::LazyLock;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::catalogue::handoff::Grouped;
use crate::catalogue::open::Catalogue;
use crate::catalogue::select::Detail;
use crate::framelist::dataset::About;
use crate::framelist::dataset::DataColumn;
use crate::framelist::dataset::Presence;
use crate::framelist::dataset::TableFile;
use crate::query::Compiled;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field::FIELDS;
use crate::terms::field::FRAME_ID;
use crate::terms::field::Field;
use crate::terms::field::FieldKind;
use crate::terms::field::RADIANT_FIELDS;
use crate::terms::field::Unit;
use crate::terms::field::sheet_column;
use crate::terms::records::Cell;
use crate::terms::records::FrameRow;
use crate::terms::records::RadiantSky;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// Frames that are fetched at once.
const FRAMES_AT_ONCE: usize = 2_048;

/// Years whose files are open at once. Nights of two years are mixed about New Year alone, where sites lie east and west; a
/// third comes from frames whose night is not known. A year that comes again after its files were closed gets further ones.
const YEARS_AT_ONCE: usize = 3;

/// What a folder of frames whose night is not known is called, by the convention of the engines.
const NO_NIGHT: &str = "__HIVE_DEFAULT_PARTITION__";

/// What the folder of a year is called, before `=`; engines show it as a column.
const YEAR: &str = "night_year";

const SHOWER: Field = sheet_column("shower", "shower", FieldKind::Text, 0);

/// One of the two tables.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Table {
    /// A row a frame.
    Frames,
    /// A row a frame and active shower.
    Radiants,
}

impl Table {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Frames, Self::Radiants];

    /// Its name, and its folder's.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Frames => "frames",
            Self::Radiants => "radiants",
        }
    }

    /// Its columns, in their order.
    pub fn columns(self) -> Vec<DataColumn> {
        let always = |field| DataColumn {
            field,
            presence: Presence::Always,
        };
        let optional = |field| DataColumn {
            field,
            presence: Presence::Optional,
        };
        match self {
            Self::Frames => std::iter::once(always(&FRAME_ID))
                .chain(FIELDS.iter().map(optional))
                .collect(),
            Self::Radiants => [&FRAME_ID, &SHOWER]
                .into_iter()
                .chain(RADIANT_FIELDS)
                .map(always)
                .collect(),
        }
    }

    /// The column that its rows are ordered by.
    const fn ordered_by(self) -> &'static str {
        match self {
            Self::Frames => "start_utc",
            // By the starts of the frames, which it does not hold.
            Self::Radiants => "",
        }
    }
}

/// Whether a data set is parted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Parted {
    /// It is one piece.
    Not,
    /// By the years of the nights.
    ByYear,
}

/// The frames that lie in files together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Share {
    /// All.
    All,
    /// Those with a night of this year.
    Year(i16),
    /// Those whose night is not known.
    NoNight,
}

/// One file of a data set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DataFile {
    /// Whose rows it holds.
    pub table: Table,
    /// Of which frames.
    pub share: Share,
    /// Its number among those of the same frames, from 0.
    pub part: u32,
}

impl DataFile {
    /// Its path below the data set's folder: `frames/night_year=2023/part-0.parquet`.
    pub fn below(&self) -> PathBuf {
        let mut path = PathBuf::from(self.table.word());
        match self.share {
            Share::All => {}
            Share::Year(year) => path.push(format!("{YEAR}={year}")),
            Share::NoNight => path.push(format!("{YEAR}={NO_NIGHT}")),
        }
        path.push(format!("part-{}.parquet", self.part));
        path
    }

    /// Whether a path below a folder is that of a data set's file.
    pub fn is_one(below: &Path) -> bool {
        let parts: Option<Vec<&str>> = below
            .components()
            .map(|part| match part {
                Component::Normal(name) => name.to_str(),
                _ => None,
            })
            .collect();
        let is_part = |name: &str| {
            let number = name.strip_prefix("part-");
            number
                .and_then(|rest| rest.strip_suffix(".parquet"))
                .is_some_and(|number| number.parse::<u32>().is_ok())
        };
        let is_year = |name: &str| {
            name.strip_prefix(YEAR)
                .is_some_and(|rest| rest.starts_with('='))
        };
        let is_table = |name: &str| Table::ALL.iter().any(|table| table.word() == name);
        match parts.as_deref() {
            Some([table, file]) => is_table(table) && is_part(file),
            Some([table, year, file]) => is_table(table) && is_year(year) && is_part(file),
            _ => false,
        }
    }
}

/// What is to be written.
#[derive(Clone, Copy, Debug)]
pub struct DataOrder<'a> {
    /// The query as it was typed.
    pub query: &'a str,
    /// Which frames it means.
    pub compiled: &'a Compiled,
    /// At most so many frames, the earliest.
    pub limit: Option<u64>,
    /// Whether it is parted.
    pub parted: Parted,
    /// The program's version.
    pub version: &'a str,
    /// The current instant.
    pub now: Utc,
    /// Raised when the photographer wants it to stop.
    pub stop: &'a AtomicBool,
}

/// What was written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DataTally {
    /// Frames.
    pub frames: u64,
    /// Radiants.
    pub radiants: u64,
    /// Whether it was stopped half-way.
    pub stopped: bool,
}

/// Where the files of a data set are opened and closed.
pub struct DataPlace<'p, W> {
    /// Opens one.
    pub open: &'p mut dyn FnMut(&DataFile) -> Result<W, Failure>,
    /// Is given it back when all of it is written.
    pub close: &'p mut dyn FnMut(&DataFile, W) -> Result<(), Failure>,
    /// Is told how many frames are written.
    pub watch: &'p mut dyn FnMut(u64),
}

/// Writes the frames of a query and the radiants over them. Opens no file where there are none.
pub fn write<W: Write + Send>(
    catalogue: &Catalogue,
    order: &DataOrder<'_>,
    place: &mut DataPlace<'_, W>,
) -> Result<DataTally, Failure> {
    let mut writer = Writer::new(catalogue, order, place)?;
    let most = order.limit.unwrap_or(u64::MAX);
    let mut found = 0;
    let mut stretch: Vec<i64> = Vec::with_capacity(FRAMES_AT_ONCE);
    catalogue.frames_in_order(&order.compiled.predicate, Grouped::Together, |frame| {
        if order.stop.load(Ordering::Relaxed) {
            writer.tally.stopped = true;
            return Ok(false);
        }
        stretch.push(frame.frame_id);
        found += 1;
        if stretch.len() == FRAMES_AT_ONCE {
            writer.frames(&stretch)?;
            stretch.clear();
        }
        Ok(found < most)
    })?;
    if !writer.tally.stopped {
        writer.frames(&stretch)?;
        writer.close_all()?;
    }
    Ok(writer.tally)
}

/// The two files of some frames.
struct Open<W: Write + Send> {
    share: Share,
    part: u32,
    frames: TableFile<W>,
    radiants: TableFile<W>,
}

struct Writer<'a, 'p, W: Write + Send> {
    catalogue: &'a Catalogue,
    order: &'a DataOrder<'a>,
    place: &'a mut DataPlace<'p, W>,
    notes: Vec<(String, String)>,
    /// The one used last stands last.
    open: Vec<Open<W>>,
    /// How many files each share had that are closed.
    closed: Vec<(Share, u32)>,
    tally: DataTally,
}

impl<'a, 'p, W: Write + Send> Writer<'a, 'p, W> {
    fn new(
        catalogue: &'a Catalogue,
        order: &'a DataOrder<'a>,
        place: &'a mut DataPlace<'p, W>,
    ) -> Result<Self, Failure> {
        Ok(Self {
            notes: notes(catalogue, order)?,
            catalogue,
            order,
            place,
            open: Vec::new(),
            closed: Vec::new(),
            tally: DataTally::default(),
        })
    }

    /// Writes the rows of frames by their numbers, in that order.
    fn frames(&mut self, frame_ids: &[i64]) -> Result<(), Failure> {
        let sources = kept_sources();
        let night = night_at();
        let catalogue = self.catalogue;
        catalogue.fetch_listed(
            frame_ids.iter().copied(),
            &sources,
            Detail::Radiants,
            |row| {
                let share = match self.order.parted {
                    Parted::Not => Share::All,
                    Parted::ByYear => share_of(row.cells.get(night)),
                };
                self.row(share, row)?;
                Ok(true)
            },
        )?;
        (self.place.watch)(self.tally.frames);
        Ok(())
    }

    fn row(&mut self, share: Share, row: &FrameRow) -> Result<(), Failure> {
        let files = self.files(share)?;
        files.frames.row(&row.cells)?;
        let frame_id = row.cells.first().unwrap_or(&Cell::Unknown);
        for radiant in &row.radiants {
            let mut cells = vec![frame_id.clone(), Cell::Text(radiant.shower.to_string())];
            cells.extend(RADIANT_FIELDS.iter().map(|field| value(radiant, field)));
            files.radiants.row(&cells)?;
        }
        self.tally.frames += 1;
        self.tally.radiants += row.radiants.len() as u64;
        Ok(())
    }

    /// The open files of these frames.
    fn files(&mut self, share: Share) -> Result<&mut Open<W>, Failure> {
        if let Some(at) = self.open.iter().position(|open| open.share == share) {
            self.open[at..].rotate_left(1);
        } else {
            if self.open.len() == YEARS_AT_ONCE {
                let longest_unused = self.open.remove(0);
                self.close(longest_unused)?;
            }
            let opened = self.begin(share)?;
            self.open.push(opened);
        }
        let last = self.open.len() - 1;
        Ok(&mut self.open[last])
    }

    fn begin(&mut self, share: Share) -> Result<Open<W>, Failure> {
        let closed = self.closed.iter().find(|(of, _)| *of == share);
        let part = closed.map_or(0, |(_, files)| *files);
        let mut file = |table: Table| {
            let out = (self.place.open)(&DataFile { table, share, part })?;
            let made_by = format!("framefall version {}", self.order.version);
            let mut notes = vec![(
                "framefall.schema".to_owned(),
                format!("framefall.{}/1", table.word()),
            )];
            notes.extend(self.notes.iter().cloned());
            let about = About {
                table: table.word(),
                made_by: &made_by,
                notes: &notes,
                ordered_by: table.ordered_by(),
            };
            TableFile::begin(&table.columns(), &about, out)
        };
        Ok(Open {
            share,
            part,
            frames: file(Table::Frames)?,
            radiants: file(Table::Radiants)?,
        })
    }

    fn close(&mut self, open: Open<W>) -> Result<(), Failure> {
        let (share, part) = (open.share, open.part);
        for (table, file) in [
            (Table::Frames, open.frames),
            (Table::Radiants, open.radiants),
        ] {
            (self.place.close)(&DataFile { table, share, part }, file.finish()?)?;
        }
        match self.closed.iter_mut().find(|(of, _)| *of == share) {
            Some((_, files)) => *files = part + 1,
            None => self.closed.push((share, part + 1)),
        }
        Ok(())
    }

    fn close_all(&mut self) -> Result<(), Failure> {
        while let Some(open) = self.open.pop() {
            self.close(open)?;
        }
        Ok(())
    }
}

/// What every file says of itself besides its table.
fn notes(catalogue: &Catalogue, order: &DataOrder<'_>) -> Result<Vec<(String, String)>, Failure> {
    let mut notes = vec![
        ("framefall.version", order.version.to_owned()),
        ("framefall.query", order.query.to_owned()),
        ("framefall.meaning", order.compiled.tree.to_string()),
        ("framefall.written_utc", order.now.to_string()),
    ];
    if let Some(limit) = order.limit {
        notes.push(("framefall.limit", limit.to_string()));
    }
    if let Some(edition) = catalogue.state()?.shower_table {
        notes.push(("framefall.shower_table", edition));
    }
    let owned = notes
        .into_iter()
        .map(|(key, value)| (key.to_owned(), value));
    Ok(owned.collect())
}

/// The fields of a frame as the catalogue keeps them: instants and dates as the whole numbers that they are in a file, too.
fn kept_sources() -> Vec<ColumnSource> {
    static KEPT: LazyLock<Vec<Field>> = LazyLock::new(|| {
        let kept = |field: &Field| match field.kind {
            FieldKind::Instant | FieldKind::Date => Field {
                kind: FieldKind::Whole(Unit::One),
                ..*field
            },
            _ => *field,
        };
        std::iter::once(&FRAME_ID).chain(FIELDS).map(kept).collect()
    });
    KEPT.iter().map(ColumnSource::Frame).collect()
}

/// What a field of a radiant holds.
fn value(radiant: &RadiantSky, field: &Field) -> Cell {
    match field.key {
        "alt_deg" => Cell::Number(radiant.alt_deg),
        "az_deg" => Cell::Number(radiant.az_deg),
        "seen_alt_deg" => Cell::Number(radiant.seen_alt_deg),
        "seen_az_deg" => Cell::Number(radiant.seen_az_deg),
        "moon_sep_deg" => Cell::Number(radiant.moon_sep_deg),
        "rate" => Cell::Number(radiant.rate),
        _ => Cell::Unknown,
    }
}

/// Where the night stands among the cells of a row.
fn night_at() -> usize {
    let night = FIELDS.iter().position(|field| field.key == "night");
    night.map_or(usize::MAX, |at| at + 1)
}

fn share_of(night: Option<&Cell>) -> Share {
    match night {
        Some(Cell::Whole(day)) => day
            .checked_mul(86_400)
            .and_then(|seconds| WallTime::from_seconds(seconds, ""))
            .map_or(Share::NoNight, |at| Share::Year(at.civil().year())),
        _ => Share::NoNight,
    }
}
