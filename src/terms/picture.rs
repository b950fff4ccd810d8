//! A small picture in memory, and how bright it is. Reads and writes no format.

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

    /// The same made small enough for a box; smaller ones stay as they are.
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

    /// The same turned as an EXIF orientation says: 3, 6 and 8 are turns, the mirrored ones are mirrored.
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

    /// How bright it is.
    pub fn look(&self) -> Look {
        let luma: Vec<u8> = self.rgb.chunks_exact(3).map(luma).collect();
        let mut counts = [0_usize; 256];
        for value in &luma {
            counts[usize::from(*value)] += 1;
        }
        let at_share = |share: f64| {
            let mut left = share * luma.len() as f64;
            let found = counts.iter().position(|count| {
                left -= *count as f64;
                left < 0.0
            });
            found.unwrap_or(255) as f64 / 255.0
        };
        Look {
            median: at_share(0.5),
            spread: at_share(0.98) - at_share(0.02),
            glint: self.glint(&luma),
        }
    }

    /// Share of pixels that stand out far above those two steps to their left, right, top and bottom: stars.
    fn glint(&self, luma: &[u8]) -> f64 {
        let (w, h) = (self.width, self.height);
        if w < 5 || h < 5 {
            return 0.0;
        }
        let mut found = 0_usize;
        for y in 2..h - 2 {
            for x in 2..w - 2 {
                let at = y * w + x;
                let around = [at - 2, at + 2, at - 2 * w, at + 2 * w];
                let highest = around.iter().map(|i| luma[*i]).max().unwrap_or(255);
                found += usize::from(luma[at] > highest.saturating_add(GLINT_STEP));
            }
        }
        found as f64 / ((w - 4) * (h - 4)) as f64
    }
}

/// How bright a picture is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// Median luminance, 0 black to 1 white, as the JPEG encodes it (not linear in light).
    pub median: f64,
    /// From the 2nd to the 98th of a hundred pixels.
    pub spread: f64,
    /// Share of pixels far brighter than their neighbourhood: stars, or noise.
    pub glint: f64,
}

/// A star stands this many steps of 255 above its surroundings.
const GLINT_STEP: u8 = 20;

/// Source: ITU-R BT.601 (from memory), the luminance that JPEG files use.
fn luma(pixel: &[u8]) -> u8 {
    let weighted =
        299 * u32::from(pixel[0]) + 587 * u32::from(pixel[1]) + 114 * u32::from(pixel[2]);
    u8::try_from((weighted + 500) / 1000).unwrap_or(u8::MAX)
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
    }

    #[test]
    fn a_dark_is_black_a_flat_is_even_a_sky_has_stars() {
        let dark = grey(60, 40, |_, _| 1).look();
        assert!(dark.median < 0.01 && dark.spread < 0.01 && dark.glint == 0.0);
        let flat = grey(60, 40, |x, _| 140 + u8::try_from(x / 6).unwrap()).look();
        assert!((0.5..0.62).contains(&flat.median) && flat.spread < 0.1 && flat.glint == 0.0);
        let sky = grey(
            60,
            40,
            |x, y| if x % 10 == 5 && y % 10 == 5 { 220 } else { 30 },
        )
        .look();
        assert!(sky.glint > 0.005 && sky.median > 0.1);
    }

    #[test]
    fn pictures_without_pixels_are_refused() {
        assert_eq!(Picture::new(0, 5, Vec::new()), None);
        assert_eq!(Picture::new(2, 2, vec![0; 11]), None);
        assert_eq!(Picture::new(usize::MAX, 2, Vec::new()), None);
    }
}
