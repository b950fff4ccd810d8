//! An embedded JPEG to a picture in memory: reads its bytes and no others, refuses what is too large. The only file
//! that looks at picture data.

use std::fs::File;
use std::io;
use std::path::Path;

use jpeg_decoder::Decoder;
use jpeg_decoder::PixelFormat;

use crate::capture::folder::open;
use crate::terms::picture::Picture;
use crate::terms::records::Extent;

/// The longest embedded JPEG that is read. Previews of full size take 2 to 6 MB.
const LONGEST_JPEG: u64 = 12 * 1024 * 1024;
/// The most pixels of a picture that is unpacked: 12,000 by 9,000 are the largest bodies' full size.
const MOST_PIXELS: usize = 120_000_000;
/// The most memory that unpacking may take, in bytes.
const MOST_MEMORY: usize = 200 * 1024 * 1024;

/// Reads an embedded JPEG; `enough` is the side in pixels that is enough.
///
/// Gives: why not, in words, where the file cannot be read, the extent lies past its end, or the bytes are no JPEG.
pub fn read_picture(path: &Path, extent: Extent, enough: u16) -> Result<Picture, String> {
    if extent.length == 0 || extent.length > LONGEST_JPEG {
        return Err(format!(
            "an embedded JPEG of {} bytes is not read",
            extent.length
        ));
    }
    let bytes = read_extent(path, extent).map_err(|error| match error.kind() {
        io::ErrorKind::NotFound => "the file is not where it was".to_owned(),
        io::ErrorKind::UnexpectedEof => "the file ends before its embedded JPEG does".to_owned(),
        _ => format!("the file could not be read: {error}"),
    })?;
    decode(&bytes, enough)
}

/// Unpacks a JPEG.
///
/// Takes: the side that is enough: a larger picture is unpacked at a half, a quarter or an eighth of its size.
/// Gives: why not, in words, where the bytes are no JPEG or claim more than `MOST_PIXELS`.
pub fn decode(jpeg: &[u8], enough: u16) -> Result<Picture, String> {
    let not_one = |_| "the embedded picture is no JPEG that can be read".to_owned();
    let mut decoder = Decoder::new(jpeg);
    decoder.set_max_decoding_buffer_size(MOST_MEMORY);
    decoder.read_info().map_err(not_one)?;
    let claimed = decoder.info().map_or((0, 0), |info| {
        (usize::from(info.width), usize::from(info.height))
    });
    if claimed.0.saturating_mul(claimed.1) > MOST_PIXELS {
        return Err(format!(
            "an embedded picture of {} by {} pixels is not unpacked",
            claimed.0, claimed.1
        ));
    }
    let (width, height) = decoder.scale(enough, enough).map_err(not_one)?;
    let pixels = decoder.decode().map_err(not_one)?;
    let rgb = match decoder.info().map(|info| info.pixel_format) {
        Some(PixelFormat::RGB24) => pixels,
        Some(PixelFormat::L8) => pixels.iter().flat_map(|grey| [*grey; 3]).collect(),
        _ => return Err("the embedded picture is of a kind no camera writes".to_owned()),
    };
    Picture::new(usize::from(width), usize::from(height), rgb)
        .ok_or_else(|| "the embedded picture is no JPEG that can be read".to_owned())
}

#[cfg(unix)]
fn read_exactly(file: &File, bytes: &mut [u8], offset: u64) -> io::Result<()> {
    use std::os::unix::fs::FileExt;
    file.read_exact_at(bytes, offset)
}

#[cfg(not(unix))]
fn read_exactly(mut file: &File, bytes: &mut [u8], offset: u64) -> io::Result<()> {
    use std::io::Read;
    use std::io::Seek;
    file.seek(io::SeekFrom::Start(offset))?;
    file.read_exact(bytes)
}

fn read_extent(path: &Path, extent: Extent) -> io::Result<Vec<u8>> {
    let file = open(path)?;
    // Before making room: an extent of a file that has shrunk since must not.
    let length = file.metadata()?.len();
    if extent.offset.saturating_add(extent.length) > length {
        return Err(io::ErrorKind::UnexpectedEof.into());
    }
    let mut bytes = vec![0; usize::try_from(extent.length).map_err(io::Error::other)?];
    read_exactly(&file, &mut bytes, extent.offset)?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

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

    /// The picture against another decoder than ours.
    #[test]
    fn colours_come_out_as_another_decoder_has_them() {
        let jpeg = jpeg();
        let ours = decode(&jpeg, 64).unwrap();
        let mut theirs =
            zune_jpeg::JpegDecoder::new(zune_jpeg::zune_core::bytestream::ZCursor::new(&jpeg));
        let theirs = theirs.decode().unwrap();
        for (a, b) in ours.rgb().iter().zip(&theirs) {
            assert!(a.abs_diff(*b) <= 4, "{a} {b}");
        }
        assert_eq!(decode(&jpeg, 30).unwrap().width(), 32);
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
        let picture = read_picture(&path, extent, 200).unwrap();
        assert_eq!((picture.width(), picture.height()), (64, 48));
        for (offset, length) in [
            (1011, length),
            (0, 500),
            (1000, 0),
            (u64::MAX, 9),
            (1000, u64::MAX),
        ] {
            assert!(read_picture(&path, Extent { offset, length }, 200).is_err());
        }
        assert!(
            read_picture(&folder.path().join("gone"), extent, 200)
                .unwrap_err()
                .contains("not where it was")
        );
    }

    proptest! {
        /// A card's broken bytes give a picture or a word, never a panic.
        #[test]
        fn broken_jpegs_do_no_harm(flips in prop::collection::vec((0..2_000_usize, any::<u8>()), 1..40), cut in 0..3_000_usize) {
            let mut bytes = jpeg();
            for (at, value) in flips {
                let at = at % bytes.len();
                bytes[at] = value;
            }
            bytes.truncate(cut.max(2));
            let _ = decode(&bytes, 24);
        }
    }
}
