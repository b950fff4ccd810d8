//! Pictures in the page: compressed and encoded as text. Loads nothing.

use jpeg_encoder::ColorType;
use jpeg_encoder::Encoder;

use crate::terms::picture::Picture;

/// JPEG quality, of 100.
const QUALITY: u8 = 72;

/// A picture as a data URL: a JPEG in base 64, its longer side at most `side` pixels.
///
/// Gives: nothing if it has more pixels than a JPEG can hold.
pub fn address(picture: &Picture, side: u16) -> Option<String> {
    let small = picture.shrunk(usize::from(side));
    let mut jpeg = Vec::with_capacity(16 * 1024);
    Encoder::new(&mut jpeg, QUALITY)
        .encode(
            small.rgb(),
            u16::try_from(small.width()).ok()?,
            u16::try_from(small.height()).ok()?,
            ColorType::Rgb,
        )
        .ok()?;
    Some(format!("data:image/jpeg;base64,{}", base64(&jpeg)))
}

/// Source: RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let byte = |at: usize| u32::from(three.get(at).copied().unwrap_or(0));
        let bits = byte(0) << 16 | byte(1) << 8 | byte(2);
        for k in 0..4 {
            if k > three.len() {
                text.push('=');
            } else {
                let letter = LETTERS[(bits >> (18 - 6 * k) & 63) as usize];
                text.push(char::from(letter));
            }
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4648, section 10.
    #[test]
    fn base64_as_its_own_test_vectors_have_it() {
        for (plain, coded) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }
}
