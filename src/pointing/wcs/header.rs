//! What a header says of pixels and sky. Fits nothing.

use crate::pointing::vector::Vector;
use crate::pointing::wcs::cards::Cards;
use crate::pointing::wcs::projection::Plane;
use crate::pointing::wcs::projection::Zenithal;

/// The highest power of a distortion polynomial.
const MOST_POWERS: i32 = 9;

/// From pixels to directions among the stars. Pixels as in FITS: the centre of the first one is 1, 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Wcs {
    /// Pixels in a row and rows, where the header has them.
    pub size: Option<(f64, f64)>,
    reference: (f64, f64),
    /// Rows: towards x, towards y; degrees a pixel.
    scale: [[f64; 2]; 2],
    projection: Zenithal,
    plane: Plane,
    /// Powers of the two pixel coordinates, and what is added to each.
    distortion: [Vec<(i32, i32, f64)>; 2],
}

/// The first header of a file that says where pixels are on the sky.
///
/// Refuses: none does, a projection that is not zenithal, coordinates other than right ascension and declination of ICRS or FK5
/// at 2000.0.
pub fn wcs_of(headers: &[Cards]) -> Result<Wcs, String> {
    let first = headers
        .iter()
        .find(|cards| cards.text("CTYPE1").is_some() && cards.text("CTYPE2").is_some())
        .ok_or("no header in it has CTYPE1 and CTYPE2: it holds no solution of a picture")?;
    read(first)
}

fn read(cards: &Cards) -> Result<Wcs, String> {
    let kinds = [1, 2].map(|axis| cards.text(&format!("CTYPE{axis}")).unwrap_or_default());
    let axis_of = |name: &str| {
        kinds
            .iter()
            .position(|kind| kind.split('-').next() == Some(name))
            .ok_or(format!(
                "its axes are {} and {}, not right ascension and declination",
                kinds[0], kinds[1]
            ))
    };
    let (right, north) = (axis_of("RA")?, axis_of("DEC")?);
    let projections = [right, north].map(|axis| projection_name(kinds[axis]));
    let (name, suffix) = projections[0].clone();
    if projections[0] != projections[1] {
        return Err(format!(
            "its axes {} and {} do not fit each other",
            kinds[0], kinds[1]
        ));
    }
    let projection = Zenithal::named(&name).ok_or(format!(
        "its projection {name} is not one of TAN, ZPN, STG, ARC, ZEA, SIN"
    ))?;
    if !matches!(suffix.as_str(), "" | "SIP") {
        return Err(format!("its distortion {suffix} is not known; SIP is"));
    }
    is_icrs(cards)?;
    let units = [right, north].map(|axis| cards.text(&format!("CUNIT{}", axis + 1)));
    if let Some(unit) = units
        .into_iter()
        .flatten()
        .find(|unit| !matches!(*unit, "" | "deg"))
    {
        return Err(format!("its axes are in '{unit}', not in degrees"));
    }
    let number = |keyword: &str| {
        cards
            .number(keyword)
            .ok_or(format!("its header lacks a number for {keyword}"))
    };
    let projection = with_parameters(projection, cards, north + 1, right + 1)?;
    let (ra, dec) = (
        number(&format!("CRVAL{}", right + 1))?,
        number(&format!("CRVAL{}", north + 1))?,
    );
    if !(-90.0..=90.0).contains(&dec) {
        return Err(format!("its declination {dec} is beyond the pole"));
    }
    let pole = cards
        .number("LONPOLE")
        .or(cards.number(&format!("PV{}_3", right + 1)))
        .unwrap_or(if dec >= 90.0 { 0.0 } else { 180.0 });
    let scale = scale(cards, (right, north))?;
    if (scale[0][0] * scale[1][1] - scale[0][1] * scale[1][0]).abs() < 1e-18 {
        return Err("its matrix of pixels and sky is singular".to_owned());
    }
    let distortion = if suffix == "SIP" {
        [polynomial(cards, 'A')?, polynomial(cards, 'B')?]
    } else {
        [Vec::new(), Vec::new()]
    };
    Ok(Wcs {
        size: size(cards),
        reference: (number("CRPIX1")?, number("CRPIX2")?),
        scale,
        projection,
        plane: Plane::at(ra.to_radians(), dec.to_radians(), pole.to_radians()),
        distortion,
    })
}

