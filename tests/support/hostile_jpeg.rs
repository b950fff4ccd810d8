//! Progressive JPEG files with false claims. Grey or of three equal components; every coefficient is zero.

/// A JPEG and its claims.
#[derive(Clone, Copy, Debug)]
pub struct Claimed {
    /// Pixels in a row.
    pub width: u16,
    /// Rows.
    pub height: u16,
    /// Components: 1 or 3.
    pub components: u8,
    /// Scans through all of the picture.
    pub scans: usize,
    /// Bytes of coded zeros in the first scan; in the others there are none, which decoders take for zeros.
    pub coded: usize,
}

/// The file.
///
/// Source: ITU-T T.81, annexes B and G.
pub fn claiming(claimed: Claimed) -> Vec<u8> {
    let mut jpeg = vec![0xFF, 0xD8];
    let mut segment = |marker: u8, body: &[u8]| {
        let length = u16::try_from(body.len() + 2).unwrap().to_be_bytes();
        jpeg.extend([0xFF, marker]);
        jpeg.extend(length);
        jpeg.extend_from_slice(body);
    };
    segment(0xDB, &[&[0][..], &[1; 64]].concat());
    let size = [claimed.height.to_be_bytes(), claimed.width.to_be_bytes()].concat();
    let parts: Vec<u8> = (1..=claimed.components)
        .flat_map(|id| [id, 0x11, 0])
        .collect();
    segment(
        0xC2,
        &[&[8][..], &size, &[claimed.components], &parts].concat(),
    );
    // One code, of one bit, for "no difference" of a mean and for "nothing more" of the rest.
    let one_code = |class: u8| {
        let mut table = vec![class, 1];
        table.extend([0; 15]);
        table.push(0);
        table
    };
    segment(0xC4, &[one_code(0x00), one_code(0x10)].concat());
    for scan in 0..claimed.scans {
        // Means together; what comes after them one component at a time.
        let (parts, spectrum) = if scan == 0 {
            ((1..=claimed.components).collect(), [0, 0, 0])
        } else {
            (vec![1], [1, 63, 0])
        };
        let count = u8::try_from(parts.len()).unwrap();
        let parts: Vec<u8> = parts.into_iter().flat_map(|id| [id, 0]).collect();
        let header = [&[count][..], &parts, &spectrum].concat();
        jpeg.extend([0xFF, 0xDA]);
        jpeg.extend(u16::try_from(header.len() + 2).unwrap().to_be_bytes());
        jpeg.extend(header);
        let coded = if scan == 0 { claimed.coded.max(1) } else { 1 };
        jpeg.extend(std::iter::repeat_n(0, coded));
    }
    jpeg.extend([0xFF, 0xD9]);
    jpeg
}
