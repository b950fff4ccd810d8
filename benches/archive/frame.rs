//! One frame of an archive: the values that the body wrote, and the result of reading its files.

use framefall::terms::basis::ClockTag;
use framefall::terms::basis::Health;
use framefall::terms::finding::Finding;
use framefall::terms::picture::Look;
use framefall::terms::picture::MEASURES;
use framefall::terms::records::CaptureRecord;
use framefall::terms::records::Extent;
use framefall::terms::records::FileReading;
use framefall::terms::time::Utc;
use framefall::terms::time::WallTime;
use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::plan::BODIES;
use super::plan::Body;
use super::plan::BodyNight;
use super::plan::ClockHabit;
use super::plan::NIGHT_FRAMES;
use super::plan::SITES;

/// Darks at the end of a night.
const DARKS: usize = 20;

/// A frame.
pub struct Frame<'n> {
    night: &'n BodyNight,
    body: &'n Body,
    number: usize,
    /// The frame's number in the archive, hashed, so that its values look random.
    chance: u64,
    start: Utc,
    record: CaptureRecord,
}

impl<'n> Frame<'n> {
    /// The frame with this number in a body's night.
    pub fn new(night: &'n BodyNight, number: usize) -> Self {
        let body = &BODIES[night.body];
        let chance = spread((night.number * NIGHT_FRAMES + number) as u64);
        let second_half = number >= night.frames / 2;
        let exposure = |half: usize| [10.0, 13.0, 15.0, 20.0_f64][(night.number + half) % 4];
        let exposure_s = exposure(usize::from(second_half));
        // The timer keeps one interval through the night.
        let start = start_of(night, exposure(0).max(exposure(1)) + 1.2, number);
        let (_, lat, lon, elev, zone) = SITES[night.site];
        let journey = night.number / 3;
        let focal = [14.0, 20.0, 24.0, 35.0][(journey + night.body) % 4];
        let seconds = start.unix_ms().div_euclid(1000);
        let offset_s = match body.clock {
            ClockHabit::Zone(east) => east,
            ClockHabit::Gps => 0,
            ClockHabit::Silent | ClockHabit::Offset => offset_at(zone, seconds),
        };
        let thousandths = format!("{:03}", start.unix_ms().rem_euclid(1000));
        let gps = body.clock == ClockHabit::Gps;
        // A receiver's position wanders by some metres.
        let wander = |shift: u32| (chance >> shift & 0xff) as f64 * 1e-6;
        let record = CaptureRecord {
            clock_local: WallTime::from_seconds(
                seconds + i64::from(offset_s),
                &thousandths[..body.digits],
            ),
            clock_source: Some(ClockTag::Original),
            utc_offset_s: (body.clock == ClockHabit::Offset).then_some(offset_s),
            body_zone_s: matches!(body.clock, ClockHabit::Zone(_)).then_some(offset_s),
            gps_utc: gps.then(|| Utc::from_unix_ms(seconds * 1000)).flatten(),
            gps_lat_deg: gps.then_some(lat + wander(8)),
            gps_lon_deg: gps.then_some(lon + wander(16)),
            gps_elev_m: gps.then_some(elev + (chance >> 24 & 0x3f) as f64 * 0.1),
            make: Some(body.make.into()),
            model: Some(body.model.into()),
            serial: Some(body.serial.into()),
            lens: Some(format!("Nova {focal}mm")),
            exposure_s: Some(exposure_s),
            f_number: Some([1.4, 1.8, 2.8][(journey + night.body) % 3]),
            iso: Some([1600.0, 3200.0, 6400.0][(night.number / 2 + usize::from(second_half)) % 3]),
            focal_mm: Some(focal),
            focal35_mm: (night.body > 1).then_some(focal),
            width_px: Some(body.size.0),
            height_px: Some(body.size.1),
            orientation: Some(1),
            temperature_c: body
                .thermometer
                .then_some(18.0 - (number / 100) as f64 + (chance >> 40 & 1) as f64),
            shutter_count: Some((night.number * NIGHT_FRAMES + number) as u64 / 5),
        };
        Self {
            night,
            body,
            number,
            chance,
            start,
            record,
        }
    }

