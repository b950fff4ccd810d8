//! A small picture in memory, and its brightness. Reads and writes no format.

use crate::terms::star_image::Grey;

/// A picture: red, green, blue, a byte each, row after row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    width: usize,
    height: usize,
    rgb: Vec<u8>,
}

impl Picture {
    /// Builds a picture.
    ///
    /// Refuses: no pixels, and bytes that are not three for each pixel.
    pub fn new(width: usize, height: usize, rgb: Vec<u8>) -> Option<Self> {
        let bytes = width.checked_mul(height)?.checked_mul(3)?;
        (bytes > 0 && bytes == rgb.len()).then_some(Self { width, height, rgb })
    }

    /// Pixels in a row.
    pub const fn width(&self) -> usize {
        self.width
    }

    /// Rows.
    pub const fn height(&self) -> usize {
        self.height
    }

    /// The bytes.
    pub fn rgb(&self) -> &[u8] {
        &self.rgb
    }

    /// The same shrunk to fit into a box; smaller ones are unchanged.
    ///
    /// Each new pixel is the mean of the area it covers: nothing is sharpened, and no star vanishes between samples.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // sides of pictures in memory
    pub fn shrunk(&self, longest_side: usize) -> Self {
        let longest = self.width.max(self.height);
        if longest <= longest_side || longest_side == 0 {
            return self.clone();
        }
        let scaled = |side: usize| (side * longest_side / longest).max(1);
        let (width, height) = (scaled(self.width), scaled(self.height));
        let columns = borders(self.width, width);
        let rows = borders(self.height, height);
        let mut rgb = Vec::with_capacity(width * height * 3);
        let mut sums = vec![0_u32; width * 3];
        for row in rows.windows(2) {
            sums.fill(0);
            for y in row[0]..row[1] {
                let line = &self.rgb[y * self.width * 3..(y + 1) * self.width * 3];
                for (sum, column) in sums.chunks_exact_mut(3).zip(columns.windows(2)) {
                    for pixel in line[column[0] * 3..column[1] * 3].chunks_exact(3) {
                        sum[0] += u32::from(pixel[0]);
                        sum[1] += u32::from(pixel[1]);
                        sum[2] += u32::from(pixel[2]);
                    }
                }
            }
            for (sum, column) in sums.chunks_exact(3).zip(columns.windows(2)) {
                let area = ((column[1] - column[0]) * (row[1] - row[0])) as u32;
                rgb.extend(sum.iter().map(|s| ((s + area / 2) / area) as u8));
            }
        }
        Self { width, height, rgb }
    }

    /// The same rotated according to an EXIF orientation: 3, 6 and 8 are rotations, the mirrored ones are mirrored.
    ///
    /// Source: CIPA DC-008, tag `Orientation`.
    pub fn upright(&self, orientation: u8) -> Self {
        let (w, h) = (self.width, self.height);
        let swapped = (5..=8).contains(&orientation);
        if !(2..=8).contains(&orientation) {
            return self.clone();
        }
        let (width, height) = if swapped { (h, w) } else { (w, h) };
        let mut rgb = Vec::with_capacity(self.rgb.len());
        for y in 0..height {
            for x in 0..width {
                let (sx, sy) = match orientation {
                    2 => (w - 1 - x, y),
                    3 => (w - 1 - x, h - 1 - y),
                    4 => (x, h - 1 - y),
                    5 => (y, x),
                    6 => (y, h - 1 - x),
                    7 => (w - 1 - y, h - 1 - x),
                    _ => (w - 1 - y, x),
                };
                let at = (sy * w + sx) * 3;
                rgb.extend_from_slice(&self.rgb[at..at + 3]);
            }
        }
        Self { width, height, rgb }
    }

    /// A part of the picture. Gives nothing where the part has no pixels or reaches beyond it.
    pub fn part(&self, left: usize, top: usize, width: usize, height: usize) -> Option<Self> {
        if left.checked_add(width)? > self.width || top.checked_add(height)? > self.height {
            return None;
        }
        let mut rgb = Vec::with_capacity(width * height * 3);
        for y in top..top + height {
            let from = (y * self.width + left) * 3;
            rgb.extend_from_slice(&self.rgb[from..from + width * 3]);
        }
        Self::new(width, height, rgb)
    }

    /// Its green channel.
    pub fn green(&self) -> Option<Grey> {
        let green = self.rgb.iter().skip(1).step_by(3).copied().collect();
        Grey::new(self.width, self.height, green)
    }
}

