//! The state of the sky in each frame of a segment, from its stars and its brightness, measured against the same segment. Knows no
//! star by name.

use crate::terms::found_trail::SKY_SIGNS;
use crate::terms::star_image::Grey;
use crate::terms::star_image::StarField;
use crate::trails::flat::Plane;
use crate::trails::places::CELLS;
use crate::trails::places::Point;
use crate::trails::places::cell;

/// A cell of the sky counts where it usually shows so many stars; it is clear with so many of them.
const USUAL_STARS: u8 = 2;
const CLEAR_FROM: f32 = 0.4;
/// Fewer cells than this say nothing.
const FEWEST_CELLS: usize = 12;
/// Fewer frames than this have no usual state.
const FEWEST_FRAMES: usize = 5;
/// Dew: stars wider than usual by this factor, and fewer than this share of them, or with less than this share of their light.
const DEW: (f32, f32, f32) = (1.2, 0.6, 0.7);
/// Shaken: stars longer than usual by this factor.
const SHAKEN: f32 = 1.25;
/// Light on the ground: a cell this many levels above its median.
const LIT_LEVELS: u8 = 10;
/// Focus: widths grow by this factor from the first to the last sixth of a segment, while this share of the stars stays, and this
/// share of their light.
const DRIFT: (f32, f32, f32) = (1.15, 0.7, 0.85);
/// The stars whose light is compared: the brightest of all may be saturated.
const COMPARED: std::ops::Range<usize> = 20..120;
/// Cloud: sky clear up to here, and clear only up to here now.
const CLOUD: (f32, f32) = (0.8, 0.5);
/// The exponent by which cameras encode light, roughly.
///
/// Source: IEC 61966-2-1 (sRGB) is close to 2.2; a camera's own curve may differ (from memory).
const ENCODING: f32 = 2.2;

/// What is kept of a frame for the state of its sky.
#[derive(Clone, Debug, PartialEq)]
pub struct Glance {
    stars: Vec<u8>,
    levels: Vec<u8>,
    sky_level: f32,
    star_width_px: Option<f32>,
    /// Median light of bright stars.
    light: Option<f32>,
    elongation: Option<f32>,
}

/// The state of the sky in a frame.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SkyState {
    /// Share of the cells of the sky that show their usual stars.
    pub clear: Option<f32>,
    /// Brightness of the sky in stops against the median of the segment.
    pub sky_stops: Option<f32>,
    /// What is noticed.
    pub signs: Vec<Sign>,
}

/// Something that is noticed of a frame's sky.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sign {
    /// The sky was clear and is so no longer.
    CloudComingIn,
    /// Stars are wider and fewer.
    DewSuspected,
    /// Stars have grown wider and stay as many.
    FocusDrifting,
    /// Stars are longer than in other frames.
    Shaken,
    /// A part of the picture that shows no stars is brighter than usual.
    LightOnTheGround,
}

impl Sign {
    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::CloudComingIn => SKY_SIGNS[0],
            Self::DewSuspected => SKY_SIGNS[1],
            Self::FocusDrifting => SKY_SIGNS[2],
            Self::Shaken => SKY_SIGNS[3],
            Self::LightOnTheGround => SKY_SIGNS[4],
        }
    }
}

impl Glance {
    /// Takes a preview and what stars were found in it.
    #[allow(clippy::cast_possible_truncation)] // pixels and levels
    pub fn of(preview: &Grey, field: &StarField) -> Self {
        let mut stars = vec![0_u8; CELLS.0 * CELLS.1];
        for star in &field.stars {
            let at = cell(star.x as f32, star.y as f32, field.width, field.height);
            stars[at] = stars[at].saturating_add(1);
        }
        Self {
            stars,
            levels: levels(preview),
            sky_level: field.sky_level as f32,
            star_width_px: field.star_width_px.map(|width| width as f32),
            light: quantile(
                field.stars
                    [COMPARED.start.min(field.stars.len())..COMPARED.end.min(field.stars.len())]
                    .iter()
                    .map(|star| star.flux as f32),
                0.5,
            ),
            elongation: None,
        }
    }

    /// With how much longer than wide its stars are, by the flattened picture.
    pub(super) fn elongated(mut self, flat: &Plane, stars: &[Point]) -> Self {
        self.elongation = elongation(flat, stars);
        self
    }

    fn count(&self) -> f32 {
        self.stars.iter().map(|count| f32::from(*count)).sum()
    }
}

/// Mean level of each cell.
#[allow(clippy::cast_possible_truncation)] // a mean of bytes
fn levels(preview: &Grey) -> Vec<u8> {
    let (width, height) = (preview.width(), preview.height());
    let mut levels = Vec::with_capacity(CELLS.0 * CELLS.1);
    for j in 0..CELLS.1 {
        for i in 0..CELLS.0 {
            let (mut sum, mut count) = (0_u32, 0_u32);
            for y in (j * height / CELLS.1..(j + 1) * height / CELLS.1).step_by(3) {
                let part = &preview.row(y)[i * width / CELLS.0..(i + 1) * width / CELLS.0];
                sum += part.iter().map(|p| u32::from(*p)).sum::<u32>();
                count += part.len() as u32;
            }
            levels.push((sum / count.max(1)) as u8);
        }
    }
    levels
}

