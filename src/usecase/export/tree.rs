//! The link tree of an export: begun, built beside its target, renamed.

use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::Ordering;

use crate::catalogue::handle::Catalogue;
use crate::framelist::RecordHead;
use crate::framelist::RecordedLink;
use crate::output::atomic_file::ClosedFile;
use crate::output::atomic_file::Overwrite;
use crate::output::tree::AtomicTree;
use crate::output::tree_link::Unmade;
use crate::terms::failure::Failure;
use crate::terms::handoff::Lacking;
use crate::terms::linktree::LinkAs;
use crate::usecase::derive::maker::PROGRAM;
use crate::usecase::export::event::ExportEvent;
use crate::usecase::export::event::Watch;
use crate::usecase::export::request::ExportRequest;
use crate::usecase::handoff;
use crate::usecase::handoff::HandOrder;
use crate::usecase::handoff::calibration::Calibration;
use crate::usecase::handoff::plan::Plan;
use crate::usecase::handoff::unreadable::Unreadable;

/// A tree whose target was checked, and how its links are made.
#[derive(Debug)]
pub(super) struct Begun {
    tree: AtomicTree,
    link_as: LinkAs,
}

/// Begins the tree, if one is requested. Errors of the target are found before anything is read.
pub(super) fn begin(
    catalogue: &Catalogue,
    request: &ExportRequest,
    overwrite: Overwrite,
) -> Result<Option<Begun>, Failure> {
    let Some((at, link_as)) = request.makes.tree() else {
        return Ok(None);
    };
    let tree = AtomicTree::begin(at, overwrite, link_as, &catalogue.dump_roots()?)?;
    let beside = request.to.parent().filter(|_| request.makes.lists());
    let beside = beside.map(|folder| match folder {
        own if own.as_os_str().is_empty() => Path::new("."),
        folder => folder,
    });
    if beside
        .and_then(|folder| folder.canonicalize().ok())
        .is_some_and(|folder| folder.starts_with(tree.place()))
    {
        return Err(Failure::words("the list would be inside the link tree")
            .at_file(&request.to)
            .hint("write it beside the tree; a tree contains only links"));
    }
    Ok(Some(Begun { tree, link_as }))
}

/// A complete tree that is not yet renamed.
#[derive(Debug)]
pub(super) struct Grown {
    tree: AtomicTree,
    head: RecordHead,
    links: Vec<RecordedLink>,
}

/// Makes the links, beside the target. Frames whose files cannot be read are removed from the plan, if that is allowed.
pub(super) fn grow(
    begun: Begun,
    catalogue: &Catalogue,
    order: &HandOrder<'_>,
    plan: &mut Plan,
    found: &mut Calibration,
    watch: Watch<'_>,
) -> Result<Grown, Failure> {
    let Begun { mut tree, link_as } = begun;
    let mut unreadable = Unreadable::new();
    let wanted = handoff::tree::links(catalogue, plan, found)?;
    let mut links = Vec::with_capacity(wanted.len());
    for (done, link) in wanted.iter().enumerate() {
        if order.stop.load(Ordering::Relaxed) {
            break;
        }
        watch(ExportEvent::Linked(done as u64, wanted.len() as u64))?;
        match tree.link(link) {
            Ok(made) => links.push(made),
            Err(Unmade {
                file: Some(saw), ..
            }) if order.lacking == Lacking::LeftOut => {
                unreadable.insert(link.file_id, saw);
            }
            Err(unmade) => return Err(*unmade.failure),
        }
    }
    watch(ExportEvent::LinksMade)?;
    if !unreadable.is_empty() {
        let before = plan.left_out.len();
        handoff::unreadable::leave_out_unreadable(catalogue, order, &unreadable, plan, found)?;
        watch(ExportEvent::Unreadable(&plan.left_out[before..]))?;
    }
    Ok(Grown {
        tree,
        head: RecordHead {
            program: PROGRAM.to_owned(),
            written_utc: order.now.to_string(),
            query: order.query.to_owned(),
            link_as,
            calibration: handoff::calibration_note::calibration_notes(catalogue, found)?,
        },
        links,
    })
}

impl Grown {
    /// Refuses a list that would have the tree's own name.
    pub fn refuse_its_name(&self, files: &[ClosedFile<'_>]) -> Result<(), Failure> {
        let place = self.tree.place();
        if files
            .iter()
            .any(|file| file.place().as_deref() == Some(place))
        {
            return Err(Failure::words(
                "a list, or its manifest, would have the same name as the link tree",
            )
            .at_file(place)
            .hint("give the tree another name"));
        }
        Ok(())
    }

    /// Renames the tree to its target.
    pub fn keep(self) -> Result<TreeMade, Failure> {
        let made = TreeMade {
            place: self.tree.place().to_path_buf(),
            links: self.links.len(),
            link_as: self.head.link_as,
        };
        self.tree.keep(&self.head, &self.links)?;
        Ok(made)
    }
}

/// A finished tree.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TreeMade {
    /// Its folder.
    pub place: PathBuf,
    /// How many links it has.
    pub links: usize,
    /// How they were made.
    pub link_as: LinkAs,
}
