//! Frames -> their places in the tree: a folder a session, in it a folder a kind, in it the frames in order.
//!
//! ```text
//! 2023-12-13 session 12/light/0001 NITE4217.ARW
//! 2023-12-13 session 12/dark/0001 NITE4460.ARW
//! ```

use std::collections::HashMap;

use crate::linktree::names::Distinct;
use crate::linktree::names::folder;
use crate::linktree::names::numbered;

/// The fewest digits of a frame's number.
const DIGITS: usize = 4;

/// The folder a frame goes into.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Place {
    /// The evening's date, if known.
    pub night: Option<String>,
    /// The number of the session, if it belongs to one.
    pub session: Option<i64>,
    /// The name of the folder within the session's folder.
    pub words: String,
    /// Distinguishes folders of the same name.
    pub which: usize,
}

/// Lays out frames, given the folder and own name of each, in the order they are to have.
///
/// Gives: the path of each below the tree's root, with `/` between names. No two are equal, even ignoring case.
pub fn lay_out(wishes: &[(Place, String)]) -> Vec<String> {
    let mut counts: HashMap<&Place, usize> = HashMap::new();
    for (place, _) in wishes {
        *counts.entry(place).or_default() += 1;
    }
    let mut sessions: HashMap<(Option<&str>, Option<i64>), String> = HashMap::new();
    let mut roots = Distinct::default();
    let mut kinds: HashMap<String, Distinct> = HashMap::new();
    let mut folders: HashMap<&Place, (String, usize)> = HashMap::new();
    let mut paths = Vec::with_capacity(wishes.len());
    for (place, own) in wishes {
        let (at, number) = folders.entry(place).or_insert_with(|| {
            let session = sessions
                .entry((place.night.as_deref(), place.session))
                .or_insert_with(|| roots.name(&session_words(place)));
            let kind = kinds.entry(session.clone()).or_default();
            (format!("{session}/{}", kind.name(&place.words)), 0)
        });
        *number += 1;
        let digits = counts[place].to_string().len().max(DIGITS);
        paths.push(format!("{at}/{}", numbered(*number, digits, own)));
    }
    paths
}

fn session_words(place: &Place) -> String {
    let night = place.night.as_deref().unwrap_or("undated");
    folder(&match place.session {
        Some(session) => format!("{night} session {session}"),
        None => format!("{night} no session"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::BTreeSet;

    fn place(night: Option<&str>, session: Option<i64>, words: &str) -> Place {
        Place {
            night: night.map(str::to_owned),
            session,
            words: words.to_owned(),
            which: 0,
        }
    }

    #[test]
    fn frames_lie_by_session_and_kind_in_their_order() {
        let night = Some("2023-12-13");
        let wishes = [
            (place(night, Some(12), "light"), "NITE4217.ARW"),
            (place(night, Some(12), "dark"), "NITE4460.ARW"),
            (place(night, Some(12), "light"), "NITE4217.ARW"),
            (place(None, None, "light"), "IMG_0001.CR2"),
            (place(night, Some(13), "light"), "NITE4217.ARW"),
        ]
        .map(|(place, own)| (place, own.to_owned()));
        assert_eq!(
            lay_out(&wishes),
            [
                "2023-12-13 session 12/light/0001 NITE4217.ARW",
                "2023-12-13 session 12/dark/0001 NITE4460.ARW",
                "2023-12-13 session 12/light/0002 NITE4217.ARW",
                "undated no session/light/0001 IMG_0001.CR2",
                "2023-12-13 session 13/light/0001 NITE4217.ARW",
            ]
        );
    }

    #[test]
    fn a_folder_of_many_frames_keeps_their_order_by_name() {
        let wishes: Vec<(Place, String)> = (0..10_001)
            .map(|_| (place(None, Some(1), "light"), "A.ARW".to_owned()))
            .collect();
        let paths = lay_out(&wishes);
        assert!(paths.is_sorted());
        assert!(paths[0].ends_with("/00001 A.ARW"));
    }

    prop_compose! {
        fn any_wish()(
            night in prop::option::of(any::<String>()),
            session in prop::option::of(-2_i64..3),
            words in "[a-bA-B./\\\\ ]{0,3}",
            which in 0_usize..2,
            own in any::<String>(),
        ) -> (Place, String) {
            (Place { night, session, words, which }, own)
        }
    }

    proptest! {
        #[test]
        fn no_two_frames_collide_and_none_leaves_the_tree(
            wishes in prop::collection::vec(any_wish(), 0..60),
        ) {
            let mut seen = BTreeSet::new();
            for path in lay_out(&wishes) {
                let parts: Vec<&str> = path.split('/').collect();
                prop_assert_eq!(parts.len(), 3, "{}", path);
                for part in parts {
                    prop_assert!(!matches!(part, "" | "." | "..") && !part.contains('\\'), "{}", part);
                }
                prop_assert!(seen.insert(path.to_lowercase()), "{}", path);
            }
        }
    }
}
