//! Bytes as hexadecimal digits, two per byte.

const DIGITS: [char; 16] = [
    '0', '1', '2', '3', '4', '5', '6', '7', '8', '9', 'a', 'b', 'c', 'd', 'e', 'f',
];

/// The digits of some bytes.
pub fn hex(bytes: &[u8]) -> String {
    let mut digits = String::with_capacity(bytes.len() * 2);
    push_hex(&mut digits, bytes);
    digits
}

/// Appends the digits of some bytes.
pub fn push_hex(line: &mut String, bytes: &[u8]) {
    for byte in bytes {
        line.push(DIGITS[usize::from(byte >> 4)]);
        line.push(DIGITS[usize::from(byte & 15)]);
    }
}

/// The bytes of some digits; `None` if there is anything else, or half a byte.
pub fn bytes_of_hex(digits: &[u8]) -> Option<Vec<u8>> {
    let value = |digit: &u8| char::from(*digit).to_digit(16);
    let (pairs, rest) = digits.as_chunks::<2>();
    let byte = |[high, low]: &[u8; 2]| u8::try_from(value(high)? * 16 + value(low)?).ok();
    rest.is_empty()
        .then(|| pairs.iter().map(byte).collect())
        .flatten()
}
