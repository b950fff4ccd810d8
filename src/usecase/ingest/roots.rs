//! Which folders to walk, and which dump each file in them belongs to: a file on the disk is one file of one dump,
//! whether the user names the dump itself, a folder in it or a folder above it.

use std::path::Path;
use std::path::PathBuf;

/// The dumps of an ingest, and the walks through them.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Roots {
    /// The dumps' roots. A file's dump is an index in this list.
    pub dumps: Vec<PathBuf>,
    /// The walks, in the order of the request.
    pub walks: Vec<Walk>,
}

/// One walk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Walk {
    /// Where it begins.
    pub at: PathBuf,
    /// The dump it goes through.
    pub dump: usize,
    /// Where it begins, below that dump's root.
    pub below: PathBuf,
    /// Known dumps inside it: where, below the dump's root, and which.
    nested: Vec<(PathBuf, usize)>,
}

impl Roots {
    /// Determines the walks.
    ///
    /// Takes: the requested folders and the roots of the known dumps, each by its resolved path. Gives: a folder within
    /// a known dump as a walk through part of that dump; one above known dumps as a walk whose files in them remain
    /// theirs; one within another requested folder not at all.
    pub fn resolve(asked: &[PathBuf], known: &[PathBuf]) -> Self {
        let mut roots = Self::default();
        for at in asked {
            let within_another = asked
                .iter()
                .any(|other| other != at && at.starts_with(other));
            if within_another || roots.walks.iter().any(|walk| walk.at == *at) {
                continue;
            }
            let around = known
                .iter()
                .filter(|root| at.starts_with(root))
                .max_by_key(|root| root.components().count())
                .unwrap_or(at);
            let dump = roots.index_of(around);
            let nested = known
                .iter()
                .filter(|root| *root != around && root.starts_with(at))
                .map(|root| (below(root, around), roots.index_of(root)))
                .collect();
            roots.walks.push(Walk {
                at: at.clone(),
                dump,
                below: below(at, around),
                nested,
            });
        }
        roots
    }

    fn index_of(&mut self, root: &Path) -> usize {
        if let Some(index) = self.dumps.iter().position(|dump| dump == root) {
            return index;
        }
        self.dumps.push(root.to_path_buf());
        self.dumps.len() - 1
    }
}

impl Walk {
    /// The dump of a file and its folder there, from its folder below the start of the walk.
    pub fn place_of(&self, folder: PathBuf) -> (usize, PathBuf) {
        if self.below.as_os_str().is_empty() && self.nested.is_empty() {
            return (self.dump, folder);
        }
        let folder = self.below.join(folder);
        self.nested
            .iter()
            .filter(|(root, _)| folder.starts_with(root))
            .max_by_key(|(root, _)| root.components().count())
            .map_or_else(
                || (self.dump, folder.clone()),
                |(root, dump)| (*dump, below(&folder, root)),
            )
    }
}

fn below(path: &Path, root: &Path) -> PathBuf {
    path.strip_prefix(root).unwrap_or(path).to_path_buf()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn paths(paths: &[&str]) -> Vec<PathBuf> {
        paths.iter().map(PathBuf::from).collect()
    }

    #[test]
    fn a_file_belongs_to_one_dump_however_its_folder_is_named() {
        let known = paths(&["/cards/a", "/old"]);
        let inside = Roots::resolve(&paths(&["/cards/a/DCIM"]), &known);
        assert_eq!(inside.dumps, paths(&["/cards/a"]));
        assert_eq!(
            inside.walks[0].place_of("100NITES".into()),
            (0, "DCIM/100NITES".into())
        );

        let around = Roots::resolve(&paths(&["/cards"]), &known);
        assert_eq!(around.dumps, paths(&["/cards", "/cards/a"]));
        assert_eq!(
            around.walks[0].place_of("a/DCIM".into()),
            (1, "DCIM".into())
        );
        assert_eq!(
            around.walks[0].place_of("b/DCIM".into()),
            (0, "b/DCIM".into())
        );
        assert_eq!(
            around.walks[0].place_of("ab".into()),
            (0, "ab".into()),
            "a name that only begins alike"
        );

        let twice = Roots::resolve(&paths(&["/new/card", "/new", "/new/card"]), &known);
        assert_eq!(twice.dumps, paths(&["/new"]));
        assert_eq!(twice.walks.len(), 1);
    }
}
