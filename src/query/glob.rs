//! Globs: `*` is any text, `?` any one character. As an SQL pattern, and matched against a word. Knows no fields.

/// The same pattern for SQL's `LIKE … ESCAPE '\'`.
pub(super) fn to_like(glob: &str) -> String {
    let mut like = String::with_capacity(glob.len() + 8);
    let mut star_before = false;
    for sign in glob.chars() {
        match sign {
            // Two stars match the same as one, only slower.
            '*' if star_before => {}
            '*' => like.push('%'),
            '?' => like.push('_'),
            '%' | '_' | '\\' => like.extend(['\\', sign]),
            _ => like.push(sign),
        }
        star_before = sign == '*';
    }
    like
}

/// Whether a word matches, ignoring the case of A to Z.
pub(super) fn fits(glob: &str, word: &str) -> bool {
    // One row of the table "the first i characters of the glob match the first j characters of the word".
    let word: Vec<char> = word.chars().collect();
    let mut row: Vec<bool> = (0..=word.len()).map(|j| j == 0).collect();
    for sign in glob.chars() {
        if sign == '*' {
            for j in 1..row.len() {
                row[j] = row[j] || row[j - 1];
            }
            continue;
        }
        for j in (1..row.len()).rev() {
            row[j] = row[j - 1] && (sign == '?' || sign.eq_ignore_ascii_case(&word[j - 1]));
        }
        row[0] = false;
    }
    row.last().copied().unwrap_or(false)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_glob_becomes_a_like_pattern_with_its_own_signs_escaped() {
        for (glob, like) in [
            ("NITE*.ARW", "NITE%.ARW"),
            ("IMG_????.*", r"IMG\_____.%"),
            ("100%\\x", r"100\%\\x"),
            ("a***b**", "a%b%"),
            ("", ""),
        ] {
            assert_eq!(to_like(glob), like);
        }
    }

    #[test]
    fn globs_fit_words() {
        for (glob, word, fit) in [
            ("cr*", "cr2", true),
            ("CR?", "cr3", true),
            ("cr?", "crw2", false),
            ("*", "", true),
            ("?", "", false),
            ("?", "é", true),
            ("", "", true),
            ("", "a", false),
            ("*-*a", "no-metadata", true),
            ("n*t*z", "no-metadata", false),
            ("**a**b*", "xaxbx", true),
        ] {
            assert_eq!(fits(glob, word), fit, "{glob} {word}");
        }
    }
}