/// Where a point of a stored picture is in the picture turned upright by its EXIF orientation: to the right and downward.
///
/// Takes: the point, and the width and height between the outer edges that its numbers count from. For pixels that count from the
/// centre of the first one, that is one less than how many there are. A direction has no width and height.
/// Source: CIPA DC-008, tag `Orientation`.
pub fn shown_at(
    (x, y): (f64, f64),
    (width, height): (f64, f64),
    orientation: Option<u8>,
) -> (f64, f64) {
    match orientation {
        Some(2) => (width - x, y),
        Some(3) => (width - x, height - y),
        Some(4) => (x, height - y),
        Some(5) => (y, x),
        Some(6) => (height - y, x),
        Some(7) => (height - y, width - x),
        Some(8) => (y, width - x),
        _ => (x, y),
    }
}

/// In which picture places are told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Positions {
    /// As the camera stored it.
    AsStored,
    /// Turned upright by its EXIF orientation, as programs show it.
    AsShown,
}

/// The brightness sample of a small picture: the numbers by which its frame's kind is judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// Mean luminance of the middle half of its pixels, 0 black to 1 white, as the JPEG encodes it (not linear in light).
    pub level: f64,
    /// Luminance of its darkest parts: the 5th of a hundred pixels, up to a quarter of white.
    pub floor: f64,
    /// How many points are brighter than their surroundings: stars, or hot pixels.
    pub stars: f64,
    /// Fraction of its pixels on an edge: a horizon, a tree, the rim of a cloud.
    pub edges: f64,
    /// Root mean square of its light after subtraction of a plane and a radial fall-off, in stops.
    pub uneven_stops: f64,
    /// How much darker the fall-off makes the corners than the middle, in stops; negative if they are brighter.
    pub falloff_stops: f64,
    /// How much the plane rises from one side to the other, in stops.
    pub tilt_stops: f64,
    /// The edition of the measures, below 16: see [`MEASURES`].
    pub measures: u8,
}

/// The edition of the measures. Raise it if the same picture gets other numbers: samples of earlier editions are still
/// used, and pictures are measured again when a night's sessions are regrouped and the files are there.
pub const MEASURES: u8 = 2;

/// The parts of a sample in one number, from the lowest: how many bits each takes, and the value of one step.
const PARTS: [(u32, f64); 7] = [
    (10, 1.0 / 1020.0),
    (6, 1.0 / 255.0),
    (6, 0.5),
    (4, 0.5),
    (6, 1.0 / 48.0),
    (6, 1.0 / 8.0),
    (5, 1.0 / 8.0),
];

/// The first bit of the edition: above [`PARTS`].
const MEASURES_FROM: u32 = 43;

/// Added before the fall-off is stored, since it may be negative.
const FALLOFF_FROM: f64 = 4.0;

impl Look {
    /// In the units of [`PARTS`]. Counts and fractions as square roots, so that small ones are resolved better.
    fn parts(self) -> [f64; 7] {
        [
            self.level,
            self.floor,
            self.stars.max(0.0).sqrt(),
            (self.edges.max(0.0) * 1000.0).sqrt(),
            self.uneven_stops,
            self.falloff_stops + FALLOFF_FROM,
            self.tilt_stops,
        ]
    }

    /// The sample as one number below 2^47, which takes six bytes.
    #[allow(clippy::cast_possible_truncation)] // clamped
    pub fn packed(self) -> i64 {
        let mut shift = 0;
        let mut packed = i64::from(self.measures & 15) << MEASURES_FROM;
        for (part, (bits, step)) in self.parts().into_iter().zip(PARTS) {
            let most = f64::from((1_u32 << bits) - 1);
            packed |= ((part / step).round().clamp(0.0, most) as i64) << shift;
            shift += bits;
        }
        packed
    }

    /// The sample from that number.
    pub fn unpacked(packed: i64) -> Self {
        let mut shift = 0;
        let parts = PARTS.map(|(bits, step)| {
            let whole = packed >> shift & ((1 << bits) - 1);
            shift += bits;
            whole as f64 * step
        });
        let [
            level,
            floor,
            stars,
            edges,
            uneven_stops,
            falloff,
            tilt_stops,
        ] = parts;
        Self {
            level,
            floor,
            stars: (stars * stars).round(),
            edges: edges * edges / 1000.0,
            uneven_stops,
            falloff_stops: falloff - FALLOFF_FROM,
            tilt_stops,
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // four bits
            measures: (packed >> MEASURES_FROM & 15) as u8,
        }
    }

