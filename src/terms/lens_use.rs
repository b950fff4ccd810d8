//! How a lens draws stars at one focal length and aperture. Fields, no formulas.

/// A lens at one focal length and aperture.
#[derive(Clone, Debug, PartialEq)]
pub struct LensUse {
    /// Its name, where the body wrote one.
    pub lens: Option<String>,
    /// Focal length, as written or stated.
    pub focal_mm: Option<f64>,
    /// Aperture.
    pub f_number: Option<f64>,
    /// Frames taken so.
    pub frames: u64,
    /// Those whose stars were measured in the middle and in the corners.
    pub measured: u64,
    /// Median width of star images in the middle over them, in pixels of the full picture.
    pub star_width_px: Option<f64>,
    /// The same in the corners.
    pub corner_width_px: Option<f64>,
}

impl LensUse {
    /// How many times as wide stars are in the corners as in the middle.
    pub fn corner_ratio(&self) -> Option<f64> {
        let middle = self.star_width_px.filter(|px| *px > 0.0)?;
        Some(self.corner_width_px? / middle)
    }
}
