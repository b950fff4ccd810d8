//! The request for an export: what to make, and where. Reads no catalogue.

use std::path::PathBuf;

use crate::catalogue::handoff::Grouped;
use crate::framelist::Format;
use crate::terms::basis::Kind;
use crate::terms::handoff::Check;
use crate::terms::handoff::Damaged;
use crate::terms::handoff::Lacking;
use crate::terms::handoff::PathsFrom;
use crate::terms::handoff::Take;
use crate::terms::linktree::LinkAs;
use crate::usecase::handoff::plan::Part;

/// The request for an export.
#[derive(Clone, Debug)]
pub struct ExportRequest {
    /// The query as it was typed.
    pub query: String,
    /// The query to run, if it differs: with its saved queries expanded as they were then.
    pub meaning: Option<String>,
    /// The list's file; the tree's folder if only a tree is made.
    pub to: PathBuf,
    /// What is made.
    pub makes: Makes,
    /// The kinds of calibration frames to search for.
    pub calibration: Vec<Kind>,
    /// Its manifest.
    pub manifest: PathBuf,
    /// Its format.
    pub format: Format,
    /// Its columns, if chosen.
    pub show: Option<String>,
    /// The most frames.
    pub limit: Option<u64>,
    /// One list, or one for each session.
    pub grouped: Grouped,
    /// Which of a frame's files.
    pub take: Take,
    /// The form of paths.
    pub paths: PathsFrom,
    /// The reference frame, if named.
    pub reference: Option<String>,
    /// What is checked on the disk.
    pub check: Check,
    /// How to treat frames that cannot be exported.
    pub lacking: Lacking,
    /// How to treat frames whose file is damaged.
    pub damaged: Damaged,
    /// Whether anything is written.
    pub run: RunAs,
}

/// Whether an export writes anything.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RunAs {
    /// It does.
    Writing,
    /// It only says what it would write.
    DryRun,
}

/// What an export makes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Makes {
    /// A list.
    List,
    /// A tree of links.
    Tree(PathBuf, LinkAs),
    /// Both.
    ListAndTree(PathBuf, LinkAs),
}

impl Makes {
    /// Whether a list is made.
    pub const fn lists(&self) -> bool {
        matches!(self, Self::List | Self::ListAndTree(..))
    }

    /// Where a tree is made, and how.
    pub const fn tree(&self) -> Option<(&PathBuf, LinkAs)> {
        match self {
            Self::List => None,
            Self::Tree(at, link_as) | Self::ListAndTree(at, link_as) => Some((at, *link_as)),
        }
    }
}

impl ExportRequest {
    /// The file of a list: as given, or with its session before the extension.
    pub fn list_file(&self, part: &Part) -> PathBuf {
        self.named(part, "")
    }

    /// The file of a list of calibration frames beside it: `night.darks.csv`.
    pub fn calibration_file(&self, part: &Part, kind: Kind) -> PathBuf {
        self.named(
            part,
            match kind {
                Kind::Dark => ".darks",
                Kind::Flat => ".flats",
                Kind::Bias => ".bias",
                Kind::Light | Kind::Trial => ".others",
            },
        )
    }

    fn named(&self, part: &Part, behind: &str) -> PathBuf {
        if self.grouped == Grouped::Together && behind.is_empty() {
            return self.to.clone();
        }
        let mut name = self.to.file_stem().unwrap_or_default().to_os_string();
        match (self.grouped, part.session) {
            (Grouped::Together, _) => {}
            (Grouped::BySession, Some(session)) => name.push(format!(".session-{session}")),
            (Grouped::BySession, None) => name.push(".no-session"),
        }
        name.push(behind);
        if let Some(ending) = self.to.extension() {
            name.push(".");
            name.push(ending);
        }
        self.to.with_file_name(name)
    }
}
