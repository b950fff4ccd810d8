//! The expected catalogue of the demo dumps, computed from the scenario alone: `expected.toml`.
//!
//! Never looks at the files it speaks of.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::Outcome;
use super::cast::{Dump, Oddity, Run};
use super::extras::{COPY_NAME, EXTRAS, copied_shot};
use super::scenario::{BODY_A, BODY_B, GIBBER_FLAT, MAKE, RUNS, SALT_RIDGE, SNOW_FELL};
use super::shots::Shot;

/// Counts of one dump, or of several.
#[derive(Default)]
struct Tally {
    files: usize,
    frames: usize,
    pairs: usize,
    copies: usize,
    truncated: usize,
    undated: usize,
    passed_over: BTreeMap<&'static str, usize>,
}

impl Tally {
    fn of(dump: Dump) -> Outcome<Self> {
        let mut tally = Self::default();
        for run in RUNS.iter().filter(|run| run.dump == dump) {
            for shot in Shot::of_run(run)? {
                tally.frames += 1;
                tally.files += shot.extensions().len();
                tally.pairs += shot.extensions().len() - 1;
                match shot.oddity() {
                    Some(Oddity::CutShort) => tally.truncated += 1,
                    Some(Oddity::BlankClock) => tally.undated += 1,
                    None => {}
                }
            }
        }
        if dump == Dump::GeminidsB {
            tally.files += 1;
            tally.copies += 1;
        }
        for extra in EXTRAS.iter().filter(|extra| extra.dump == dump) {
            *tally.passed_over.entry(extra.kind).or_default() += 1;
        }
        Ok(tally)
    }

    fn add(&mut self, other: &Self) {
        self.files += other.files;
        self.frames += other.frames;
        self.pairs += other.pairs;
        self.copies += other.copies;
        self.truncated += other.truncated;
        self.undated += other.undated;
        for (&kind, count) in &other.passed_over {
            *self.passed_over.entry(kind).or_default() += count;
        }
    }

    fn write(&self, out: &mut String) -> Outcome<()> {
        writeln!(out, "files = {}", self.files)?;
        writeln!(out, "frames = {}", self.frames)?;
        writeln!(out, "pairs = {}", self.pairs)?;
        writeln!(out, "copies = {}", self.copies)?;
        writeln!(out, "truncated = {}", self.truncated)?;
        writeln!(out, "undated = {}", self.undated)?;
        let kinds: Vec<String> = self
            .passed_over
            .iter()
            .map(|(kind, count)| format!("{kind} = {count}"))
            .collect();
        match kinds.join(", ") {
            none if none.is_empty() => writeln!(out, "passed_over = {{}}")?,
            some => writeln!(out, "passed_over = {{ {some} }}")?,
        }
        Ok(())
    }
}

/// The whole of `expected.toml`.
pub fn write() -> Outcome<String> {
    let mut tallies = Vec::new();
    let mut total = Tally::default();
    for dump in Dump::ALL {
        let tally = Tally::of(dump)?;
        total.add(&tally);
        tallies.push((dump, tally));
    }
    let mut out = String::from(HEAD);
    write_all(&mut out, &tallies, &total)?;
    Ok(out)
}

const HEAD: &str = "\
# What a catalogue of demo-data/cards must come to. Written by demo-data/make from its own story; see README.md.
#
# files        camera files, copies included
# frames       presses of the shutter that no dump before this one held
# pairs        of those, how many left a raw file and a JPEG
# copies       files that repeat a frame of another dump, byte for byte
# sessions     frames without a usable time belong to none
# cadence_s    median from start to start
# start_utc    the true instant, whatever the body's clock showed
# clock        what the body's clock showed

";

fn write_all(out: &mut String, tallies: &[(Dump, Tally)], total: &Tally) -> Outcome<()> {
    writeln!(out, "[total]")?;
    total.write(out)?;
    for site in [&SALT_RIDGE, &GIBBER_FLAT, &SNOW_FELL] {
        writeln!(out, "\n[[site]]\nname = \"{}\"", site.name)?;
        writeln!(out, "zone = \"{}\"", site.zone)?;
        writeln!(
            out,
            "lat_deg = {:?}\nlon_deg = {:?}",
            site.lat_deg, site.lon_deg
        )?;
        writeln!(out, "elev_m = {:?}", site.elev_m)?;
    }
    for body in [&BODY_A, &BODY_B] {
        writeln!(
            out,
            "\n[[camera]]\nmake = \"{MAKE}\"\nmodel = \"{}\"",
            body.model
        )?;
        writeln!(
            out,
            "serial = \"{}\"\nwrites_place = {}",
            body.serial, body.knows_place
        )?;
    }
    for (dump, tally) in tallies {
        writeln!(out, "\n[[dump]]\nlabel = \"{}\"", dump.label())?;
        tally.write(out)?;
        for run in RUNS.iter().filter(|run| run.dump == *dump) {
            write_session(out, run, &dated_shots(run)?)?;
        }
    }
    write_odd(out)
}

