//! What stars look like in a picture: their images, and the grey picture they are found in. Knows no sky and no lens.

/// A picture in shades of grey as the camera encoded them: a byte for each pixel, row after row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Grey {
    width: usize,
    height: usize,
    luma: Vec<u8>,
}

impl Grey {
    /// Builds a picture.
    ///
    /// Refuses: no pixels, and bytes that are not one for each pixel.
    pub fn new(width: usize, height: usize, luma: Vec<u8>) -> Option<Self> {
        let pixels = width.checked_mul(height)?;
        (pixels > 0 && pixels == luma.len()).then_some(Self {
            width,
            height,
            luma,
        })
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
    pub fn luma(&self) -> &[u8] {
        &self.luma
    }

    /// One row.
    pub fn row(&self, y: usize) -> &[u8] {
        &self.luma[y * self.width..(y + 1) * self.width]
    }

    /// The same with every square of so many pixels made one: its mean. Incomplete squares at the far edges are left out.
    pub fn binned(&self, side: usize) -> Self {
        // Two is the usual side, and three times as fast where the compiler knows it.
        if side == 2 {
            self.means(2)
        } else {
            self.means(side)
        }
    }

    #[inline(always)]
    #[allow(clippy::inline_always)] // for a side that is known
    #[allow(clippy::cast_possible_truncation)] // a mean of bytes is a byte
    fn means(&self, side: usize) -> Self {
        let (width, height) = (self.width / side.max(1), self.height / side.max(1));
        if side < 2 || width == 0 || height == 0 {
            return self.clone();
        }
        let area = (side * side) as u32;
        let mut luma = Vec::with_capacity(width * height);
        let mut sums = vec![0_u32; width];
        for y in 0..height {
            sums.fill(0);
            for line in y * side..(y + 1) * side {
                for (sum, square) in sums.iter_mut().zip(self.row(line).chunks_exact(side)) {
                    *sum += square.iter().map(|p| u32::from(*p)).sum::<u32>();
                }
            }
            luma.extend(sums.iter().map(|sum| ((sum + area / 2) / area) as u8));
        }
        Self {
            width,
            height,
            luma,
        }
    }

    /// A part of the picture. Gives nothing where the part reaches beyond it.
    pub fn part(&self, left: usize, top: usize, width: usize, height: usize) -> Option<Self> {
        if left.checked_add(width)? > self.width || top.checked_add(height)? > self.height {
            return None;
        }
        let mut luma = Vec::with_capacity(width * height);
        for y in top..top + height {
            luma.extend_from_slice(&self.row(y)[left..left + width]);
        }
        Self::new(width, height, luma)
    }
}

/// The image of one star. Pixels count from the centre of the top left one, right and down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StarImage {
    /// Its centroid, to the right.
    pub x: f64,
    /// Its centroid, downwards.
    pub y: f64,
    /// Its light, linear, 1 for a white pixel.
    pub flux: f64,
    /// How many times its height stands above the noise.
    pub significance: f64,
    /// Its width at half maximum in pixels, linear in light; `None` where the image is saturated or disturbed.
    pub width_px: Option<f64>,
    /// Whether the picture around it is as bright as the sky is, as opposed to a dark foreground.
    pub before_sky: bool,
}

/// What was found in one picture.
#[derive(Clone, Debug, PartialEq)]
pub struct StarField {
    /// Pixels in a row of the picture searched.
    pub width: usize,
    /// Its rows.
    pub height: usize,
    /// The images, brightest first.
    pub stars: Vec<StarImage>,
    /// Median level of the brighter side of the picture, 0 to 1, as the camera encoded it.
    pub sky_level: f64,
    /// Median width at half maximum in the middle of the picture, in its pixels.
    pub star_width_px: Option<f64>,
    /// The same in the corners.
    pub corner_width_px: Option<f64>,
}
