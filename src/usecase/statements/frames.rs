//! The frames of a statement: identified when it is made, and found in another catalogue.

use std::collections::BTreeMap;
use std::io::Write;

use crate::catalogue::batch::Batch;
use crate::catalogue::handle::Catalogue;
use crate::framelist::Hashed;
use crate::terms::clock::FrameSet;
use crate::terms::failure::Failure;
use crate::terms::frame_marks::FrameMark;
use crate::terms::frame_marks::pack;
use crate::terms::frame_marks::unpack;
use crate::terms::statement::FramePart;

/// Adds frames to a statement, those of each dump together.
pub fn log_frames(batch: &Batch<'_>, number: i64, frames: &[i64]) -> Result<(), Failure> {
    let mut dumps: BTreeMap<String, Vec<FrameMark>> = BTreeMap::new();
    for frame_id in frames {
        let (mark, dump) = batch.mark_of(*frame_id)?;
        dumps.entry(dump).or_default().push(mark);
    }
    for (dump, marks) in dumps {
        batch.log_frames(number, &part(dump, marks))?;
    }
    Ok(())
}

/// What identifies a set of frames in every catalogue: a hash of their marks.
pub fn frame_set(batch: &Batch<'_>, frames: &[i64]) -> Result<FrameSet, Failure> {
    let marks: Result<Vec<FrameMark>, Failure> = frames
        .iter()
        .map(|frame_id| Ok(batch.mark_of(*frame_id)?.0))
        .collect();
    let part = part(String::new(), marks?);
    let mut hashed = Hashed::new(std::io::sink());
    // A sink takes everything.
    let _ = hashed.write_all(&part.first_s.unwrap_or(0).to_le_bytes());
    let _ = hashed.write_all(&part.marks);
    let mut set = FrameSet::default();
    let bytes = set.len();
    set.copy_from_slice(&hashed.digest().blake3[..bytes]);
    Ok(set)
}

fn part(dump: String, marks: Vec<FrameMark>) -> FramePart {
    let clocks = || marks.iter().filter_map(|mark| mark.clock_s);
    FramePart {
        dump,
        frames: marks.len() as u64,
        first_s: clocks().min(),
        last_s: clocks().max(),
        marks: pack(marks),
    }
}

/// Frames of a statement that are here, and the marks of those that are not.
#[derive(Debug, Default)]
pub struct Found {
    /// The numbers of those that are here.
    pub frames: Vec<i64>,
    /// The marks of those that are not.
    pub absent: Vec<FrameMark>,
}

impl Found {
    /// Looks up some of a statement's frames. Of several frames with one mark, those on a dump of that label are meant,
    /// if any.
    pub fn look_up(&mut self, catalogue: &Catalogue, part: &FramePart) -> Result<(), Failure> {
        for mark in unpack(part.first_s, &part.marks).unwrap_or_default() {
            let here = catalogue.frames_marked(&mark)?;
            if here.is_empty() {
                self.absent.push(mark);
                continue;
            }
            let of_dump = here.iter().any(|frame| frame.dump == part.dump);
            self.frames.extend(
                here.iter()
                    .filter(|frame| !of_dump || frame.dump == part.dump)
                    .map(|frame| frame.frame_id),
            );
        }
        self.frames.sort_unstable();
        self.frames.dedup();
        Ok(())
    }
}
