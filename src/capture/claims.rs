//! What a JPEG claims before it is decoded: its size, its scans, and what decoding it would cost. Decodes nothing.
//!
//! A file of 60 KB can claim 10,900 by 10,900 pixels and go through them 400 times. Its markers say so beforehand.
//!
//! Source: ITU-T T.81, annex B (markers, frame and scan headers), annex A.1.1 and A.2 (blocks of a component).

/// What decoding one picture may cost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Allowance {
    /// Memory, in bytes.
    pub memory_bytes: u64,
    /// Blocks of 8 by 8 samples visited, in all scans together. One costs about 60 ns.
    pub block_visits: u64,
    /// Time, in milliseconds: the limit if the counts above were wrong.
    pub time_ms: u64,
}

impl Allowance {
    /// A small picture that is sampled, a few hundred per night: 1600 by 1100 pixels in ten scans are within it.
    pub const LOOK: Self = Self {
        memory_bytes: 16 << 20,
        block_visits: 400_000,
        time_ms: 1_000,
    };
    /// A picture in a report: 120 megapixels in one scan, or 30 in ten, are within it.
    pub const PAGE: Self = Self {
        memory_bytes: 192 << 20,
        block_visits: 8_000_000,
        time_ms: 5_000,
    };
}

/// The most marker segments before a JPEG is treated as a trap: tables can be repeated without end. Files of cameras
/// and editors have fewer than 200.
const MOST_SEGMENTS: u32 = 1_000;

/// The longest side of a component in blocks: `u16` samples in blocks of 8, filled up to a whole unit of 4.
const SAMPLING: std::ops::RangeInclusive<u64> = 1..=4;

/// What a JPEG claims.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Claims {
    /// Pixels in a row.
    pub width: u64,
    /// Rows.
    pub height: u64,
    /// Whether its coefficients come in several scans and are held until the last.
    pub progressive: bool,
    /// Blocks of all components.
    blocks: u64,
    /// Blocks visited in all scans together.
    visits: u64,
}

/// Reads what a JPEG claims.
///
/// Gives: the reason, in words, if the bytes are not a JPEG of a kind that cameras embed.
pub fn claims(jpeg: &[u8]) -> Result<Claims, &'static str> {
    const NO_JPEG: &str = "the embedded picture is not a readable JPEG";
    let mut frame: Option<Frame> = None;
    let mut visits = 0_u64;
    let mut segments = 0;
    if !jpeg.starts_with(&[0xFF, 0xD8]) {
        return Err(NO_JPEG);
    }
    let mut at = 2;
    while let Some((marker, after)) = next_marker(jpeg, at) {
        segments += 1;
        if segments > MOST_SEGMENTS {
            return Err("the embedded picture has more than 1000 marker segments");
        }
        at = after;
        match marker {
            END => break,
            // Markers without a segment.
            0x01 | 0xD0..=0xD8 => continue,
            _ => {}
        }
        let length = usize::from(u16::from_be_bytes([
            *jpeg.get(at).ok_or(NO_JPEG)?,
            *jpeg.get(at + 1).ok_or(NO_JPEG)?,
        ]));
        let segment = jpeg.get(at + 2..at + length.max(2)).ok_or(NO_JPEG)?;
        at += length.max(2);
        match marker {
            BASELINE | EXTENDED | PROGRESSIVE if frame.is_none() => {
                frame = Some(Frame::read(segment, marker == PROGRESSIVE).ok_or(NO_JPEG)?);
            }
            // Lossless, hierarchical and arithmetic ones.
            0xC3 | 0xC5..=0xC7 | 0xC9..=0xCB | 0xCD..=0xCF => {
                return Err("the embedded picture is of a kind that cameras do not write");
            }
            SCAN => {
                let frame = frame.as_ref().ok_or(NO_JPEG)?;
                visits = visits.saturating_add(frame.visited_by(segment));
                at = end_of_scan(jpeg, at);
            }
            _ => {}
        }
    }
    let frame = frame.ok_or(NO_JPEG)?;
    Ok(Claims {
        width: frame.width,
        height: frame.height,
        progressive: frame.progressive,
        blocks: frame.blocks.iter().map(|(_, blocks)| blocks).sum(),
        visits,
    })
}

impl Claims {
    /// Memory that decoding takes at most, in bytes, at a scale in eighths.
    pub fn memory_bytes(&self, eighths: u64) -> u64 {
        // A block is 64 coefficients of two bytes; rows on their way to the second step are copies of them.
        let held = if self.progressive { 2 * 128 } else { 0 };
        let samples = self.blocks * eighths * eighths;
        let pixels = (self.width * eighths).div_ceil(8) * (self.height * eighths).div_ceil(8);
        self.blocks * held + samples + 3 * pixels
    }