/// How much longer than wide the images of bright stars are, by their mean second moments: they point the same way where the
/// camera was shaken.
fn elongation(flat: &Plane, stars: &[Point]) -> Option<f32> {
    const REACH: i32 = 4;
    let (mut xx, mut xy, mut yy, mut used) = (0.0_f32, 0.0_f32, 0.0_f32, 0);
    for star in stars.iter().skip(3).take(60) {
        #[allow(clippy::cast_possible_truncation)] // pixels
        let (cx, cy) = (star.x.round() as i32, star.y.round() as i32);
        let mut moments = [0.0_f32; 6];
        for dy in -REACH..=REACH {
            for dx in -REACH..=REACH {
                let light = f32::from(flat.at(cx + dx, cy + dy)?.max(0));
                let (x, y) = (dx as f32, dy as f32);
                for (moment, by) in moments.iter_mut().zip([1.0, x, y, x * x, x * y, y * y]) {
                    *moment += light * by;
                }
            }
        }
        let [sum, sx, sy, sxx, sxy, syy] = moments;
        if sum <= 0.0 {
            continue;
        }
        let (mx, my) = (sx / sum, sy / sum);
        xx += sxx / sum - mx * mx;
        xy += sxy / sum - mx * my;
        yy += syy / sum - my * my;
        used += 1;
    }
    if used < 15 {
        return None;
    }
    let half = f32::midpoint(xx, yy);
    let apart = ((xx - yy) / 2.0).hypot(xy);
    Some(((half + apart) / (half - apart).max(1e-3)).sqrt())
}

/// The state of the sky in each frame of one segment.
pub fn sky_of(frames: &[Glance]) -> Vec<SkyState> {
    if frames.len() < FEWEST_FRAMES {
        return vec![SkyState::default(); frames.len()];
    }
    let cells = CELLS.0 * CELLS.1;
    let usual: Vec<u8> = (0..cells)
        .map(|at| rank(frames.iter().map(|f| f.stars[at]), 9))
        .collect();
    let around: Vec<Vec<u8>> = frames.iter().map(|f| around(&f.stars)).collect();
    let usual_around: Vec<u8> = (0..cells)
        .map(|at| rank(around.iter().map(|counts| counts[at]), 9))
        .collect();
    let median_level: Vec<u8> = (0..cells)
        .map(|at| rank(frames.iter().map(|f| f.levels[at]), 5))
        .collect();
    let sky: Vec<usize> = (0..cells).filter(|at| usual[*at] >= USUAL_STARS).collect();
    let ground: Vec<usize> = (0..cells).filter(|at| usual[*at] == 0).collect();
    let many = quantile(frames.iter().map(Glance::count), 0.9);
    let width = quantile(frames.iter().filter_map(|f| f.star_width_px), 0.3);
    let light = quantile(frames.iter().filter_map(|f| f.light), 0.7);
    let long = quantile(frames.iter().filter_map(|f| f.elongation), 0.5);
    let level = quantile(frames.iter().map(|f| f.sky_level), 0.5);
    let mut states: Vec<SkyState> = frames
        .iter()
        .zip(&around)
        .map(|(frame, around)| {
            let clear = (sky.len() >= FEWEST_CELLS).then(|| {
                let seen = |at: &&usize| {
                    f32::from(around[**at]) >= CLEAR_FROM * f32::from(usual_around[**at])
                };
                sky.iter().filter(seen).count() as f32 / sky.len() as f32
            });
            let share = many.filter(|m| *m > 0.0).map(|m| frame.count() / m);
            let mut signs = Vec::new();
            if let (Some(here), Some(long)) = (frame.elongation, long)
                && here > SHAKEN * long
            {
                signs.push(Sign::Shaken);
            }
            // Stars of a shaken frame are wide as well.
            if let (Some(share), Some(here), Some(width)) = (share, frame.star_width_px, width)
                && signs.is_empty()
                && here > DEW.0 * width
                && (share < DEW.1 || share_of(frame.light, light) < DEW.2)
            {
                signs.push(Sign::DewSuspected);
            }
            if ground
                .iter()
                .any(|at| frame.levels[*at] > median_level[*at].saturating_add(LIT_LEVELS))
            {
                signs.push(Sign::LightOnTheGround);
            }
            SkyState {
                clear,
                sky_stops: level
                    .filter(|level| *level > 0.0 && frame.sky_level > 0.0)
                    .map(|level| ENCODING * (frame.sky_level / level).log2()),
                signs,
            }
        })
        .collect();
    clouds(&mut states);
    focus(frames, &mut states, many);
    states
}

/// A value as a share of the usual one; 1 where either is not known.
fn share_of(here: Option<f32>, usual: Option<f32>) -> f32 {
    match (here, usual) {
        (Some(here), Some(usual)) if usual > 0.0 => here / usual,
        _ => 1.0,
    }
}

