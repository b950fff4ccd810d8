//! Coordinates as people write them. Refuses ambiguous signs; never swaps latitude and longitude.

/// Which of the two coordinates is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Axis {
    /// North and south.
    Latitude,
    /// East and west.
    Longitude,
}

impl Axis {
    const fn word(self) -> &'static str {
        match self {
            Self::Latitude => "latitude",
            Self::Longitude => "longitude",
        }
    }

    const fn bound(self) -> f64 {
        match self {
            Self::Latitude => 90.0,
            Self::Longitude => 180.0,
        }
    }

    /// The sign that a letter means on this axis.
    const fn sign(self, letter: char) -> Option<f64> {
        match (self, letter.to_ascii_uppercase()) {
            (Self::Latitude, 'N') | (Self::Longitude, 'E') => Some(1.0),
            (Self::Latitude, 'S') | (Self::Longitude, 'W') => Some(-1.0),
            _ => None,
        }
    }
}

/// Parses a coordinate: `-31.45`, `31.45S`, `31°27'S`, `31° 27' 00" S`, `S 31 27 0`.
///
/// Gives: degrees, north or east positive.
/// Refuses, with the reason and what was probably meant: a letter of the other axis, a sign and a letter at once,
/// minutes or seconds of 60 or more, a fraction on any part but the last, a value off the Earth.
pub fn parse_coordinate(text: &str, axis: Axis) -> Result<f64, String> {
    let what = axis.word();
    let mut sign_of_letter = None;
    let mut numbers = String::new();
    for c in text.trim().chars() {
        match c {
            'n' | 'N' | 's' | 'S' | 'e' | 'E' | 'w' | 'W' => {
                if sign_of_letter.is_some() {
                    return Err(format!("{what} '{text}' names two directions"));
                }
                let Some(sign) = axis.sign(c) else {
                    return Err(format!(
                        "'{text}' points {}, so it is not a {what}; were latitude and longitude \
                         swapped?",
                        direction(c)
                    ));
                };
                sign_of_letter = Some(sign);
            }
            // The signs for degrees, minutes, seconds as usually typed; the order of the parts decides.
            '°' | 'º' | '\'' | '’' | '′' | '"' | '”' | '″' | ':' | ' ' => {
                numbers.push(' ');
            }
            '0'..='9' | '.' | '-' | '+' => numbers.push(c),
            '−' => numbers.push('-'),
            ',' => {
                return Err(format!(
                    "{what} '{text}' has a comma; write a decimal point, and each coordinate \
                     separately"
                ));
            }
            other => {
                return Err(format!(
                    "{what} '{text}' has '{other}' in it; write it like 31.45 or 31°27'S"
                ));
            }
        }
    }
    let parts: Vec<&str> = numbers.split_whitespace().collect();
    if parts.is_empty() || parts.len() > 3 {
        return Err(format!(
            "{what} '{text}' is not a coordinate; write it like -31.45 or 31°27'S"
        ));
    }
    let signed = parts[0].starts_with(['-', '+']);
    if signed && sign_of_letter.is_some() {
        return Err(format!(
            "{what} '{text}' has both a sign and a direction; leave one out"
        ));
    }
    let mut degrees = 0.0;
    let mut scale = 1.0;
    for (i, part) in parts.iter().enumerate() {
        let last = i + 1 == parts.len();
        let value: f64 = part
            .trim_start_matches(['-', '+'])
            .parse()
            .map_err(|_| format!("'{part}' in {what} '{text}' is not a number"))?;
        if i > 0 && (value >= 60.0 || part.starts_with(['-', '+'])) {
            return Err(format!(
                "'{part}' in {what} '{text}' cannot be minutes or seconds"
            ));
        }
        if !last && value.fract() != 0.0 {
            return Err(format!(
                "only the last part of {what} '{text}' may have a fraction"
            ));
        }
        degrees += value / scale;
        scale *= 60.0;
    }
    if degrees > axis.bound() {
        let hint = match axis {
            Axis::Latitude if degrees <= 180.0 => "; were latitude and longitude swapped?",
            _ => "",
        };
        return Err(format!("{what} '{text}' is beyond {}°{hint}", axis.bound()));
    }
    let sign = if parts[0].starts_with('-') {
        -1.0
    } else {
        sign_of_letter.unwrap_or(1.0)
    };
    Ok(sign * degrees)
}

const fn direction(letter: char) -> &'static str {
    match letter.to_ascii_uppercase() {
        'N' => "north",
        'S' => "south",
        'E' => "east",
        _ => "west",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_writings_agree() {
        for text in [
            "-31.45",
            "31.45S",
            "31.45 s",
            "31°27'S",
            "31° 27' 00\" S",
            "S 31 27 0",
            "−31.45",
            "31:27:00S",
        ] {
            let lat = parse_coordinate(text, Axis::Latitude).unwrap();
            assert!((lat + 31.45).abs() < 1e-12, "{text}");
        }
        let lon = parse_coordinate("70°43'12\"W", Axis::Longitude).unwrap();
        assert!((lon + 70.72).abs() < 1e-12);
    }

    #[test]
    fn doubtful_writings_are_refused_with_a_reason() {
        for (text, axis, reason) in [
            ("70.72W", Axis::Latitude, "swapped"),
            ("120", Axis::Latitude, "swapped"),
            ("200", Axis::Longitude, "beyond"),
            ("-31.45S", Axis::Latitude, "both a sign and a direction"),
            ("31 75", Axis::Latitude, "minutes or seconds"),
            ("31.5 30", Axis::Latitude, "fraction"),
            ("31,45", Axis::Latitude, "comma"),
            ("", Axis::Latitude, "not a coordinate"),
            ("abc", Axis::Longitude, "has 'a' in it"),
            ("1e5", Axis::Latitude, "swapped"),
            ("NaN", Axis::Latitude, "has 'a' in it"),
        ] {
            let said = parse_coordinate(text, axis).unwrap_err();
            assert!(said.contains(reason), "{text}: {said}");
        }
    }
}
