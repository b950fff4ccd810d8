//! Hand-made raw files of every container: the same frame in each, laid out by public format notes.

// Each test uses a part of this.
#![allow(dead_code)]

use crate::tiff_block::{Made, lay_out, long, made_directories, short};

/// Bytes in place of a picture.
fn noise(len: usize) -> Vec<u8> {
    let mut state = 7_u32;
    (0..len)
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            state.to_be_bytes()[0]
        })
        .collect()
}

/// A whole JPEG of this size with the block as its Exif.
pub fn jpeg(block: &[u8], width: u16, height: u16) -> Vec<u8> {
    let mut out = vec![0xFF, 0xD8, 0xFF, 0xE1];
    out.extend(u16::try_from(block.len() + 8).unwrap().to_be_bytes());
    out.extend(b"Exif\0\0");
    out.extend(block);
    out.extend([0xFF, 0xC0, 0, 11, 8]);
    out.extend(height.to_be_bytes());
    out.extend(width.to_be_bytes());
    out.extend([1, 1, 0x11, 0, 0xFF, 0xDA, 0, 2]);
    out.extend(noise(usize::from(width)).iter().map(|b| b & 0x7F));
    out.extend([0xFF, 0xD9]);
    out
}

fn big(n: usize) -> [u8; 4] {
    u32::try_from(n).unwrap().to_be_bytes()
}

fn little(n: usize) -> [u8; 4] {
    u32::try_from(n).unwrap().to_le_bytes()
}

fn without(directory: &[Made], tags: &[u16]) -> Vec<Made> {
    let kept = directory.iter().filter(|made| !tags.contains(&made.0));
    kept.cloned().collect()
}

/// Every container: its extension, a file of it.
pub fn all() -> Vec<(&'static str, Vec<u8>)> {
    vec![
        ("cr3", cr3()),
        ("raf", raf()),
        ("rw2", rw2()),
        ("orf", orf(*b"IIRO")),
        ("orf", orf(*b"IIRS")),
        ("orf", orf(*b"MMOR")),
        ("mrw", mrw()),
        ("x3f", x3f()),
        ("crw", crw()),
    ]
}

fn boxed(kind: [u8; 4], body: &[u8]) -> Vec<u8> {
    [&big(body.len() + 8), &kind[..], body].concat()
}

fn cr3() -> Vec<u8> {
    const METADATA: &[u8] = b"\x85\xC0\xB6\x87\x82\x0F\x11\xE0\x81\x11\xF4\xCE\x46\x2B\x6A\x48";
    const PREVIEW: &[u8] = b"\xEA\xF4\x2B\x5E\x1C\x98\x4B\x88\xB9\xFB\xB7\xDC\x40\x6E\x4D\x16";
    let [primary, mut exif, gps] = made_directories();
    exif.extend([long(0xA002, 6000), long(0xA003, 4000)]);
    let primary = without(&primary, &[0x8769, 0x8825]);
    let alone = |directory| lay_out(false, 0, &[directory, Vec::new(), Vec::new()]);
    let thumbnail = jpeg(&[], 160, 120);
    let thmb = [
        &[0; 4][..],
        &[0, 160, 0, 120],
        &big(thumbnail.len()),
        &[0; 4],
        &thumbnail,
    ]
    .concat();
    let uuid = [
        METADATA,
        &boxed(*b"CMT1", &alone(primary)),
        &boxed(*b"CMT2", &alone(exif)),
        &boxed(*b"CMT4", &alone(gps)),
        &boxed(*b"THMB", &thmb),
    ]
    .concat();
    let preview = jpeg(&[], 1620, 1080);
    let prvw = [&[0; 12][..], &big(preview.len()), &preview].concat();
    let prvw = [PREVIEW, &[0; 8], &boxed(*b"PRVW", &prvw)].concat();
    let full = jpeg(&[], 6000, 4000);
    let raw = noise(20_000);
    let build = |offset: u64| {
        let stsz = [&[0; 4][..], &[0; 4], &big(1), &big(full.len())].concat();
        let co64 = [&[0; 4][..], &big(1), &offset.to_be_bytes()].concat();
        let stbl = [boxed(*b"stsz", &stsz), boxed(*b"co64", &co64)].concat();
        let track = boxed(*b"mdia", &boxed(*b"minf", &boxed(*b"stbl", &stbl)));
        let moov = [boxed(*b"uuid", &uuid), boxed(*b"trak", &track)].concat();
        [
            boxed(*b"ftyp", b"crx \0\0\0\x01crx isom"),
            boxed(*b"moov", &moov),
            boxed(*b"uuid", &prvw),
        ]
        .concat()
    };
    let head = build(0).len() as u64;
    let mut out = build(head + 16);
    let size = 16 + full.len() as u64 + raw.len() as u64;
    out.extend(b"\0\0\0\x01mdat");
    out.extend(size.to_be_bytes());
    out.extend(full);
    out.extend(raw);
    out
}

