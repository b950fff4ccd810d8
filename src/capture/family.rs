//! The TIFF family: a file's raw format, its main image's size, its JPEG previews, and what is truncated.

use crate::capture::gathered::Directory;
use crate::capture::gathered::Gathered;
use crate::capture::gathered::Role;
use crate::capture::source::Source;
use crate::capture::wanted;
use crate::terms::records::Extent;

/// A raw format of the family, its extensions, and its makers.
type Kin = (
    &'static str,
    &'static [&'static str],
    &'static [&'static str],
);

/// Raw formats that only maker and extension distinguish. The first of a maker is used if the extension does not help.
/// Makers as their bodies write `Make`, in capitals.
const KIN: &[Kin] = &[
    ("nef", &["nef"], &["NIKON"]),
    ("nrw", &["nrw"], &["NIKON"]),
    ("arw", &["arw"], &["SONY"]),
    ("sr2", &["sr2", "srf"], &["SONY"]),
    ("pef", &["pef"], &["PENTAX", "RICOH", "ASAHI"]),
    ("srw", &["srw"], &["SAMSUNG"]),
    ("3fr", &["3fr"], &["HASSELBLAD"]),
    ("fff", &["fff"], &["HASSELBLAD", "IMACON"]),
    ("iiq", &["iiq"], &["PHASE ONE", "LEAF"]),
    ("mos", &["mos"], &["LEAF", "MAMIYALEAF"]),
    ("mef", &["mef"], &["MAMIYA"]),
    ("kdc", &["kdc"], &["KODAK", "EASTMAN KODAK"]),
    ("dcr", &["dcr"], &["KODAK", "EASTMAN KODAK"]),
    ("erf", &["erf"], &["EPSON", "SEIKO EPSON"]),
];

/// Compression numbers that only raw files use: VC-5, Sony, Samsung, Nikon, Kodak, Pentax.
/// Source: the makers' files themselves; common practice, no source.
const RAW_COMPRESSIONS: &[u64] = &[9, 32_767, 32_769, 32_770, 34_713, 65_000, 65_535];

/// The format of a TIFF-structured file: by its contents first, its maker next, its extension last.
pub fn format(head: &[u8], extension: &str, out: &Gathered) -> &'static str {
    if head.get(8..11) == Some(b"CR\x02") {
        return "cr2";
    }
    if out.dng {
        // A DNG whose picture is in the VC-5 codec is what GoPro calls GPR.
        let vc5 = out.directories.iter().any(|d| d.compression == Some(9));
        return if vc5 { "gpr" } else { "dng" };
    }
    if head.get(8..12) == Some(b"IIII") {
        return "iiq";
    }
    let make = out
        .block
        .value(wanted::MAKE)
        .map(|raw| raw.trim_ascii_start().to_ascii_uppercase());
    let made_by = |kin: &Kin| {
        make.as_ref()
            .is_some_and(|make| kin.2.iter().any(|m| make.starts_with(m.as_bytes())))
    };
    let by_extension = KIN.iter().find(|kin| kin.1.contains(&extension));
    if let Some(kin) = by_extension
        && (make.is_none() || made_by(kin))
    {
        return kin.0;
    }
    let is_raw =
        |d: &Directory| d.is_raw() || d.compression.is_some_and(|c| RAW_COMPRESSIONS.contains(&c));
    if out.directories.iter().any(is_raw) {
        if let Some(kin) = KIN.iter().find(|kin| made_by(kin)) {
            return kin.0;
        }
        if let Some(kin) = by_extension {
            return kin.0;
        }
    }
    "tiff"
}

/// Finds the main image's size, the embedded JPEG files, and the first picture that ends past the file's end.
pub fn pictures(format: &str, source: &Source, out: &mut Gathered) {
    let length = source.length();
    for i in 0..out.directories.len() {
        let about = out.directories[i];
        let name = named(about.role);
        if let Some(end) = about.data_end {
            out.promise(format_args!("the picture of {name}"), end, length);
        }
        if let Some(jpeg) = about.jpeg {
            let end = jpeg.offset.saturating_add(jpeg.length);
            out.promise(format_args!("the JPEG of {name}"), end, length);
        }
        for jpeg in [about.jpeg, jpeg_strip(format, &about)]
            .into_iter()
            .flatten()
        {
            if !source.is_held_otherwise(jpeg.offset, &[0xFF, 0xD8]) {
                out.jpeg(jpeg, length);
            }
        }
    }
    out.size = main_size(format, source, out);
}

const fn named(role: Role) -> &'static str {
    match role {
        Role::Chain(0) => "IFD0",
        Role::Chain(1) => "IFD1",
        Role::Chain(2) => "IFD2",
        Role::Chain(3) => "IFD3",
        Role::Chain(_) => "a directory of the chain",
        _ => "a SubIFD",
    }
}

/// The only strip of a directory, if it is a whole JPEG file and not sensor data in JPEG's lossless mode.
fn jpeg_strip(format: &str, about: &Directory) -> Option<Extent> {
    let plain = match (format, about.role) {
        // IFD2 of a CR2 is marked JPEG but is plain RGB; IFD3 is the raw picture.
        ("cr2", role) => role == Role::Chain(0) && about.compression == Some(6),
        _ => matches!(
            (about.compression, about.photometric),
            (Some(6), Some(6) | None) | (Some(7), Some(6 | 2))
        ),
    };
    about.strip.filter(|_| plain)
}

fn main_size(format: &str, source: &Source, out: &Gathered) -> Option<(u64, u64)> {
    let largest = |fits: &dyn Fn(&Directory) -> bool| {
        out.directories
            .iter()
            .filter(|d| fits(d))
            .filter_map(Directory::size)
            .max_by_key(|(w, h)| w.saturating_mul(*h))
    };
    let exif = out.exif_size.filter(|(w, h)| *w > 0 && *h > 0);
    let first = largest(&|d| d.role == Role::Chain(0) && !d.is_reduced());
    let whole = || largest(&|d| !d.is_reduced());
    match format {
        // CR2 and IIQ have no directory with the main image's size.
        "cr2" | "iiq" => exif.or_else(whole),
        "tiff" if is_early_canon(source.head()) => exif.or(first),
        "tiff" => first.or_else(whole).or(exif),
        _ => largest(&Directory::is_raw).or(exif).or_else(whole),
    }
}

/// The raw `.TIF` of Canon's first EOS-1D bodies: IFD0, at byte 16 as only Canon does, is a small RGB picture marked as
/// the main one; the size of the picture is in Exif only.
fn is_early_canon(head: &[u8]) -> bool {
    let canon = head
        .get(..1024.min(head.len()))
        .is_some_and(|start| start.windows(15).any(|w| w == b"Canon\0Canon EOS"));
    canon && matches!(head.get(4..8), Some([16, 0, 0, 0] | [0, 0, 0, 16]))
}
