//! The numbers of the tags that the demo cameras write.
//!
//! Sources: TIFF 6.0 (1992), CIPA DC-008 EXIF 2.32, Adobe DNG specification 1.4 (numbers from memory).

/// `NewSubfileType`: 0 the full picture, 1 a smaller one.
pub const NEW_SUBFILE_TYPE: u16 = 0x00fe;
/// `ImageWidth`.
pub const IMAGE_WIDTH: u16 = 0x0100;
/// `ImageLength`.
pub const IMAGE_LENGTH: u16 = 0x0101;
/// `BitsPerSample`.
pub const BITS_PER_SAMPLE: u16 = 0x0102;
/// `Compression`: 1 none, 6 a whole JPEG beside, 7 JPEG in the strip.
pub const COMPRESSION: u16 = 0x0103;
/// `PhotometricInterpretation`: 6 `YCbCr`, 32803 colour filter array.
pub const PHOTOMETRIC: u16 = 0x0106;
/// `Make`.
pub const MAKE: u16 = 0x010f;
/// `Model`.
pub const MODEL: u16 = 0x0110;
/// `StripOffsets`.
pub const STRIP_OFFSETS: u16 = 0x0111;
/// `Orientation`.
pub const ORIENTATION: u16 = 0x0112;
/// `SamplesPerPixel`.
pub const SAMPLES_PER_PIXEL: u16 = 0x0115;
/// `RowsPerStrip`.
pub const ROWS_PER_STRIP: u16 = 0x0116;
/// `StripByteCounts`.
pub const STRIP_BYTE_COUNTS: u16 = 0x0117;
/// `XResolution`.
pub const X_RESOLUTION: u16 = 0x011a;
/// `YResolution`.
pub const Y_RESOLUTION: u16 = 0x011b;
/// `PlanarConfiguration`.
pub const PLANAR: u16 = 0x011c;
/// `ResolutionUnit`.
pub const RESOLUTION_UNIT: u16 = 0x0128;
/// `Software`.
pub const SOFTWARE: u16 = 0x0131;
/// `DateTime`: when the file was written.
pub const DATE_TIME: u16 = 0x0132;
/// `SubIFDs`.
pub const SUB_IFDS: u16 = 0x014a;
/// `JPEGInterchangeFormat`: where the thumbnail starts.
pub const JPEG_OFFSET: u16 = 0x0201;
/// `JPEGInterchangeFormatLength`.
pub const JPEG_LENGTH: u16 = 0x0202;
/// `YCbCrSubSampling`.
pub const YCBCR_SUBSAMPLING: u16 = 0x0212;
/// `YCbCrPositioning`.
pub const YCBCR_POSITIONING: u16 = 0x0213;
/// `CFARepeatPatternDim`.
pub const CFA_DIM: u16 = 0x828d;
/// `CFAPattern`.
pub const CFA_PATTERN: u16 = 0x828e;
/// `ExposureTime`.
pub const EXPOSURE_TIME: u16 = 0x829a;
/// `FNumber`.
pub const F_NUMBER: u16 = 0x829d;
/// Pointer to the EXIF directory.
pub const EXIF_IFD: u16 = 0x8769;
/// `ExposureProgram`: 1 manual.
pub const EXPOSURE_PROGRAM: u16 = 0x8822;
/// Pointer to the GPS directory.
pub const GPS_IFD: u16 = 0x8825;
/// `PhotographicSensitivity`.
pub const SENSITIVITY: u16 = 0x8827;
/// `SensitivityType`: 2 recommended exposure index.
pub const SENSITIVITY_TYPE: u16 = 0x8830;
/// `RecommendedExposureIndex`.
pub const EXPOSURE_INDEX: u16 = 0x8832;
/// `ExifVersion`.
pub const EXIF_VERSION: u16 = 0x9000;
/// `DateTimeOriginal`.
pub const DATE_TIME_ORIGINAL: u16 = 0x9003;
/// `DateTimeDigitized`.
pub const DATE_TIME_DIGITIZED: u16 = 0x9004;
/// `OffsetTime`, beside `DateTime`.
pub const OFFSET_TIME: u16 = 0x9010;
/// `OffsetTimeOriginal`.
pub const OFFSET_TIME_ORIGINAL: u16 = 0x9011;
/// `OffsetTimeDigitized`.
pub const OFFSET_TIME_DIGITIZED: u16 = 0x9012;
/// `ComponentsConfiguration`.
pub const COMPONENTS: u16 = 0x9101;
/// `ExposureBiasValue`.
pub const EXPOSURE_BIAS: u16 = 0x9204;
/// `MaxApertureValue`, in steps of the square root of two.
pub const MAX_APERTURE: u16 = 0x9205;
/// `MeteringMode`.
pub const METERING: u16 = 0x9207;
/// `Flash`: 0x10 off.
pub const FLASH: u16 = 0x9209;
/// `FocalLength`.
pub const FOCAL_LENGTH: u16 = 0x920a;
/// `SubSecTime`.
pub const SUB_SEC: u16 = 0x9290;
/// `SubSecTimeOriginal`.
pub const SUB_SEC_ORIGINAL: u16 = 0x9291;
/// `SubSecTimeDigitized`.
pub const SUB_SEC_DIGITIZED: u16 = 0x9292;
/// `FlashpixVersion`.
pub const FLASHPIX: u16 = 0xa000;
/// `ColorSpace`: 1 sRGB.
pub const COLOUR_SPACE: u16 = 0xa001;
/// `PixelXDimension`.
pub const PIXEL_X: u16 = 0xa002;
/// `PixelYDimension`.
pub const PIXEL_Y: u16 = 0xa003;
/// `ExposureMode`: 1 manual.
pub const EXPOSURE_MODE: u16 = 0xa402;
/// `WhiteBalance`: 1 manual.
pub const WHITE_BALANCE: u16 = 0xa403;
/// `FocalLengthIn35mmFilm`.
pub const FOCAL_35: u16 = 0xa405;
/// `SceneCaptureType`: 3 night.
pub const SCENE: u16 = 0xa406;
/// `BodySerialNumber`.
pub const BODY_SERIAL: u16 = 0xa431;
/// `LensSpecification`.
pub const LENS_SPECIFICATION: u16 = 0xa432;
/// `LensMake`.
pub const LENS_MAKE: u16 = 0xa433;
/// `LensModel`.
pub const LENS_MODEL: u16 = 0xa434;
/// `DNGVersion`.
pub const DNG_VERSION: u16 = 0xc612;
/// `DNGBackwardVersion`.
pub const DNG_BACKWARD: u16 = 0xc613;
/// `UniqueCameraModel`.
pub const UNIQUE_MODEL: u16 = 0xc614;
/// `CFAPlaneColor`.
pub const CFA_PLANES: u16 = 0xc616;
/// `CFALayout`.
pub const CFA_LAYOUT: u16 = 0xc617;
/// `BlackLevel`.
pub const BLACK_LEVEL: u16 = 0xc61a;
/// `WhiteLevel`.
pub const WHITE_LEVEL: u16 = 0xc61d;
/// `ColorMatrix1`.
pub const COLOUR_MATRIX: u16 = 0xc621;
/// `AsShotNeutral`.
pub const AS_SHOT_NEUTRAL: u16 = 0xc628;
/// `CameraSerialNumber`.
pub const CAMERA_SERIAL: u16 = 0xc62f;
/// `CalibrationIlluminant1`: 21 daylight of 6504 K.
pub const ILLUMINANT: u16 = 0xc65a;
