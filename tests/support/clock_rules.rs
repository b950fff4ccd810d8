//! The rules of docs/clocks.md, in the plainest way: what a reading of one body, at a site in Rome, comes to. All times are seconds
//! from the noon of 2024-10-20; an instant counts as what a clock on UTC shows.

const QUARTER: i64 = 900;
const HOUR: i64 = 3_600;
const DAY: i64 = 24 * HOUR;
/// Rome's clocks show the hour from here on twice (Directive 2000/84/EC).
const TWICE_FROM: i64 = 6 * DAY + 14 * HOUR;

/// A clock fix.
#[derive(Clone, Debug, PartialEq)]
pub struct Fix {
    pub reading: i64,
    pub true_s: i64,
    pub reset: bool,
    pub from: Option<i64>,
    pub until: Option<i64>,
}

/// A zone that the clock was set to.
#[derive(Clone, Debug)]
pub struct Zone {
    pub name: &'static str,
    pub from: Option<i64>,
    pub until: Option<i64>,
}

/// All that is stated of the clock.
#[derive(Clone, Debug, Default)]
pub struct Rules {
    pub fixes: Vec<Fix>,
    pub zones: Vec<Zone>,
}

impl Fix {
    fn is_windowed(&self) -> bool {
        self.from.is_some() && self.until.is_some()
    }

    fn begins_epoch(&self) -> bool {
        self.reset || self.from.is_some() || self.until.is_some()
    }

    fn plain(&self) -> i64 {
        self.reading - self.true_s
    }

    /// By how much a clock of this zone was fast.
    fn fast(&self, zone: &str) -> i64 {
        let away = |offset: &i64| (self.plain() - offset).abs();
        let offset = offsets(zone, self.reading as f64)
            .into_iter()
            .min_by_key(away);
        self.plain() - offset.unwrap()
    }
}

/// The offsets that a zone's clocks have when they show this; two where it happens twice, the earlier instant's first.
fn offsets(zone: &str, shown: f64) -> Vec<i64> {
    match zone {
        "UTC" => vec![0],
        "+05:45" => vec![20_700],
        // Summer time from September to April.
        "America/Santiago" => vec![-3 * HOUR],
        "Europe/Rome" if shown < TWICE_FROM as f64 => vec![2 * HOUR],
        "Europe/Rome" if shown < (TWICE_FROM + HOUR) as f64 => vec![2 * HOUR, HOUR],
        "Europe/Rome" => vec![HOUR],
        other => panic!("{other}"),
    }
}

/// The rest without whole quarters of an hour.
fn rest(s: i64) -> i64 {
    (s + QUARTER / 2).rem_euclid(QUARTER) - QUARTER / 2
}

/// The most a clock gains from one fix to another.
fn most(a: &Fix, b: &Fix) -> f64 {
    let days = (b.true_s - a.true_s).abs() as f64 / DAY as f64;
    7.0 + (120.0 * days).min(120.0 + 10.0 * days)
}

fn can_drift(gained: i64, a: &Fix, b: &Fix) -> bool {
    gained.abs() as f64 <= most(a, b)
}

impl Rules {
    /// The instant of a reading; `None` where the zone's clocks show it twice.
    pub fn instant(&self, at: i64) -> Option<f64> {
        let applying = self.applying(at);
        let own = |fix: &Fix| self.zone(fix.reading);
        let (fast, zone) = if let Some(stated) = self.zone(at) {
            let fast = |fix: &Fix| match own(fix) {
                Some(own) => fix.fast(own),
                None if fix.begins_epoch() => fix.fast(stated),
                None => rest(fix.plain()),
            };
            (error(at, &applying, &fast), stated)
        } else {
            let by_site = |fix: &Fix| fix.fast(own(fix).unwrap_or("Europe/Rome"));
            let near = |fix: &Fix| own(fix).is_some() || by_site(fix).abs() <= QUARTER / 2;
            let summer_time = || match applying.as_slice() {
                [a, b] => {
                    can_drift(by_site(b) - by_site(a), a, b)
                        && !can_drift(b.plain() - a.plain(), a, b)
                }
                _ => false,
            };
            if applying.iter().all(near) || summer_time() {
                (error(at, &applying, &by_site), "Europe/Rome")
            } else {
                (error(at, &applying, &Fix::plain), "UTC")
            }
        };
        let shown = at as f64 - fast;
        match offsets(zone, shown).as_slice() {
            [one] => Some(shown - *one as f64),
            _ => None,
        }
    }

