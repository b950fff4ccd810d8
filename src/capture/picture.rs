//! Decodes an embedded JPEG into a picture in memory: reads only its bytes, and refuses one that would cost too much.
//! The only file that reads picture data.

use std::io;
use std::io::BufReader;
use std::io::Read;
use std::path::Path;
use std::sync::Condvar;
use std::sync::Mutex;
use std::sync::PoisonError;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;
use std::time::Duration;
use std::time::Instant;

use jpeg_decoder::Decoder;
use jpeg_decoder::PixelFormat;
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use crate::capture::claims::Allowance;
use crate::capture::claims::claims;
use crate::capture::folder::open;
use crate::capture::source::fill;
use crate::terms::picture::Picture;
use crate::terms::records::Extent;

/// The longest embedded JPEG that is read. Previews of full size take 2 to 6 MB.
const LONGEST_JPEG: u64 = 12 * 1024 * 1024;
/// The longest JPEG file that is passed on without being decoded.
const LONGEST_FILE: u64 = 64 * 1024 * 1024;
/// The most memory that all pictures decoded at the same time may take, in bytes; the next one waits.
const MOST_TOGETHER: u64 = 256 << 20;
/// Shown for bytes that no decoder accepts.
const NOT_ONE: &str = "the embedded picture is not a readable JPEG";
/// Shown for JPEG files in print colours.
const OTHER_KIND: &str = "the embedded picture is of a kind that cameras do not write";
/// How many bytes are passed to the decoder between two checks of the time.
const LOOK_UP_EVERY: usize = 256;

/// Limits on the cost of reading a picture, and a way to stop it.
#[derive(Clone, Copy, Debug)]
pub struct Limits<'a> {
    /// What it may cost.
    pub allowed: Allowance,
    /// Set to stop the work; the current picture is abandoned.
    pub stop: Option<&'a AtomicBool>,
}

/// Reads an embedded JPEG; `enough` is the side in pixels that is enough.
///
/// Gives: the reason, in words, if the file cannot be read, the extent is past its end, the bytes are not a JPEG, or
/// decoding them would cost more than the limits allow.
pub fn read_picture(
    path: &Path,
    extent: Extent,
    enough: u16,
    limits: &Limits<'_>,
) -> Result<Picture, String> {
    let bytes = checked_bytes(path, extent, LONGEST_JPEG)?;
    decode(&bytes, enough, limits)
}

/// The bytes of an embedded JPEG, or of a JPEG file, as the camera wrote them.
///
/// Gives: the reason, in words, if the file cannot be read, the extent is past its end, or the bytes are not a JPEG.
pub fn jpeg_bytes(path: &Path, extent: Extent) -> Result<Vec<u8>, String> {
    let bytes = checked_bytes(path, extent, LONGEST_FILE)?;
    if !bytes.starts_with(&[0xFF, 0xD8, 0xFF]) {
        return Err(NOT_ONE.to_owned());
    }
    Ok(bytes)
}

fn checked_bytes(path: &Path, extent: Extent, longest: u64) -> Result<Vec<u8>, String> {
    let length = extent.length;
    if length == 0 || length > longest {
        return Err(format!("the embedded JPEG of {length} bytes is too large"));
    }
    read_bytes(path, extent).map_err(|error| match error.kind() {
        io::ErrorKind::NotFound => "the file is missing".to_owned(),
        io::ErrorKind::UnexpectedEof => {
            "the file ends before the end of its embedded JPEG".to_owned()
        }
        _ => format!("the file could not be read: {error}"),
    })
}

/// Decodes a JPEG.
///
/// Takes: the side that is enough: a larger picture is decoded at a half, a quarter or an eighth of its size. Gives:
/// the reason, in words, if the bytes are not a JPEG or would cost more than the limits allow.
pub fn decode(jpeg: &[u8], enough: u16, limits: &Limits<'_>) -> Result<Picture, String> {
    let not_one = |_| NOT_ONE.to_owned();
    let claims = claims(jpeg)?;
    let mut watched = Watched {
        bytes: jpeg,
        left: LOOK_UP_EVERY,
        until: Instant::now() + Duration::from_millis(limits.allowed.time_ms),
        stop: limits.stop,
        ended: None,
    };
    // It reads byte by byte, which through the watch alone takes a tenth of the time.
    let mut decoder = Decoder::new(BufReader::with_capacity(LOOK_UP_EVERY, &mut watched));
    let (width, height) = decoder.scale(enough, enough).map_err(not_one)?;
    let eighths = u64::from(width) * 8 / claims.width;
    if let Some(why) = claims.too_much(jpeg.len() as u64, eighths, &limits.allowed) {
        return Err(why);
    }
    let format = decoder.info().map(|info| info.pixel_format);
    let held = PAGES.take(claims.memory_bytes(eighths));
    let stopped = limits.stop.is_some_and(|stop| stop.load(Ordering::Relaxed));
    if eighths == 8
        && !stopped
        && limits.allowed.time_ms > 0
        && let Ok(picture) = decode_whole(jpeg)
    {
        return Ok(picture);
    }
    let unpacked = decoder.decode();
    drop(decoder);
    drop(held);
    let pixels = unpacked.map_err(|_| watched.why())?;
    let rgb = match format {
        Some(PixelFormat::RGB24) => pixels,
        Some(PixelFormat::L8) => pixels.iter().flat_map(|grey| [*grey; 3]).collect(),
        _ => return Err(OTHER_KIND.to_owned()),
    };
    Picture::new(usize::from(width), usize::from(height), rgb).ok_or_else(|| NOT_ONE.to_owned())
}