/// `RA---TAN-SIP` -> `TAN`, `SIP`.
fn projection_name(kind: &str) -> (String, String) {
    let mut parts = kind.split('-').filter(|part| !part.is_empty()).skip(1);
    let mut part = || parts.next().unwrap_or_default().trim().to_owned();
    (part(), part())
}

/// Width and height: of the picture that follows, of the compressed one, or as solvers write for a picture that does not follow
/// (`IMAGEW`, `IMAGEH`: common practice, no source).
fn size(cards: &Cards) -> Option<(f64, f64)> {
    [
        ("ZNAXIS1", "ZNAXIS2"),
        ("NAXIS1", "NAXIS2"),
        ("IMAGEW", "IMAGEH"),
    ]
    .into_iter()
    .find_map(|(width, height)| cards.number(width).zip(cards.number(height)))
    .filter(|(width, height)| *width >= 1.0 && *height >= 1.0)
}

fn is_icrs(cards: &Cards) -> Result<(), String> {
    let named = cards.text("RADESYS").or(cards.text("RADECSYS"));
    let equinox = cards.number("EQUINOX").or(cards.number("EPOCH"));
    match (named, equinox) {
        (Some("ICRS"), _) | (None | Some("FK5" | ""), None | Some(2000.0)) => Ok(()),
        (None | Some("FK5" | ""), Some(equinox)) => Err(format!(
            "its places are of the equinox {equinox}, not 2000.0"
        )),
        (Some(other), _) => Err(format!("its places are {other}, not ICRS or FK5")),
    }
}

fn with_parameters(
    projection: Zenithal,
    cards: &Cards,
    north: usize,
    right: usize,
) -> Result<Zenithal, String> {
    let parameter = |axis: usize, number: usize| cards.number(&format!("PV{axis}_{number}"));
    let set = |axis: usize, number: usize| parameter(axis, number).unwrap_or(0.0) != 0.0;
    // A reference point that is not the pole of the projection, and its offset.
    let moved = set(right, 0)
        || set(right, 1)
        || parameter(right, 2).is_some_and(|deg| deg.min((deg - 90.0).abs()).abs() > 1e-9);
    if moved && !matches!(projection, Zenithal::Gnomonic) {
        return Err(
            "its reference point is not the middle of its projection (PV1_1, PV1_2)".to_owned(),
        );
    }
    match projection {
        Zenithal::Polynomial(_) => {
            let mut powers: Vec<f64> = (0..30).map(|power| parameter(north, power).unwrap_or(0.0)).collect();
            while powers.last() == Some(&0.0) {
                powers.pop();
            }
            if powers.len() < 2 {
                return Err("its ZPN has no polynomial (PV2_1 and so on)".to_owned());
            }
            Ok(Zenithal::Polynomial(powers))
        }
        Zenithal::Gnomonic if moved || (0..40).any(|number| set(north, number)) => Err(
            "its TAN has parameters (PV1_1 and so on) that the standard does not know; save it with SIP".to_owned(),
        ),
        Zenithal::Orthographic if set(north, 1) || set(north, 2) => {
            Err("its SIN is slanted (PV2_1, PV2_2)".to_owned())
        }
        other => Ok(other),
    }
}

/// Degrees a pixel: `CDi_j`, or `PCi_j` with `CDELTi`, or `CROTA2` with `CDELTi`.
fn scale(cards: &Cards, (right, north): (usize, usize)) -> Result<[[f64; 2]; 2], String> {
    let element =
        |name: &str, i: usize, j: usize| cards.number(&format!("{name}{}_{}", i + 1, j + 1));
    let both = [0, 1].map(|i| [0, 1].map(|j| element("CD", i, j)));
    let matrix = if both.iter().flatten().any(Option::is_some) {
        both.map(|row| row.map(Option::unwrap_or_default))
    } else {
        let step = [1, 2].map(|axis| cards.number(&format!("CDELT{axis}")));
        let [Some(first), Some(second)] = step else {
            return Err("its header has neither CD1_1 nor CDELT1 and CDELT2".to_owned());
        };
        let turn = [0, 1].map(|i| [0, 1].map(|j| element("PC", i, j)));
        if turn.iter().flatten().any(Option::is_some) || cards.number("CROTA2").is_none() {
            let pc = |i: usize, j: usize| turn[i][j].unwrap_or(if i == j { 1.0 } else { 0.0 });
            [
                [first * pc(0, 0), first * pc(0, 1)],
                [second * pc(1, 0), second * pc(1, 1)],
            ]
        } else {
            let (sin, cos) = cards.number("CROTA2").unwrap_or(0.0).to_radians().sin_cos();
            [[first * cos, -second * sin], [first * sin, second * cos]]
        }
    };
    Ok([matrix[right], matrix[north]])
}