    /// The zone stated for a reading: the one that begins last, of those the one that ends first.
    fn zone(&self, at: i64) -> Option<&'static str> {
        let holds =
            |zone: &&Zone| zone.from.is_none_or(|f| f <= at) && zone.until.is_none_or(|u| at < u);
        let rank = |zone: &&Zone| {
            (
                zone.from.unwrap_or(i64::MIN),
                -zone.until.unwrap_or(i64::MAX),
            )
        };
        self.zones
            .iter()
            .filter(holds)
            .max_by_key(rank)
            .map(|zone| zone.name)
    }

    /// The fixes that apply to a reading: none, one or two.
    fn applying(&self, at: i64) -> Vec<Fix> {
        let windowed = self.fixes.iter().filter(|f| f.is_windowed());
        let around = windowed.filter(|f| f.from <= Some(at) && Some(at) < f.until);
        let window = around.max_by_key(|f| (f.from, f.until.map(|u| -u)));
        let mut fixes: Vec<Fix> = if let Some(window) = window {
            let same = |f: &&Fix| (f.from, f.until) == (window.from, window.until);
            let mut fixes: Vec<Fix> = self.fixes.iter().filter(same).cloned().collect();
            fixes.sort_by_key(|f| f.reading);
            // At a reset each reading follows the nearer fix.
            let parts: Vec<i64> = fixes
                .windows(2)
                .filter(|two| two[1].reset)
                .map(|two| (two[0].reading + two[1].reading + 1).div_euclid(2))
                .collect();
            let (from, until) = between(&parts, at);
            fixes.retain(|f| from <= f.reading && f.reading < until);
            fixes
        } else {
            let (from, until) = self.epoch(at);
            let inside = |f: &&Fix| !f.is_windowed() && from <= f.reading && f.reading < until;
            self.fixes.iter().filter(inside).cloned().collect()
        };
        fixes.sort_by_key(|f| f.reading);
        let before: Vec<&Fix> = fixes.iter().filter(|f| f.reading <= at).collect();
        let after: Vec<&Fix> = fixes.iter().filter(|f| f.reading > at).collect();
        let chosen = match (before.last(), after.first()) {
            (Some(a), Some(b)) => vec![*a, *b],
            // Outside, the drift comes from the nearest fix that is a day or more from the last one.
            (Some(last), None) => {
                let other = before
                    .iter()
                    .rev()
                    .find(|f| last.reading - f.reading >= DAY);
                other.into_iter().chain([last]).copied().collect()
            }
            (None, Some(first)) => {
                let other = after.iter().find(|f| f.reading - first.reading >= DAY);
                [first].into_iter().chain(other).copied().collect()
            }
            (None, None) => vec![],
        };
        chosen.into_iter().cloned().collect()
    }

    /// The first reading of the epoch of a reading, and the first one after it.
    pub fn epoch(&self, at: i64) -> (i64, i64) {
        between(&self.resets(), at)
    }

    /// The readings at which resets part the clock.
    pub fn resets(&self) -> Vec<i64> {
        let mut chain: Vec<&Fix> = self.fixes.iter().filter(|f| !f.is_windowed()).collect();
        chain.sort_by_key(|f| f.reading);
        let stated: Vec<i64> = chain.iter().filter_map(|f| f.from.or(f.until)).collect();
        let mut resets = stated.clone();
        for (i, fix) in chain.iter().enumerate().filter(|(_, f)| f.reset) {
            let before = if i == 0 {
                i64::MIN
            } else {
                chain[i - 1].reading
            };
            if stated
                .iter()
                .any(|reset| before < *reset && *reset <= fix.reading)
            {
                continue;
            }
            resets.push(if i == 0 {
                // The last noon.
                fix.reading.div_euclid(DAY) * DAY
            } else {
                (before + fix.reading + 1).div_euclid(2)
            });
        }
        resets
    }
}

fn between(parts: &[i64], at: i64) -> (i64, i64) {
    let from = parts.iter().filter(|part| **part <= at).max();
    let until = parts.iter().filter(|part| **part > at).min();
    (*from.unwrap_or(&i64::MIN), *until.unwrap_or(&i64::MAX))
}

/// By how much a clock is fast at a reading, by these fixes, at which it was fast by so much.
fn error(at: i64, applying: &[Fix], fast: &dyn Fn(&Fix) -> i64) -> f64 {
    let (a, b) = match applying {
        [] => return 0.0,
        [one] => return fast(one) as f64,
        [a, b] => (a, b),
        more => panic!("{more:?}"),
    };
    let nearer = if (at - a.reading).abs() <= (at - b.reading).abs() {
        a
    } else {
        b
    };
    let gained = fast(b) - fast(a);
    let set_on = if can_drift(gained, a, b) {
        0
    } else {
        gained - rest(gained)
    };
    let a_second = (gained - set_on) as f64 / (b.reading - a.reading) as f64;
    let outside = at < a.reading || b.reading < at;
    if outside && (a_second * DAY as f64).abs() > 10.0 {
        return fast(nearer) as f64;
    }
    let set_on = if nearer == b { set_on } else { 0 };
    (fast(a) + set_on) as f64 + a_second * (at - a.reading) as f64
}