    /// Rounded as if stored in the catalogue, so that the first judgement equals every later one.
    pub fn as_kept(self) -> Self {
        Self::unpacked(self.packed())
    }
}

/// Where each of `to` new pixels begins among `from` old ones; one more for the end.
fn borders(from: usize, to: usize) -> Vec<usize> {
    (0..=to).map(|k| k * from / to).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grey(width: usize, height: usize, at: impl Fn(usize, usize) -> u8) -> Picture {
        let mut rgb = Vec::new();
        for y in 0..height {
            for x in 0..width {
                rgb.extend([at(x, y); 3]);
            }
        }
        Picture::new(width, height, rgb).unwrap()
    }

    #[test]
    fn shrinking_keeps_the_mean_and_the_shape() {
        let board = grey(400, 300, |x, y| if (x + y) % 2 == 0 { 200 } else { 100 });
        let small = board.shrunk(200);
        assert_eq!((small.width(), small.height()), (200, 150));
        assert!(small.rgb().iter().all(|b| *b == 150));
        assert_eq!(board.shrunk(400), board);
        let narrow = grey(3000, 2, |_, _| 7).shrunk(100);
        assert_eq!((narrow.width(), narrow.height()), (100, 1));
    }

    #[test]
    fn an_orientation_turns_the_picture() {
        // One white pixel in the top left corner of a picture two wide, three high.
        let corner = grey(2, 3, |x, y| if (x, y) == (0, 0) { 255 } else { 0 });
        let white = |p: &Picture| {
            let at = p.rgb().chunks(3).position(|c| c[0] == 255).unwrap();
            (at % p.width(), at / p.width())
        };
        // Row 0 is at the visual …, column 0 at the visual …: 6 is right and top, 8 left and bottom, 3 bottom and right.
        assert_eq!(white(&corner.upright(1)), (0, 0));
        assert_eq!(white(&corner.upright(2)), (1, 0));
        assert_eq!(white(&corner.upright(3)), (1, 2));
        assert_eq!(white(&corner.upright(4)), (0, 2));
        assert_eq!(white(&corner.upright(5)), (0, 0));
        assert_eq!(white(&corner.upright(6)), (2, 0));
        assert_eq!(white(&corner.upright(7)), (2, 1));
        assert_eq!(white(&corner.upright(8)), (0, 1));
        assert_eq!(corner.upright(6).width(), 3);
        // A point goes where the white pixel goes, by the centres of pixels and by their outer edges.
        for orientation in 1..=8 {
            let upright = corner.upright(orientation);
            let (x, y) = white(&upright);
            let (x, y) = (x as f64, y as f64);
            let told = Some(orientation);
            assert_eq!(shown_at((0.0, 0.0), (1.0, 2.0), told), (x, y));
            assert_eq!(shown_at((0.5, 0.5), (2.0, 3.0), told), (x + 0.5, y + 0.5));
        }
    }

    #[test]
    fn a_part_is_cut_out_and_reaches_no_further() {
        let steps = grey(4, 3, |x, y| u8::try_from(10 * y + x).unwrap());
        let part = steps.part(1, 1, 2, 2).unwrap();
        assert_eq!(part.green().unwrap().luma(), [11, 12, 21, 22]);
        assert!(steps.part(3, 0, 2, 1).is_none() && steps.part(0, 0, 0, 1).is_none());
    }

    #[test]
    fn a_look_comes_back_as_it_was_kept() {
        let look = Look {
            level: 0.123,
            floor: 0.05,
            stars: 41.0,
            edges: 0.012,
            uneven_stops: 0.31,
            falloff_stops: -0.8,
            tilt_stops: 2.2,
            measures: MEASURES,
        };
        let kept = look.as_kept();
        assert_eq!(kept.as_kept(), kept);
        assert!(look.packed() < 1 << 47, "six bytes");
        assert_eq!(kept.measures, MEASURES);
        assert!((kept.level - look.level).abs() < 0.000_5);
        assert!((kept.stars - look.stars).abs() <= 3.0);
        assert!((kept.falloff_stops - look.falloff_stops).abs() <= 0.07);
        let beyond = Look {
            level: 9.0,
            floor: -1.0,
            stars: 1e9,
            ..look
        };
        assert!(beyond.packed() < 1 << 47);
    }

    #[test]
    fn pictures_without_pixels_are_refused() {
        assert_eq!(Picture::new(0, 5, Vec::new()), None);
        assert_eq!(Picture::new(2, 2, vec![0; 11]), None);
        assert_eq!(Picture::new(usize::MAX, 2, Vec::new()), None);
    }
}