fn raf() -> Vec<u8> {
    let jpeg = jpeg(&lay_out(false, 0, &made_directories()), 1920, 1280);
    let records = b"\0\0\0\x02\x01\0\0\x04\x0F\xB0\x17\x80\x01\x11\0\x04\x0F\xA0\x17\x70";
    let sensor = noise(20_000);
    let mut out = b"FUJIFILMCCD-RAW 0201FF000000Umbra N7".to_vec();
    out.resize(0x54, 0);
    let at = [148, 148 + jpeg.len(), 148 + jpeg.len() + records.len()];
    let lengths = [jpeg.len(), records.len(), sensor.len()];
    for (at, length) in at.into_iter().zip(lengths) {
        out.extend(big(at));
        out.extend(big(length));
    }
    out.resize(148, 0);
    out.extend(jpeg);
    out.extend(records);
    out.extend(sensor);
    out
}

fn rw2() -> Vec<u8> {
    let [primary, exif, gps] = made_directories();
    // The short Exif directory lacks the lens, the number and the place: the JPEG within has them.
    let short_exif = without(&exif, &[0xA431, 0xA434, 0x8827]);
    let within = jpeg(
        &lay_out(false, 0, &[primary.clone(), exif, gps]),
        1920,
        1280,
    );
    let build = |raw: u32| {
        let mut own = without(&primary, &[0x0100, 0x0101, 0x8825]);
        own.extend([
            // 17,500 pixels, fourteen in sixteen bytes.
            short(0x0002, 125),
            short(0x0003, 140),
            short(0x002D, 4),
            short(0x0004, 10),
            short(0x0005, 20),
            short(0x0006, 4010),
            short(0x0007, 6020),
            short(0x0017, 3200),
            (0x002E, 7, within.clone(), 1),
            long(0x0111, u32::MAX),
            long(0x0117, 35_000),
            long(0x0118, raw),
        ]);
        let mut out = lay_out(false, 0, &[own, short_exif.clone(), Vec::new()]);
        out[2..4].copy_from_slice(b"U\0");
        out
    };
    let start = u32::try_from(build(0).len()).unwrap();
    let mut out = build(start);
    out.extend(noise(20_000));
    out
}

fn orf(magic: [u8; 4]) -> Vec<u8> {
    let is_big = magic.starts_with(b"MM");
    let build = |raw: u32| {
        let [mut primary, exif, gps] = made_directories();
        primary.extend([long(0x0111, raw), long(0x0117, 20_000)]);
        let mut out = lay_out(is_big, 0, &[primary, exif, gps]);
        out[..4].copy_from_slice(&magic);
        out
    };
    let start = u32::try_from(build(0).len()).unwrap();
    let mut out = build(start);
    out.extend(noise(20_000));
    out
}

fn mrw() -> Vec<u8> {
    let block = lay_out(true, 0, &made_directories());
    // A sensor of 100 by 160, a picture of 4000 by 6000 for the sake of the test, 12 bits packed.
    let mut prd = b"27200001\0\x64\0\xA0\x0F\xA0\x17\x70".to_vec();
    prd.extend([12, 12, 0x59, 0, 0, 0, 0, 1]);
    let blocks = [
        b"\0PRD",
        &big(prd.len())[..],
        &prd,
        b"\0TTW",
        &big(block.len()),
        &block,
    ]
    .concat();
    let mut out = [b"\0MRM", &big(blocks.len())[..], &blocks].concat();
    out.extend(noise(100 * 160 * 12 / 8));
    out
}

