//! Encoded values of pictures and linear light, both from 0 black to 1 white.

/// An encoded value in linear light. Source: IEC 61966-2-1 (from memory).
pub fn linear(encoded: f64) -> f64 {
    if encoded <= 0.040_45 {
        encoded / 12.92
    } else {
        ((encoded + 0.055) / 1.055).powf(2.4)
    }
}

/// Linear light as encoded: the reverse of [`linear`].
pub fn encoded(linear: f64) -> f64 {
    if linear <= 0.040_45 / 12.92 {
        linear * 12.92
    } else {
        1.055 * linear.powf(1.0 / 2.4) - 0.055
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_undoes_the_other() {
        for step in 0..=255 {
            let value = f64::from(step) / 255.0;
            assert!((encoded(linear(value)) - value).abs() < 1e-4, "{step}");
        }
        // Source: IEC 61966-2-1 (from memory): half of white is encoded as 188 of 255.
        assert!((encoded(0.5) * 255.0 - 188.0).abs() < 0.5);
    }
}
