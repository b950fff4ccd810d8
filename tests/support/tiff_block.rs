//! Hand-made TIFF blocks of either byte order, with every part at a chosen position.

// Each test uses a part of this.
#![allow(dead_code)]

/// One entry of a hand-made directory: number, type, bytes in big-endian order, bytes of one piece.
pub type Made = (u16, u16, Vec<u8>, usize);

pub fn ascii(id: u16, text: &str) -> Made {
    let mut raw = text.as_bytes().to_vec();
    raw.push(0);
    (id, 2, raw, 1)
}

pub fn rational(id: u16, numbers: &[(u32, u32)]) -> Made {
    let raw = numbers
        .iter()
        .flat_map(|(n, d)| [n.to_be_bytes(), d.to_be_bytes()].concat())
        .collect();
    (id, 5, raw, 4)
}

pub fn short(id: u16, number: u16) -> Made {
    (id, 3, number.to_be_bytes().to_vec(), 2)
}

pub fn long(id: u16, number: u32) -> Made {
    (id, 4, number.to_be_bytes().to_vec(), 4)
}

/// Lays out IFD0, Exif and GPS in either byte order, with gaps, entries as given. Source: TIFF 6.0 §2.
pub fn lay_out(big: bool, gap: usize, directories: &[Vec<Made>; 3]) -> Vec<u8> {
    let order = |mut raw: Vec<u8>, piece: usize| {
        if !big {
            raw.chunks_mut(piece).for_each(<[u8]>::reverse);
        }
        raw
    };
    let table = |d: &Vec<Made>| 2 + 12 * d.len() + 4;
    let mut starts = [0; 3];
    let mut at = 8;
    for (start, directory) in starts.iter_mut().zip(directories) {
        *start = at;
        at += table(directory) + gap;
    }
    let mut out = vec![0; at];
    out[..4].copy_from_slice(if big { b"MM\0\x2A" } else { b"II\x2A\0" });
    out[4..8].copy_from_slice(&order(8_u32.to_be_bytes().to_vec(), 4));
    for (start, directory) in starts.into_iter().zip(directories) {
        let count = u16::try_from(directory.len()).unwrap();
        out[start..start + 2].copy_from_slice(&order(count.to_be_bytes().to_vec(), 2));
        for (i, (id, kind, raw, piece)) in directory.iter().enumerate() {
            let raw = match id {
                0x8769 => u32::try_from(starts[1]).unwrap().to_be_bytes().to_vec(),
                0x8825 => u32::try_from(starts[2]).unwrap().to_be_bytes().to_vec(),
                _ => raw.clone(),
            };
            let size = if *kind == 5 { 8 } else { *piece };
            let count = u32::try_from(raw.len() / size).unwrap();
            let mut word = order(raw.clone(), *piece);
            if word.len() > 4 {
                let at = u32::try_from(out.len()).unwrap();
                out.extend(&word);
                out.resize(out.len() + gap, 0xEE);
                word = order(at.to_be_bytes().to_vec(), 4);
            }
            word.resize(4, 0);
            let entry = [
                order(id.to_be_bytes().to_vec(), 2),
                order(kind.to_be_bytes().to_vec(), 2),
                order(count.to_be_bytes().to_vec(), 4),
                word,
            ]
            .concat();
            let at = start + 2 + 12 * i;
            out[at..at + 12].copy_from_slice(&entry);
        }
    }
    out
}

pub fn made_directories() -> [Vec<Made>; 3] {
    [
        vec![
            long(0x0100, 6000),
            long(0x0101, 4000),
            ascii(0x010F, "Umbra"),
            ascii(0x0110, "Umbra N7"),
            short(0x0112, 6),
            ascii(0x0132, "2023:12:15 09:00:00"),
            long(0x8769, 0),
            long(0x8825, 0),
        ],
        vec![
            rational(0x829A, &[(15, 1)]),
            rational(0x829D, &[(28, 10)]),
            short(0x8827, 3200),
            ascii(0x9003, "2023:12:14 01:12:07"),
            ascii(0x9011, "-03:30"),
            ascii(0x9291, "25"),
            rational(0x920A, &[(20, 1)]),
            ascii(0xA431, "0042"),
            ascii(0xA434, "20mm f/1.8"),
        ],
        vec![
            ascii(1, "S"),
            rational(2, &[(31, 1), (27, 1), (0, 1)]),
            ascii(3, "W"),
            rational(4, &[(70, 1), (43, 1), (12, 1)]),
            (5, 1, vec![0], 1),
            rational(6, &[(24_005, 10)]),
            rational(7, &[(4, 1), (42, 1), (6, 1)]),
            ascii(0x1D, "2023:12:14"),
        ],
    ]
}