    /// The file's name with this extension.
    pub fn name(&self, ending: &str) -> String {
        let count = self.night.number / BODIES.len() * NIGHT_FRAMES + self.number;
        format!("NITE{:04}.{ending}", 1 + count % 9999)
    }

    /// When the files were written: a little after the exposure. The disk's stamps are to a hundred nanoseconds.
    pub fn modified_ns(&self) -> i64 {
        (self.start.unix_ms() + 26_000) * 1_000_000 + (self.chance % 10_000).cast_signed() * 100
    }

    /// The size of its raw file.
    pub fn raw_bytes(&self) -> u64 {
        let pixels = u64::from(self.body.size.0) * u64::from(self.body.size.1);
        pixels * 2 + self.chance % 3_000_000
    }

    /// The size of its JPEG.
    pub fn jpeg_bytes(&self) -> u64 {
        9_000_000 + (self.chance >> 8) % 4_000_000
    }

    /// The result of reading its raw file.
    pub fn raw(&self) -> FileReading {
        self.reading(self.body.format, 0)
    }

    /// The result of reading its JPEG.
    pub fn jpeg(&self) -> FileReading {
        self.reading("jpeg", 1)
    }

    fn reading(&self, format: &'static str, file: u64) -> FileReading {
        let mut fingerprint = [0; 16];
        fingerprint[..8].copy_from_slice(&spread(self.chance ^ file).to_le_bytes());
        let odd = self.chance.is_multiple_of(2_000);
        FileReading {
            format,
            record: self.record.clone(),
            health: Health::Sound,
            fingerprint: Some(fingerprint),
            thumbnail: Some(Extent {
                offset: 36_000 + self.chance % 3,
                length: 9_000 + self.chance % 5_000,
            }),
            preview: Some(Extent {
                offset: 170_000 + self.chance % 7,
                length: 1_500_000 + (self.chance >> 5) % 400_000,
            }),
            findings: odd
                .then(|| Finding::new("value-unknown", "focal length 0/0", "left it unknown"))
                .into_iter()
                .collect(),
            bytes_read: 0,
        }
    }

    /// The measures of its small picture, as an ingest of real files would take them.
    pub fn look(&self) -> Look {
        let of = self.night.frames;
        let dark = of > 4 * DARKS && self.number >= of - DARKS;
        let noise = (self.chance & 0xff) as f64 * 1e-5;
        Look {
            level: if dark { 0.012 } else { 0.11 } + noise,
            floor: if dark { 0.008 } else { 0.05 },
            stars: if dark { 0.0 } else { 30.0 },
            edges: if dark { 0.0 } else { 0.01 },
            uneven_stops: if dark { 0.0 } else { 0.3 },
            falloff_stops: if dark { 0.0 } else { 1.2 },
            tilt_stops: if dark { 0.0 } else { 0.5 },
            measures: MEASURES,
        }
    }
}

/// When the shutter opened: the night's frames follow each other around the Sun's midnight.
fn start_of(night: &BodyNight, cadence_s: f64, number: usize) -> Utc {
    let (_, _, lon, ..) = SITES[night.site];
    let midnight_s = 86_400.0 * (1 + night.later) as f64 - lon / 15.0 * 3600.0;
    // The bodies start at slightly different times; their clocks do not tick together.
    let first_s = -cadence_s * NIGHT_FRAMES as f64 / 2.0 + 67.31 * night.body as f64;
    Utc::parse(&format!("{}T00:00:00Z", night.peak))
        .and_then(|day| day.plus_s(midnight_s + first_s + cadence_s * number as f64))
        .expect("an instant")
}

/// The offset of a zone from UTC, in seconds east.
fn offset_at(zone: &str, seconds: i64) -> i32 {
    TimeZone::get(zone)
        .and_then(|zone| Ok(zone.to_offset(Timestamp::from_second(seconds)?).seconds()))
        .expect("a zone")
}

/// Spreads numbers over all of 64 bits. Source: splitmix64 (from memory).
fn spread(number: u64) -> u64 {
    let mut x = number.wrapping_add(0x9e37_79b9_7f4a_7c15);
    x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    x ^ (x >> 31)
}
