//! Known differences between this reader and the libraries, and between a file's state and its flags, each with its reason.

/// Accepted differences: file, field, reason. A star at the end matches any rest.
pub const EXCEPTIONS: &[(&str, &str, &str)] = &[
    (
        "dng/exifpy__nikon_z_9_high_efficiency_compressed_dx_cropped_max_overexposed.dng",
        "ISO",
        "the 16-bit tag stops at 65535; the 32-bit tag that SensitivityType names says 102400 (CIPA DC-008 4.6.5)",
    ),
    (
        "arw/exifpy__sony_alpha_a7iii_raw_image.ARW",
        "Image*",
        "the raw picture's directory is cut off; the size in the Exif directory stands in for it",
    ),
    (
        "jpeg-meta/*",
        "Image*",
        "no frame header, so no picture to measure: 160 by 120 is the thumbnail of the raw file they came from",
    ),
    (
        "jpeg/bep__geodegrees_as_string.jpg",
        "GPSL*",
        "a position as text, 52,00000,50,00000,34,01180: one library reads 52 degrees 0 minutes 50 seconds out of it, \
         three read nothing",
    ),
    (
        "jpeg/hsexif__test-exif-below-idf0.jpg",
        "FNumber",
        "f/0.33: no lens is faster than f/0.5",
    ),
    (
        "jpeg/mei__FujiFilm_FinePixS1Pro_4_.jpg",
        "FNumber",
        "f/0.2: no lens is faster than f/0.5",
    ),
    (
        "jpeg/exifsamples__Canon_DIGITAL_IXUS_400.jpg",
        "Orientation",
        "from XMP, which is not read",
    ),
    (
        "png/bep__utf8-in-ztxt.png",
        "Orientation",
        "from XMP, which is not read",
    ),
    (
        "rw2/et__Panasonic.rw2",
        "SerialNumber",
        "from the maker note of the JPEG within, where the libraries leave it",
    ),
    // The tag is missing, and the APEX value beside it has the same meaning: CIPA DC-008 annex C.
    (
        "jpeg/bep__geodegrees_as_string.jpg",
        "FNumber",
        "from ApertureValue",
    ),
    (
        "jpeg/et__Ricoh.jpg",
        "ExposureTime",
        "from ShutterSpeedValue",
    ),
    ("jpeg/et__Ricoh.jpg", "FNumber", "from ApertureValue"),
    (
        "jpeg/exifsamples__fujifilm-finepix40i.jpg",
        "ExposureTime",
        "from ShutterSpeedValue",
    ),
    (
        "jpeg/mei__Ricoh_DC-3Z_low_res_.jpg",
        "ExposureTime",
        "from ShutterSpeedValue",
    ),
    (
        "jpeg/mei__Ricoh_DC-3Z_low_res_.jpg",
        "FNumber",
        "from ApertureValue",
    ),
    (
        "tiff/oiio__dscf0013.tif",
        "ExposureTime",
        "from ShutterSpeedValue",
    ),
];

/// Whether a word fits a pattern.
pub fn fits(pattern: &str, word: &str) -> bool {
    match pattern.strip_suffix('*') {
        Some(start) => word.starts_with(start),
        None => pattern == word,
    }
}

/// Files that are incomplete and have no flag for it.
pub const NOT_WHOLE: &[(&str, &str)] = &[
    ("jpeg/libexif__*", "metadata only: no frame header, no scan"),
    (
        "pef/bep__jlstravatnet.pef",
        "the publisher cut the raw picture off",
    ),
    (
        "png/mei__c-m1-9a3e0c7b687b526987e2270541002d47.png",
        "a chunk of 1.8 GB",
    ),
    (
        "png/mei__c53911b0385c34a8204c30fdc14ea5cc.png",
        "no end chunk",
    ),
];

/// Files that their publishers cut, which their structure does not show.
pub const SEEM_WHOLE: &[(&str, &str)] = &[(
    "tif-raw/exifast__Canon_EOS-1D_real.TIF",
    "only the maker note says where the raw picture lies",
)];
