//! Unrolls the story's runs into single presses of the shutter: file name, true time, clock reading, settings.

use std::fmt::Write as _;

use jiff::Timestamp;
use jiff::tz::Offset;

use super::Outcome;
use super::cast::{Files, Oddity, Run, Setting};
use super::random::at_point;

/// One press of the shutter.
pub struct Shot {
    /// The run it belongs to.
    pub run: &'static Run,
    /// Its place in the run, from 0.
    pub index: usize,
    /// Number of its DCF folder.
    pub folder: u16,
    /// Number of its file.
    pub number: u16,
    /// When the shutter truly opened, milliseconds since 1970.
    pub start_ms: i64,
    /// The settings.
    pub setting: &'static Setting,
}

impl Shot {
    /// Unrolls one run.
    ///
    /// Refuses: a start that is not a time.
    pub fn of_run(run: &'static Run) -> Outcome<Vec<Self>> {
        let first: Timestamp = run
            .start_utc
            .parse()
            .map_err(|error| format!("{}: {error}", run.start_utc))?;
        let mut shots = Vec::with_capacity(run.frames);
        let (mut folder, mut number) = (run.folder.0, run.number);
        let mut even_ms = first.as_millisecond();
        for index in 0..run.frames {
            if index > 0 {
                even_ms += match &run.gap {
                    Some(gap) if gap.before == index => gap.length_ms,
                    _ => run.cadence_ms,
                };
            }
            let setting = run
                .settings
                .iter()
                .rev()
                .find(|one| one.from <= index)
                .ok_or("a run without settings")?;
            shots.push(Self {
                run,
                index,
                folder,
                number,
                start_ms: even_ms + waver_ms(run, index)?,
                setting,
            });
            (folder, number) = match number {
                9999 => (folder + 1, 1),
                _ => (folder, number + 1),
            };
        }
        Ok(shots)
    }

    /// Folder and name without extension, below the dump.
    pub fn path(&self) -> String {
        let (folder, name) = (self.folder, self.run.folder.1);
        format!(
            "DCIM/{folder:03}{name}/{}{:04}",
            self.run.body.stem, self.number
        )
    }

    /// Extensions of the files it leaves, raw before JPEG.
    pub fn extensions(&self) -> &'static [&'static str] {
        match self.run.files {
            Files::Raw if self.index < self.run.pairs => &["DNG", "JPG"],
            Files::Raw => &["DNG"],
            Files::Jpeg => &["JPG"],
        }
    }

    /// What is wrong with it, on purpose.
    pub fn oddity(&self) -> Option<Oddity> {
        let here = |one: &&(usize, Oddity)| one.0 == self.index;
        self.run.odd.iter().find(here).map(|one| one.1)
    }

    /// Whether a meteor crosses the picture.
    pub fn has_meteor(&self) -> bool {
        self.run.meteors.contains(&self.index)
    }

    /// Exposure time in milliseconds.
    pub fn exposure_ms(&self) -> i64 {
        let (n, d) = self.setting.exposure_s;
        i64::from(n) * 1000 / i64::from(d)
    }

    /// When the shutter truly opened: `2023-12-14T04:46:10.370Z`.
    pub fn start_utc(&self) -> Outcome<String> {
        Ok(format!("{:.3}", stamp(self.start_ms)?))
    }

    /// What the body's clock showed then: `2023-12-13T20:46:10.37`, or nothing when it was never set.
    pub fn clock(&self) -> Outcome<Option<String>> {
        if self.oddity() == Some(Oddity::BlankClock) {
            return Ok(None);
        }
        let mut text = self.reading(self.start_ms)?.strftime("%FT%T").to_string();
        if self.run.body.knows_place {
            write!(text, ".{}", hundredths(self.start_ms))?;
        }
        Ok(Some(text))
    }

    /// The body's clock at an instant.
    pub fn reading(&self, at_ms: i64) -> Outcome<jiff::civil::DateTime> {
        let fast = self.run.site.offset_s + self.run.clock_error_s;
        let offset = Offset::from_seconds(fast)?;
        Ok(offset.to_datetime(stamp(at_ms)?))
    }

    /// A number of its own, for what chance decides in its picture.
    pub fn seed(&self) -> u64 {
        self.start_ms.cast_unsigned()
    }
}

/// An instant.
pub fn stamp(unix_ms: i64) -> Outcome<Timestamp> {
    Ok(Timestamp::from_millisecond(unix_ms)?)
}

/// The two digits of the second's fraction at an instant.
pub fn hundredths(at_ms: i64) -> String {
    format!("{:02}", at_ms.rem_euclid(1000) / 10)
}

/// Shutters are not clockwork: a body that writes hundredths shows up to 0.04 s of wavering.
fn waver_ms(run: &Run, index: usize) -> Outcome<i64> {
    if !run.body.knows_place {
        return Ok(0);
    }
    let index = i64::try_from(index)?;
    #[allow(clippy::cast_possible_truncation)] // 0 to 8
    let hundredths = (at_point(0x7e57, i64::from(run.number), index) * 9.0) as i64;
    Ok((hundredths - 4) * 10)
}