/// Decodes a small JPEG at its own size, in the calling thread: four times as fast as the other decoder, which starts a
/// thread for each component, and accepts some files that this one does not.
///
/// There is no time limit: a picture whose half is too small has sides of less than twice what is enough, and its scans
/// are within the allowance.
fn decode_whole(jpeg: &[u8]) -> Result<Picture, String> {
    let not_one = || NOT_ONE.to_owned();
    // A truncated picture is refused; otherwise the missing part would be filled with an even grey.
    let options = DecoderOptions::default().set_strict_mode(true);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(jpeg), options);
    decoder.decode_headers().map_err(|_| not_one())?;
    if !matches!(
        decoder.input_colorspace(),
        Some(ColorSpace::YCbCr | ColorSpace::RGB | ColorSpace::Luma)
    ) {
        return Err(OTHER_KIND.to_owned());
    }
    let rgb = decoder.decode().map_err(|_| not_one())?;
    let info = decoder.info().ok_or_else(not_one)?;
    Picture::new(info.width.into(), info.height.into(), rgb).ok_or_else(not_one)
}

/// Bytes for the decoder, until the time is up or the work is stopped.
struct Watched<'a> {
    bytes: &'a [u8],
    /// How many more before the next check of the time.
    left: usize,
    until: Instant,
    stop: Option<&'a AtomicBool>,
    /// Why it ended before its end.
    ended: Option<&'static str>,
}

impl Watched<'_> {
    /// Why decoding ended before its end.
    fn why(&self) -> String {
        self.ended.unwrap_or(NOT_ONE).to_owned()
    }

    fn look_up(&mut self) -> io::Result<()> {
        self.left = LOOK_UP_EVERY;
        if self.stop.is_some_and(|stop| stop.load(Ordering::Relaxed)) {
            self.ended = Some("the work was stopped");
        } else if Instant::now() >= self.until {
            self.ended = Some("decoding the embedded picture took too long");
        }
        let ended = |_| Err(io::ErrorKind::TimedOut.into());
        self.ended.map_or(Ok(()), ended)
    }
}

impl Read for Watched<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.left == 0 {
            self.look_up()?;
        }
        let got = self.bytes.read(into)?;
        self.left = self.left.saturating_sub(got);
        Ok(got)
    }
}

/// Memory for pictures of one kind: so many bytes for all that are worked on at the same time.
#[derive(Debug)]
pub(super) struct Memory {
    held: Mutex<u64>,
    freed: Condvar,
    most: u64,
}

/// The pictures of reports and pages, while they are decoded.
static PAGES: Memory = Memory::new(MOST_TOGETHER);

impl Memory {
    pub const fn new(most: u64) -> Self {
        Self {
            held: Mutex::new(0),
            freed: Condvar::new(),
            most,
        }
    }

    /// Waits until there is enough memory beside the other pictures. A single picture is always let through.
    pub fn take(&'static self, bytes: u64) -> Room {
        let held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        let full = |held: &mut u64| *held > 0 && *held + bytes > self.most;
        let mut held = self
            .freed
            .wait_while(held, full)
            .unwrap_or_else(PoisonError::into_inner);
        *held += bytes;
        Room { of: self, bytes }
    }
}

/// Memory that a picture holds; dropping it frees the memory for the next one.
#[derive(Debug)]
pub struct Room {
    of: &'static Memory,
    bytes: u64,
}

impl Drop for Room {
    fn drop(&mut self) {
        let held = self.of.held.lock();
        *held.unwrap_or_else(PoisonError::into_inner) -= self.bytes;
        self.of.freed.notify_all();
    }
}

