//! The open files, row by row: which file a row belongs to, and when a file is closed.

use std::io::Write;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::makers::MadeOf;
use crate::catalogue::select::Detail;
use crate::framelist::dataset::About;
use crate::framelist::dataset::TableFile;
use crate::terms::failure::Failure;
use crate::terms::field_radiant::RADIANT_FIELDS;
use crate::terms::records::Cell;
use crate::terms::records::FrameRow;
use crate::usecase::dataset::file::DataFile;
use crate::usecase::dataset::file::Parted;
use crate::usecase::dataset::file::Share;
use crate::usecase::dataset::file::share_of;
use crate::usecase::dataset::order::DataOrder;
use crate::usecase::dataset::order::DataPlace;
use crate::usecase::dataset::order::DataTally;
use crate::usecase::dataset::table::Table;
use crate::usecase::dataset::table::kept_sources;
use crate::usecase::dataset::table::night_at;
use crate::usecase::derive::maker::editions;
use crate::usecase::derive::maker::signature;

/// Years whose files are open at once; frames without a night count as one. Rows are ordered by their starts, so years
/// mix only around New Year, if sites are far apart in longitude. Frames without UTC come last, so their years come
/// again and get further files.
const YEARS_AT_ONCE: usize = 3;

/// The two files of some frames.
struct Open<W: Write + Send> {
    share: Share,
    part: u32,
    frames: TableFile<W>,
    radiants: TableFile<W>,
}

/// Writes rows into the files that they belong to.
pub(super) struct Writer<'a, 'p, W: Write + Send> {
    catalogue: &'a Catalogue,
    order: &'a DataOrder<'a>,
    place: &'a mut DataPlace<'p, W>,
    notes: Vec<(String, String)>,
    /// The one used last is at the end.
    open: Vec<Open<W>>,
    /// How many closed files each share has.
    closed: Vec<(Share, u32)>,
    /// The result so far.
    pub tally: DataTally,
}

impl<'a, 'p, W: Write + Send> Writer<'a, 'p, W> {
    /// Begins without a file.
    pub fn new(
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
    pub fn frames(&mut self, frame_ids: &[i64]) -> Result<(), Failure> {
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
            cells.extend(RADIANT_FIELDS.iter().map(|field| radiant.cell(field.key)));
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

    /// Ends every file.
    pub fn close_all(&mut self) -> Result<(), Failure> {
        while let Some(open) = self.open.pop() {
            self.close(open)?;
        }
        Ok(())
    }
}

/// The metadata of every file besides its table.
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
    // The files begin before their frames are known, so if there are several makers all are named.
    let makers = catalogue.makers_of(MadeOf::All)?;
    if let Some(edition) = editions(&makers) {
        notes.push(("framefall.shower_table", edition));
        notes.push(("framefall.derived_by", signature(&makers)));
    }
    let owned = notes
        .into_iter()
        .map(|(key, value)| (key.to_owned(), value));
    Ok(owned.collect())
}
