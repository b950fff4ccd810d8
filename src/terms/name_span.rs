//! Files by their names, from one to another.

/// Files whose names are from one to another, both included, in the order of their characters; capital and small letters are
/// equal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NameSpan {
    /// The first.
    pub first: String,
    /// The last.
    pub last: String,
}

impl NameSpan {
    /// From `FIRST..LAST`, or from one name; `None` if the first name comes after the last.
    pub fn parse(text: &str) -> Option<Self> {
        let (first, last) = text.split_once("..").unwrap_or((text, text));
        let (first, last) = (first.trim(), last.trim());
        let is_span = !first.is_empty() && first.to_lowercase() <= last.to_lowercase();
        is_span.then(|| Self {
            first: first.to_owned(),
            last: last.to_owned(),
        })
    }

    /// The span of these names; `None` if there are none.
    pub fn of<'n>(names: impl Iterator<Item = &'n str> + Clone) -> Option<Self> {
        let order = |name: &&str| name.to_lowercase();
        Some(Self {
            first: names.clone().min_by_key(order)?.to_owned(),
            last: names.max_by_key(order)?.to_owned(),
        })
    }

    /// Whether a name is in it.
    pub fn contains(&self, name: &str) -> bool {
        (self.first.to_lowercase()..=self.last.to_lowercase()).contains(&name.to_lowercase())
    }
}

impl std::fmt::Display for NameSpan {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}..{}", self.first, self.last)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_span_has_its_ends_and_what_is_between() {
        let span = NameSpan::parse("IMG_0009.CR2..img_0012.cr2").unwrap();
        for (name, is_in) in [
            ("IMG_0008.CR2", false),
            ("img_0009.cr2", true),
            ("IMG_0010.JPG", true),
            ("IMG_0012.CR2", true),
            ("IMG_0013.CR2", false),
        ] {
            assert_eq!(span.contains(name), is_in, "{name}");
        }
        assert_eq!(NameSpan::parse(&span.to_string()), Some(span));
        assert!(NameSpan::parse("A.CR2").unwrap().contains("a.cr2"));
        assert_eq!(NameSpan::parse("B..A"), None);
        assert_eq!(NameSpan::parse("..A"), None);
        let names = ["b", "a", "c"];
        assert_eq!(NameSpan::of(names.into_iter()), NameSpan::parse("a..c"));
    }
}
