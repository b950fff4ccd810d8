//! Counts in sentences: singular and plural. Knows no sentence.

/// A count with its noun: `1 frame`, `3 frames`, `2 bodies`.
pub fn counted(count: u64, one: &str) -> String {
    format!("{count} {}", plural_of(count, one))
}

/// The noun for a count: `frame` for one, `frames` for others.
pub fn plural_of(count: u64, one: &str) -> String {
    if count == 1 {
        return one.to_owned();
    }
    match one.strip_suffix('y') {
        Some(stem) if !stem.ends_with(['a', 'e', 'o', 'u']) => format!("{stem}ies"),
        _ if one.ends_with(['s', 'x']) || one.ends_with("ch") => format!("{one}es"),
        _ => format!("{one}s"),
    }
}

/// One of two words for a count: `is` for one, `are` for others.
pub const fn either<'w>(count: u64, one: &'w str, many: &'w str) -> &'w str {
    if count == 1 { one } else { many }
}

/// Words in a row: `4`, `4 and 5`, `4, 5 and 7`.
pub fn and_list(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nouns_follow_their_counts() {
        for (count, one, expect) in [
            (0, "frame", "0 frames"),
            (1, "frame", "1 frame"),
            (2, "frame", "2 frames"),
            (1, "body", "1 body"),
            (3, "body", "3 bodies"),
            (2, "copy", "2 copies"),
            (2, "day", "2 days"),
            (2, "batch", "2 batches"),
            (2, "bias", "2 biases"),
        ] {
            assert_eq!(counted(count, one), expect);
        }
        assert_eq!(either(1, "is", "are"), "is");
        assert_eq!(either(0, "is", "are"), "are");
    }

    #[test]
    fn lists_end_with_and() {
        let words = |text: &str| and_list(&text.split(' ').map(str::to_owned).collect::<Vec<_>>());
        assert_eq!(and_list(&[]), "");
        assert_eq!(words("4"), "4");
        assert_eq!(words("4 5"), "4 and 5");
        assert_eq!(words("4 5 7"), "4, 5 and 7");
    }
}
