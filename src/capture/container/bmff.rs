//! Boxes of the ISO base media file format: what one is, and how to step from one to the next. Does not interpret them.
//!
//! Source: ISO/IEC 14496-12 §4.2.

use crate::capture::gathered::Gathered;
use crate::capture::source::Lack;
use crate::capture::source::Source;

/// A box.
#[derive(Clone, Copy, Debug)]
pub struct Boxed {
    /// Its four letters.
    pub kind: [u8; 4],
    /// Where its body starts.
    pub body: u64,
    /// Where its header says that it ends: maybe past the end of its parent.
    pub end: u64,
}

/// The most boxes stepped over in one parent.
const MOST_BOXES: usize = 256;
/// The most boxes stepped over in the file itself.
const MOST_OUTER_BOXES: usize = 64;

/// Steps over the boxes of the file itself, and requires each to end within it.
pub fn outer(source: &mut Source, out: &mut Gathered) -> Vec<Boxed> {
    let length = source.length();
    let mut found = Vec::new();
    let mut at = 0;
    while found.len() < MOST_OUTER_BOXES {
        match box_at(source, at, length) {
            Ok(Some(outer)) => {
                let name = outer.kind.escape_ascii();
                out.promise(format_args!("the box '{name}'"), outer.end, length);
                at = outer.end;
                found.push(outer);
            }
            Ok(None) => break,
            Err(lack) => {
                out.warn(|| format!("a box at {at}: {}", lack.words()));
                break;
            }
        }
    }
    found
}

/// Reads the box that starts at `at` within a parent that ends at `parent_end`.
///
/// `None` at the parent's end, and for sizes that would not step forward. Size 0 means: to the end of the parent.
pub fn box_at(source: &mut Source, at: u64, parent_end: u64) -> Result<Option<Boxed>, Lack> {
    if at.saturating_add(8) > parent_end {
        return Ok(None);
    }
    let [s0, s1, s2, s3, kind @ ..] = source.hop::<8>(at)?;
    let (size, header) = match u32::from_be_bytes([s0, s1, s2, s3]) {
        0 => (parent_end - at, 8),
        1 => (u64::from_be_bytes(source.hop(at + 8)?), 16),
        size => (u64::from(size), 8),
    };
    let Some(end) = at.checked_add(size).filter(|_| size >= header) else {
        return Ok(None);
    };
    Ok(Some(Boxed {
        kind,
        body: at + header,
        end,
    }))
}

/// All boxes of a parent whose body is given, up to one that cannot be stepped over.
pub fn children(source: &mut Source, body: u64, end: u64) -> Vec<Boxed> {
    let mut found = Vec::new();
    let mut at = body;
    while found.len() < MOST_BOXES
        && let Ok(Some(child)) = box_at(source, at, end)
    {
        at = child.end;
        found.push(child);
    }
    found
}

/// The first box of this kind within a parent.
pub fn child(source: &mut Source, parent: Boxed, kind: [u8; 4]) -> Option<Boxed> {
    let mut at = parent.body;
    for _ in 0..MOST_BOXES {
        let found = box_at(source, at, parent.end).ok()??;
        if found.kind == kind {
            return Some(found);
        }
        at = found.end;
    }
    None
}

/// Whether a file's `ftyp` box names one of these brands, as its first or among the compatible ones.
pub fn has_brand(head: &[u8], brands: &[[u8; 4]]) -> bool {
    let Some(size) = head
        .first_chunk::<4>()
        .filter(|_| head.get(4..8) == Some(b"ftyp"))
    else {
        return false;
    };
    let end = usize::try_from(u32::from_be_bytes(*size))
        .map_or(head.len(), |end| end.clamp(12, head.len().max(12)));
    let list = head.get(8..end).unwrap_or(&[]);
    // The second word is the brand's version.
    list.chunks_exact(4)
        .enumerate()
        .take(64)
        .any(|(i, brand)| i != 1 && brands.iter().any(|b| b == brand))
}