/// The stars in each cell and those around it: few stars in a cell vary by chance.
fn around(stars: &[u8]) -> Vec<u8> {
    let mut sums = Vec::with_capacity(stars.len());
    for j in 0..CELLS.1 {
        for i in 0..CELLS.0 {
            let mut sum = 0_u8;
            for row in j.saturating_sub(1)..(j + 2).min(CELLS.1) {
                for column in i.saturating_sub(1)..(i + 2).min(CELLS.0) {
                    sum = sum.saturating_add(stars[row * CELLS.0 + column]);
                }
            }
            sums.push(sum);
        }
    }
    sums
}

/// Marks the first frame of each stretch in which the sky is no longer clear.
fn clouds(states: &mut [SkyState]) {
    let mut was_clear = false;
    for state in states {
        let dew = state.signs.contains(&Sign::DewSuspected);
        match state.clear {
            Some(clear) if clear >= CLOUD.0 => was_clear = true,
            Some(clear) if clear <= CLOUD.1 && was_clear && !dew => {
                was_clear = false;
                state.signs.push(Sign::CloudComingIn);
            }
            _ => {}
        }
    }
}

/// Marks the frames at the end of a segment where stars have grown wider and are as many as before.
fn focus(frames: &[Glance], states: &mut [SkyState], many: Option<f32>) {
    let part = frames.len() / 6;
    if part < 3 {
        return;
    }
    let width = |of: &[Glance]| quantile(of.iter().filter_map(|f| f.star_width_px), 0.5);
    let last = &frames[frames.len() - part..];
    let (Some(first), Some(now), Some(many)) = (width(&frames[..part]), width(last), many) else {
        return;
    };
    let stay = quantile(last.iter().map(Glance::count), 0.5).is_some_and(|c| c > DRIFT.1 * many);
    let bright = |of: &[Glance]| quantile(of.iter().filter_map(|f| f.light), 0.5);
    let stay = stay && share_of(bright(last), bright(&frames[..part])) > DRIFT.2;
    if now > DRIFT.0 * first && stay {
        let from = frames.len() - part;
        for state in &mut states[from..] {
            state.signs.push(Sign::FocusDrifting);
        }
    }
}

/// A value of so many tenths of all.
fn rank(values: impl Iterator<Item = u8>, tenths: usize) -> u8 {
    let mut sorted: Vec<u8> = values.collect();
    sorted.sort_unstable();
    sorted[(sorted.len() * tenths / 10).min(sorted.len() - 1)]
}

fn quantile(values: impl Iterator<Item = f32>, share: f32) -> Option<f32> {
    let mut sorted: Vec<f32> = values.collect();
    sorted.sort_by(f32::total_cmp);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a place in a list
    let at = (sorted.len() as f32 * share) as usize;
    sorted.get(at.min(sorted.len().saturating_sub(1))).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn glance(stars: u8) -> Glance {
        let mut counts = vec![4; CELLS.0 * CELLS.1];
        for (at, count) in counts.iter_mut().enumerate() {
            let row = at / CELLS.0;
            *count = if row > 9 {
                0
            } else if row < 7 {
                stars
            } else {
                4
            };
        }
        Glance {
            stars: counts,
            levels: vec![20; CELLS.0 * CELLS.1],
            sky_level: 0.1,
            star_width_px: Some(1.5),
            light: Some(0.3),
            elongation: Some(1.1),
        }
    }

    #[test]
    fn cloud_takes_away_what_is_clear() {
        let mut frames = vec![glance(4); 10];
        frames[7] = glance(1);
        frames[8] = glance(1);
        let states = sky_of(&frames);
        assert_eq!(states[3].clear, Some(1.0));
        // The row beside the clear ones has stars around it.
        assert_eq!(states[7].clear, Some(0.4));
        assert_eq!(states[7].signs, [Sign::CloudComingIn]);
        assert_eq!(states[8].signs, []);
    }

    #[test]
    fn each_sign_by_its_own_measure() {
        let mut frames = vec![glance(4); 20];
        frames[3].elongation = Some(1.6);
        frames[4].levels[11 * CELLS.0 + 5] = 45;
        frames[5].sky_level = 0.2;
        frames[6] = glance(0);
        frames[6].stars.iter_mut().for_each(|s| *s /= 2);
        frames[6].star_width_px = Some(2.2);
        let states = sky_of(&frames);
        assert_eq!(states[3].signs, [Sign::Shaken]);
        assert_eq!(states[4].signs, [Sign::LightOnTheGround]);
        assert!((states[5].sky_stops.unwrap() - 2.2).abs() < 0.01);
        assert_eq!(states[6].signs, [Sign::DewSuspected]);
        for frame in &mut frames[16..] {
            frame.star_width_px = Some(1.9);
        }
        assert_eq!(sky_of(&frames)[18].signs, [Sign::FocusDrifting]);
    }

    #[test]
    fn few_frames_have_no_usual_state() {
        assert_eq!(
            sky_of(&[glance(4), glance(1)]),
            vec![SkyState::default(); 2]
        );
    }
}