fn x3f() -> Vec<u8> {
    let properties = [
        ("CAMMANUF", "Umbra"),
        ("CAMMODEL", "Umbra N7"),
        ("CAMSERIAL", "0042"),
        ("EXPTIME", "15000000"),
        ("APERTURE", "2.80"),
        ("ISO", "3200"),
        ("FLENGTH", "20"),
        ("IMAGERTEMP", "-3"),
        ("TIME", "1702516327"),
    ];
    let mut index = Vec::new();
    let mut text = Vec::new();
    for (name, value) in properties {
        for word in [name, value] {
            index.extend(little(text.len() / 2));
            text.extend(word.encode_utf16().chain([0]).flat_map(u16::to_le_bytes));
        }
    }
    let head = [
        b"SECp",
        &little(0x2_0000)[..],
        &little(properties.len()),
        &[0; 8],
    ]
    .concat();
    let section = [&head[..], &little(text.len() / 2), &index, &text].concat();
    let mut out = b"FOVb\x03\0\x02\0".to_vec();
    out.resize(28, 0);
    out.extend(little(6000));
    out.extend(little(4000));
    out.resize(264, 0);
    let picture = out.len();
    out.extend(b"SECi");
    out.extend(
        [
            little(0x2_0000),
            little(3),
            little(30),
            little(6000),
            little(4000),
            little(0),
        ]
        .concat(),
    );
    out.extend(noise(20_000));
    let properties = out.len();
    out.extend(&section);
    let directory = out.len();
    out.extend(b"SECd");
    out.extend([little(0x2_0000), little(2)].concat());
    out.extend([&little(picture)[..], &little(properties - picture), b"IMA2"].concat());
    out.extend([&little(properties)[..], &little(section.len()), b"PROP"].concat());
    out.extend(little(directory));
    out
}

/// A record of a heap: its kind, its bytes.
type Record = (u16, Vec<u8>);

fn heap(records: &[Record]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut directory = u16::try_from(records.len()).unwrap().to_le_bytes().to_vec();
    for (kind, bytes) in records {
        directory.extend(kind.to_le_bytes());
        if kind & 0x4000 == 0 {
            directory.extend(little(bytes.len()));
            directory.extend(little(out.len()));
            out.extend(bytes);
        } else {
            directory.extend(bytes);
        }
    }
    let at = out.len();
    out.extend(directory);
    out.extend(little(at));
    out
}

fn crw() -> Vec<u8> {
    let words = |all: &[u16]| -> Vec<u8> { all.iter().flat_map(|n| n.to_le_bytes()).collect() };
    let longs = |all: &[u32]| -> Vec<u8> { all.iter().flat_map(|n| n.to_le_bytes()).collect() };
    let mut shot = [0_u16; 33];
    shot[0] = 66;
    // Three steps of an APEX number: f/2.83 and 16 seconds.
    (shot[21], shot[22]) = (96, (-128_i16).cast_unsigned());
    let mut settings = [0_u16; 46];
    settings[25] = 32;
    let names = heap(&[(0x080A, b"Umbra\0Umbra EOS N7\0".to_vec())]);
    let inner = heap(&[
        (0x2807, names),
        (0x102A, words(&shot)),
        (0x102D, words(&settings)),
        (0x1029, words(&[2, 20 * 32, 0, 0])),
        (0x180E, longs(&[1_702_516_327, 0, 0])),
        (0x1810, longs(&[6000, 4000, 0, 90, 0, 0, 0])),
        (0x580B, longs(&[42, 0])),
    ]);
    let thumbnail = jpeg(&[], 160, 120);
    let outer = heap(&[
        (0x2005, noise(20_000)),
        (0x2008, thumbnail),
        (0x300A, inner),
    ]);
    let mut out = b"II\x1A\0\0\0HEAPCCDR\x02\0\x01\0".to_vec();
    out.resize(26, 0);
    out.extend(outer);
    out
}

/// The tags that only some of the containers can carry are left to them.
pub const fn carries_everything(extension: &str) -> bool {
    !matches!(extension.as_bytes(), b"x3f" | b"crw")
}
