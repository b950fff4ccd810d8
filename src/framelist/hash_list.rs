//! Lists of hashes as stock tools write and check them. Reads and writes text, no file.
//!
//! Source: the manual of GNU coreutils, "cksum general options" and `sha256sum`: 64 hexadecimal digits, a blank, a blank or
//! `*`, the name. In a line that begins with a backslash, `\\`, `\n` and `\r` in the name stand for a backslash, a newline and
//! a carriage return. `b3sum` writes the same form.

use std::io;
use std::io::Write;

use crate::terms::hex::bytes_of_hex;
use crate::terms::hex::push_hex;

/// One line of a list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ListedHash {
    /// The hash: of which kind, the list does not say.
    pub hash: [u8; 32],
    /// The name, byte for byte.
    pub name: Vec<u8>,
}

/// Writes one line.
pub fn write_line(out: &mut dyn Write, hash: &[u8; 32], name: &[u8]) -> io::Result<()> {
    let is_odd = |byte: &u8| matches!(byte, b'\\' | b'\n' | b'\r');
    let mut line = String::with_capacity(68);
    if name.iter().any(is_odd) {
        line.push('\\');
    }
    push_hex(&mut line, hash);
    line.push_str("  ");
    out.write_all(line.as_bytes())?;
    for part in name.split_inclusive(is_odd) {
        let (plain, odd) = match part.split_last() {
            Some((last, plain)) if is_odd(last) => (plain, Some(*last)),
            _ => (part, None),
        };
        out.write_all(plain)?;
        out.write_all(match odd {
            Some(b'\\') => b"\\\\",
            Some(b'\n') => b"\\n",
            Some(_) => b"\\r",
            None => b"",
        })?;
    }
    out.write_all(b"\n")
}

/// Reads a list; what was read, and how many lines are not of this form. Empty lines and lines that begin with `#` are
/// neither.
pub fn read_list(text: &[u8]) -> (Vec<ListedHash>, u64) {
    let mut listed = Vec::new();
    let mut others = 0;
    for line in text.split(|byte| *byte == b'\n') {
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        if line.is_empty() || line.starts_with(b"#") {
            continue;
        }
        match read_line(line) {
            Some(one) => listed.push(one),
            None => others += 1,
        }
    }
    (listed, others)
}

fn read_line(line: &[u8]) -> Option<ListedHash> {
    let (escaped, line) = match line.strip_prefix(b"\\") {
        Some(rest) => (true, rest),
        None => (false, line),
    };
    let (digits, rest) = line.split_at_checked(64)?;
    let name = rest
        .strip_prefix(b"  ")
        .or_else(|| rest.strip_prefix(b" *"))?;
    let hash = bytes_of_hex(digits)?.try_into().ok()?;
    let name = if escaped {
        unescaped(name)?
    } else {
        name.to_vec()
    };
    (!name.is_empty()).then_some(ListedHash { hash, name })
}

fn unescaped(name: &[u8]) -> Option<Vec<u8>> {
    let mut plain = Vec::with_capacity(name.len());
    let mut rest = name.iter();
    while let Some(byte) = rest.next() {
        plain.push(match byte {
            b'\\' => match rest.next()? {
                b'\\' => b'\\',
                b'n' => b'\n',
                b'r' => b'\r',
                _ => return None,
            },
            other => *other,
        });
    }
    Some(plain)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_forms_of_the_manual() {
        let digits = "00".repeat(31) + "Ab";
        let text = format!(
            "# made elsewhere\n{digits}  a b\n{digits} *binary\r\n\\{digits}  new\\nline\\\\\n\n{digits} one blank\nno hash\n"
        );
        let (listed, others) = read_list(text.as_bytes());
        let names: Vec<&[u8]> = listed.iter().map(|one| one.name.as_slice()).collect();
        assert_eq!(names, [&b"a b"[..], b"binary", b"new\nline\\"]);
        assert_eq!(listed[0].hash[31], 0xAB);
        assert_eq!(others, 2);
    }

    proptest! {
        #[test]
        fn every_name_reads_back(
            name in proptest::collection::vec(1_u8.., 1..40),
            hash in any::<[u8; 32]>(),
        ) {
            let mut line = Vec::new();
            write_line(&mut line, &hash, &name).unwrap();
            prop_assert_eq!(line.iter().position(|byte| *byte == b'\n'), Some(line.len() - 1));
            let (listed, others) = read_list(&line);
            prop_assert_eq!(others, 0);
            prop_assert_eq!(listed, vec![ListedHash { hash, name }]);
        }
    }
}