pub(super) fn read_bytes(path: &Path, extent: Extent) -> io::Result<Vec<u8>> {
    let file = open(path)?;
    // Before allocating: the extent may be past the end of a file that has shrunk.
    let length = file.metadata()?.len();
    if extent.offset.saturating_add(extent.length) > length {
        return Err(io::ErrorKind::UnexpectedEof.into());
    }
    let mut bytes = vec![0; usize::try_from(extent.length).map_err(io::Error::other)?];
    match fill(&file, extent.offset, &mut bytes) {
        (got, _) if got == bytes.len() => Ok(bytes),
        (_, Some(error)) => Err(error),
        _ => Err(io::ErrorKind::UnexpectedEof.into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const PAGE: Limits<'_> = Limits {
        allowed: Allowance::PAGE,
        stop: None,
    };

    fn jpeg() -> Vec<u8> {
        let rgb: Vec<u8> = (0..64 * 48 * 3_u32)
            .map(|i| u8::try_from(i * 7 % 251).unwrap())
            .collect();
        let mut bytes = Vec::new();
        jpeg_encoder::Encoder::new(&mut bytes, 80)
            .encode(&rgb, 64, 48, jpeg_encoder::ColorType::Rgb)
            .unwrap();
        bytes
    }

    /// The two decoders against each other.
    #[test]
    fn colours_come_out_as_another_decoder_has_them() {
        let jpeg = jpeg();
        let whole = decode(&jpeg, 64, &PAGE).unwrap();
        let other = Decoder::new(&jpeg[..]).decode().unwrap();
        for (a, b) in whole.rgb().iter().zip(&other) {
            assert!(a.abs_diff(*b) <= 4, "{a} {b}");
        }
        assert_eq!(decode(&jpeg, 30, &PAGE).unwrap().width(), 32);
    }

    #[test]
    fn pictures_of_every_make_are_whole_or_none() {
        let rgb: Vec<u8> = (0..99 * 61 * 3_u32)
            .map(|i| u8::try_from(i / 3 % 99 + i / 297).unwrap())
            .collect();
        for progressive in [false, true] {
            for restart in [0, 3] {
                let mut bytes = Vec::new();
                let mut encoder = jpeg_encoder::Encoder::new(&mut bytes, 90);
                encoder.set_progressive(progressive);
                if restart > 0 {
                    encoder.set_restart_interval(restart);
                }
                encoder
                    .encode(&rgb, 99, 61, jpeg_encoder::ColorType::Rgb)
                    .unwrap();
                let whole = decode(&bytes, 90, &PAGE).unwrap();
                let other = Decoder::new(&bytes[..]).decode().unwrap();
                for (a, b) in whole.rgb().iter().zip(&other) {
                    assert!(a.abs_diff(*b) <= 4, "{a} {b}");
                }
                for share in 1..10 {
                    let cut = &bytes[..bytes.len() * share / 10];
                    assert!(
                        decode(cut, 90, &PAGE).is_err(),
                        "{progressive} {restart} {share}"
                    );
                }
            }
        }
        let mut print = Vec::new();
        jpeg_encoder::Encoder::new(&mut print, 90)
            .encode(
                &vec![90; 32 * 32 * 4],
                32,
                32,
                jpeg_encoder::ColorType::Cmyk,
            )
            .unwrap();
        for enough in [8, 32] {
            let why = decode(&print, enough, &PAGE).unwrap_err();
            assert!(why.contains("of a kind that cameras do not write"), "{why}");
        }
    }

    #[test]
    fn an_embedded_jpeg_is_read_where_it_lies_and_nowhere_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("NITE0001.NEF");
        let jpeg = jpeg();
        let mut bytes = vec![0x55; 1000];
        bytes.extend_from_slice(&jpeg);
        bytes.extend_from_slice(&[0x55; 10]);
        std::fs::write(&path, &bytes).unwrap();
        let length = jpeg.len() as u64;
        let extent = Extent {
            offset: 1000,
            length,
        };
        let picture = read_picture(&path, extent, 200, &PAGE).unwrap();
        assert_eq!((picture.width(), picture.height()), (64, 48));
        for (offset, length) in [
            (1011, length),
            (0, 500),
            (1000, 0),
            (u64::MAX, 9),
            (1000, u64::MAX),
        ] {
            assert!(read_picture(&path, Extent { offset, length }, 200, &PAGE).is_err());
        }
        assert!(
            read_picture(&folder.path().join("gone"), extent, 200, &PAGE)
                .unwrap_err()
                .contains("the file is missing")
        );
    }

    proptest! {
        /// Broken bytes from a card give a picture or an error, never a panic.
        #[test]
        fn broken_jpegs_do_no_harm(flips in prop::collection::vec((0..2_000_usize, any::<u8>()), 1..40), cut in 0..3_000_usize) {
            let mut bytes = jpeg();
            for (at, value) in flips {
                let at = at % bytes.len();
                bytes[at] = value;
            }
            bytes.truncate(cut.max(2));
            let _ = decode(&bytes, 24, &PAGE);
        }
    }
}