/// The frames of a run that a catalogue can put in order.
fn dated_shots(run: &'static Run) -> Outcome<Vec<Shot>> {
    let dated = |shot: &Shot| shot.oddity() != Some(Oddity::BlankClock);
    Ok(Shot::of_run(run)?.into_iter().filter(dated).collect())
}

fn write_session(out: &mut String, run: &Run, shots: &[Shot]) -> Outcome<()> {
    let (Some(first), Some(last)) = (shots.first(), shots.last()) else {
        return Err("a run without frames".into());
    };
    let (start, end) = (first.start_utc()?, last.start_utc()?);
    let (first_clock, last_clock) = (shown(first)?, shown(last)?);
    writeln!(out, "\n[[dump.session]]\nnight = \"{}\"", run.night)?;
    writeln!(
        out,
        "site = \"{}\"\nserial = \"{}\"",
        run.site.name, run.body.serial
    )?;
    writeln!(
        out,
        "kind = \"{}\"\nfocal_mm = {}",
        run.kind.word(),
        run.lens.focal_mm
    )?;
    writeln!(out, "shower = \"{}\"", run.shower.code)?;
    writeln!(out, "frames = {}\nmissing = {}", shots.len(), missing(run))?;
    writeln!(out, "cadence_s = {:?}", cadence_ms(shots) / 1000.0)?;
    writeln!(out, "clock_error_s = {}", run.clock_error_s)?;
    writeln!(out, "first_file = \"{}\"", file(first))?;
    writeln!(out, "last_file = \"{}\"", file(last))?;
    writeln!(
        out,
        "first_start_utc = \"{start}\"\nlast_start_utc = \"{end}\""
    )?;
    writeln!(
        out,
        "first_clock = \"{first_clock}\"\nlast_clock = \"{last_clock}\""
    )?;
    Ok(())
}

/// The frames with something to say of themselves.
fn write_odd(out: &mut String) -> Outcome<()> {
    for run in RUNS {
        for shot in Shot::of_run(run)? {
            let what = match shot.oddity() {
                Some(Oddity::CutShort) => "truncated",
                Some(Oddity::BlankClock) => "undated",
                None if shot.has_meteor() => "meteor",
                None => continue,
            };
            let (label, file) = (run.dump.label(), file(&shot));
            writeln!(
                out,
                "\n[[odd]]\nwhat = \"{what}\"\nfile = \"{label}/{file}\""
            )?;
        }
    }
    let original = copied_shot()?;
    let (here, there) = (Dump::GeminidsB.label(), Dump::GeminidsA.label());
    writeln!(
        out,
        "\n[[odd]]\nwhat = \"copy\"\nfile = \"{here}/{COPY_NAME}\""
    )?;
    writeln!(out, "of = \"{there}/{}\"", file(&original))?;
    Ok(())
}

fn file(shot: &Shot) -> String {
    format!("{}.{}", shot.path(), shot.extensions()[0])
}

fn shown(shot: &Shot) -> Outcome<String> {
    Ok(shot.clock()?.unwrap_or_default())
}

/// Frames that the rhythm asks for in the pause.
fn missing(run: &Run) -> i64 {
    run.gap.as_ref().map_or(0, |gap| {
        (gap.length_ms + run.cadence_ms / 2) / run.cadence_ms - 1
    })
}

fn cadence_ms(shots: &[Shot]) -> f64 {
    let mut steps: Vec<i64> = shots
        .windows(2)
        .map(|pair| pair[1].start_ms - pair[0].start_ms)
        .collect();
    steps.sort_unstable();
    let half = steps.len() / 2;
    match steps.len() % 2 {
        1 => steps[half] as f64,
        _ => (steps[half - 1] + steps[half]) as f64 / 2.0,
    }
}