    /// Why decoding it would cost too much, in words; `None` if it is within the allowance.
    ///
    /// Takes: the length of the JPEG in bytes; the scale it would be decoded at, in eighths.
    pub fn too_much(&self, length: u64, eighths: u64, allowed: &Allowance) -> Option<String> {
        let (width, height) = (self.width, self.height);
        // Each block has a code for its mean brightness, and no code is shorter than a bit.
        if self.blocks > length.saturating_mul(8) {
            return Some(format!(
                "{length} bytes are too few for the {width} by {height} pixels that the embedded picture claims"
            ));
        }
        if self.visits > allowed.block_visits {
            return Some(format!(
                "the embedded picture of {width} by {height} pixels has too many scans; decoding \
                 it would take too long"
            ));
        }
        if self.memory_bytes(eighths) > allowed.memory_bytes {
            return Some(format!(
                "decoding the embedded picture of {width} by {height} pixels would take too much \
                 memory"
            ));
        }
        None
    }
}

const BASELINE: u8 = 0xC0;
const EXTENDED: u8 = 0xC1;
const PROGRESSIVE: u8 = 0xC2;
const SCAN: u8 = 0xDA;
const END: u8 = 0xD9;

/// The header of the frame.
struct Frame {
    width: u64,
    height: u64,
    progressive: bool,
    /// The number of each component, and how many blocks it has.
    blocks: Vec<(u8, u64)>,
}

impl Frame {
    fn read(segment: &[u8], progressive: bool) -> Option<Self> {
        let side = |at: usize| {
            let bytes = [*segment.get(at)?, *segment.get(at + 1)?];
            Some(u64::from(u16::from_be_bytes(bytes))).filter(|side| *side > 0)
        };
        let (height, width) = (side(1)?, side(3)?);
        let parts = segment.get(6..6 + 3 * usize::from(*segment.get(5)?))?;
        let factors = |part: &[u8]| (u64::from(part[1] >> 4), u64::from(part[1] & 15));
        let parts: Vec<&[u8]> = parts.chunks_exact(3).collect();
        let (across, down): (Vec<u64>, Vec<u64>) = parts.iter().map(|part| factors(part)).unzip();
        if !across.iter().chain(&down).all(|f| SAMPLING.contains(f)) {
            return None;
        }
        let units_across = width.div_ceil(8 * across.iter().max()?);
        let units_down = height.div_ceil(8 * down.iter().max()?);
        let blocks = parts
            .iter()
            .map(|part| {
                let (across, down) = factors(part);
                (part[0], units_across * across * units_down * down)
            })
            .collect();
        Some(Self {
            width,
            height,
            progressive,
            blocks,
        })
    }

    /// The blocks that a scan with this header visits.
    fn visited_by(&self, scan: &[u8]) -> u64 {
        let count = scan.first().map_or(0, |count| usize::from(*count));
        let named = scan.get(1..).unwrap_or(&[]).chunks_exact(2).take(count);
        let of = |id: u8| self.blocks.iter().find(|(one, _)| *one == id);
        named
            .filter_map(|part| of(part[0]))
            .map(|(_, blocks)| blocks)
            .sum()
    }
}

/// The next marker at or after a byte, and where its segment begins. Bytes between are skipped, as decoders do.
fn next_marker(jpeg: &[u8], from: usize) -> Option<(u8, usize)> {
    let mut at = from;
    loop {
        at += jpeg.get(at..)?.iter().position(|byte| *byte == 0xFF)? + 1;
        at += jpeg.get(at..)?.iter().position(|byte| *byte != 0xFF)?;
        let marker = jpeg[at];
        at += 1;
        if marker != 0 {
            return Some((marker, at));
        }
    }
}

/// Where the coded bytes of a scan end: at a marker that is not a restart marker.
fn end_of_scan(jpeg: &[u8], from: usize) -> usize {
    let mut at = from;
    while let Some((marker, after)) = next_marker(jpeg, at) {
        if !(0xD0..=0xD7).contains(&marker) {
            // Before the marker itself and the byte that begins it.
            return after - 2;
        }
        at = after;
    }
    jpeg.len()
}

#[cfg(test)]
#[path = "../../tests/support/hostile_jpeg.rs"]
mod hostile_jpeg;

#[cfg(test)]
#[path = "claims_tests.rs"]
mod tests;
