//! Names that every file system accepts: no separators, no reserved signs, no trailing dots or spaces, not too long.
//! Never gives a name that leads out of its folder.

use std::collections::HashMap;

use crate::terms::printable::moves_the_cursor;

/// The most bytes of a name. The shortest limit in use, that of encrypted home folders, is 143.
///
/// Source: from memory.
pub const LONGEST_NAME: usize = 140;

/// The longest extension that is kept when a name is cut.
const LONGEST_ENDING: usize = 16;

/// Signs that a file system or its shell reserves.
///
/// Source: from memory, the naming rules of FAT and NTFS; POSIX reserves only `/` and NUL.
const KEPT_SIGNS: &[char] = &['/', '\\', ':', '*', '?', '"', '<', '>', '|'];

/// A number and a file's own name: `0017 NITE4217.ARW`.
///
/// The number comes first, so that names sort in the order of the frames, two cards with the same file names do not
/// collide, and no name is one that a system reserves (`CON`, `NUL`).
pub fn numbered(number: usize, digits: usize, own: &str) -> String {
    let number = format!("{number:0digits$}");
    let room = LONGEST_NAME.saturating_sub(number.len() + 1);
    format!("{number} {}", cut(&plain(own), room))
}

/// Words as a folder's name.
pub fn folder(words: &str) -> String {
    cut(&plain(words), LONGEST_NAME)
}

/// A text without signs that are not allowed in a name.
fn plain(text: &str) -> String {
    let mut name: String = text
        .chars()
        .map(|c| if must_not_stand(c) { '_' } else { c })
        .collect();
    let kept = name.trim_end_matches(['.', ' ']).len();
    let ends = name.len() - kept;
    name.truncate(kept);
    name.extend(std::iter::repeat_n('_', ends));
    if name.is_empty() {
        name.push('_');
    }
    name
}

/// Separators and reserved signs, control characters, and marks that reverse or hide text.
fn must_not_stand(c: char) -> bool {
    KEPT_SIGNS.contains(&c)
        || moves_the_cursor(c)
        || matches!(c, '\u{fff0}'..='\u{ffff}' | '\u{e0080}'..='\u{e0fff}')
}

/// A name of at most `room` bytes; it is cut before its extension.
fn cut(name: &str, room: usize) -> String {
    if name.len() <= room {
        return name.to_owned();
    }
    let ending = name
        .rfind('.')
        .map(|at| &name[at..])
        .filter(|ending| ending.len() <= LONGEST_ENDING.min(room))
        .unwrap_or("");
    let mut kept = room - ending.len();
    while !name.is_char_boundary(kept) {
        kept -= 1;
    }
    plain(&format!("{}{ending}", &name[..kept]))
}

/// Gives each key a distinct name within one folder, even ignoring case.
#[derive(Debug, Default)]
pub struct Distinct {
    taken: HashMap<String, usize>,
}

impl Distinct {
    /// The name, with the next free number appended if it is taken.
    pub fn name(&mut self, wanted: &str) -> String {
        let wanted = folder(wanted);
        let mut name = wanted.clone();
        let mut number = 1;
        while self.taken.contains_key(&folded(&name)) {
            number += 1;
            let tail = format!(" {number}");
            name = format!("{}{tail}", cut(&wanted, LONGEST_NAME - tail.len()));
        }
        self.taken.insert(folded(&name), number);
        name
    }
}

/// A name as compared by systems that ignore case.
fn folded(name: &str) -> String {
    name.to_uppercase().to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::BTreeSet;

    #[test]
    fn a_plain_name_stays_as_it_is_behind_its_number() {
        for (own, name) in [
            ("NITE4217.ARW", "0017 NITE4217.ARW"),
            ("Höhe 星.dng", "0017 Höhe 星.dng"),
            ("..", "0017 __"),
            ("../../etc/passwd", "0017 .._.._etc_passwd"),
            ("a\nb\u{202e}c.\u{1b}[2J", "0017 a_b_c._[2J"),
            ("", "0017 _"),
            ("CON", "0017 CON"),
            ("x.CR2. .", "0017 x.CR2___"),
            ("C:\\a|b", "0017 C__a_b"),
        ] {
            assert_eq!(numbered(17, 4, own), name);
        }
    }

    #[test]
    fn a_long_name_keeps_its_ending() {
        let name = numbered(1, 4, &format!("{}.ARW", "星".repeat(200)));
        assert!(
            name.len() <= LONGEST_NAME && name.ends_with("星.ARW"),
            "{name}"
        );
    }

    #[test]
    fn folders_that_differ_by_capitals_alone_get_numbers() {
        let mut distinct = Distinct::default();
        assert_eq!(distinct.name("dark"), "dark");
        assert_eq!(distinct.name("Dark"), "Dark 2");
        assert_eq!(distinct.name("DARK"), "DARK 3");
        assert_eq!(distinct.name("dark 2"), "dark 2 2");
    }

    /// Requirements for a name on any system.
    fn is_safe(name: &str) -> bool {
        !name.is_empty()
            && name.len() <= LONGEST_NAME
            && !name.chars().any(must_not_stand)
            && !name.ends_with(['.', ' '])
            && name != "."
            && name != ".."
            && std::path::Path::new(name).components().count() == 1
    }

    proptest! {
        #[test]
        fn any_name_is_safe_and_stays_in_its_folder(
            own in any::<String>(),
            long in "[./ a-zA-Z\u{301}ß]{0,300}",
            number in 0_usize..100_000_000,
        ) {
            for own in [own, long] {
                let name = numbered(number, 4, &own);
                prop_assert!(is_safe(&name), "{name:?}");
                prop_assert!(is_safe(&folder(&own)), "{own:?}");
            }
        }

        #[test]
        fn distinct_names_never_collide_where_capitals_do_not_count(
            wanted in prop::collection::vec("[aAbBßſK ]{0,3}|[a.]{130,150}", 0..40),
        ) {
            let mut distinct = Distinct::default();
            let mut seen = BTreeSet::new();
            for words in wanted {
                let name = distinct.name(&words);
                prop_assert!(is_safe(&name), "{name:?}");
                prop_assert!(seen.insert(name.to_lowercase()), "{name:?}");
            }
        }
    }
}