fn polynomial(cards: &Cards, letter: char) -> Result<Vec<(i32, i32, f64)>, String> {
    let order = cards.number(&format!("{letter}_ORDER")).unwrap_or(0.0);
    #[allow(clippy::cast_possible_truncation)] // checked
    let order = if (0.0..=f64::from(MOST_POWERS)).contains(&order) {
        order as i32
    } else {
        return Err(format!(
            "its {letter}_ORDER {order} is not between 0 and {MOST_POWERS}"
        ));
    };
    let mut terms = Vec::new();
    for p in 0..=order {
        for q in 0..=order - p {
            let value = cards.number(&format!("{letter}_{p}_{q}")).unwrap_or(0.0);
            if value != 0.0 {
                terms.push((p, q, value));
            }
        }
    }
    Ok(terms)
}

impl Wcs {
    /// The ICRS direction of a pixel. Gives nothing where the projection does not reach.
    pub fn direction(&self, (x, y): (f64, f64)) -> Option<Vector> {
        let (u, v) = (x - self.reference.0, y - self.reference.1);
        let added = |terms: &[(i32, i32, f64)]| {
            terms
                .iter()
                .map(|(p, q, by)| by * u.powi(*p) * v.powi(*q))
                .sum::<f64>()
        };
        let (u, v) = (
            u + added(&self.distortion[0]),
            v + added(&self.distortion[1]),
        );
        let along = |row: [f64; 2]| row[0] * u + row[1] * v;
        let (x, y) = (along(self.scale[0]), along(self.scale[1]));
        let angle = self.projection.angle(x.hypot(y).to_radians())?;
        Some(self.plane.direction(angle, (x, y)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pointing::wcs::cards::headers;

    fn wcs(text: &str) -> Result<Wcs, String> {
        wcs_of(&headers(text.as_bytes()).unwrap())
    }

    const PLAIN: &str = "CTYPE1  = 'RA---TAN'\nCTYPE2  = 'DEC--TAN'\nCRVAL1  = 10.0\nCRVAL2  = 20.0\nCRPIX1  = 5.0\nCRPIX2  = 5.0\n";

    #[test]
    fn what_cannot_be_read_is_refused_in_words() {
        assert!(wcs(&format!("{PLAIN}CD1_1   = -0.01\nCD2_2   = 0.01\n")).is_ok());
        for (more, word) in [
            ("", "CD1_1"),
            ("CD1_1   = 0.01\n", "singular"),
            (
                "CDELT1  = -0.01\nCDELT2  = 0.01\nEQUINOX = 1950.0\n",
                "1950",
            ),
            ("CDELT1  = -0.01\nCDELT2  = 0.01\nRADESYS = 'FK4'\n", "FK4"),
            ("CDELT1  = -0.01\nCDELT2  = 0.01\nCUNIT1  = 'rad'\n", "rad"),
            ("CDELT1  = -0.01\nCDELT2  = 0.01\nPV2_5   = 0.1\n", "SIP"),
        ] {
            let why = wcs(&format!("{PLAIN}{more}")).unwrap_err();
            assert!(why.contains(word), "{why}");
        }
        let galactic = PLAIN
            .replace("RA---TAN", "GLON-TAN")
            .replace("DEC--TAN", "GLAT-TAN");
        assert!(wcs(&galactic).unwrap_err().contains("right ascension"));
        let other = PLAIN.replace("TAN", "CAR");
        assert!(wcs(&other).unwrap_err().contains("CAR"));
        assert!(wcs("A       = 1\n").unwrap_err().contains("no solution"));
    }
}
