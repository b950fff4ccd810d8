//! The folder tree of links of an export.

use std::path::Path;
use std::sync::atomic::Ordering;

use crate::catalogue::handle::Catalogue;
use crate::cli::commands::export_told as told;
use crate::cli::commands::export_wish::Wish;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::cli::stop::STOP;
use crate::framelist::RecordHead;
use crate::framelist::RecordedLink;
use crate::output::tree::WholeTree;
use crate::output::tree_link::Unmade;
use crate::output::whole::ClosedFile;
use crate::output::whole::Overwrite;
use crate::pipeline::handoff;
use crate::pipeline::handoff::Calibration;
use crate::pipeline::handoff::HandOrder;
use crate::pipeline::handoff::Plan;
use crate::pipeline::handoff::Unreadable;
use crate::pipeline::maker::PROGRAM;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::handoff::Lacking;
use crate::terms::linktree::LinkAs;
use crate::terms::printable::printable;

/// A tree whose place was looked at, and how its links are made.
#[derive(Debug)]
pub(super) struct Begun {
    tree: WholeTree,
    link_as: LinkAs,
}

/// Begins the tree that is wished for, if one is. Told before anything is asked: a place that cannot be taken.
pub(super) fn begin(
    catalogue: &Catalogue,
    wish: &Wish,
    overwrite: Overwrite,
) -> Result<Option<Begun>, Failure> {
    let Some((at, link_as)) = wish.makes.tree() else {
        return Ok(None);
    };
    let tree = WholeTree::begin(at, overwrite, link_as, &handoff::dump_roots(catalogue)?)?;
    let beside = wish.to.parent().filter(|_| wish.makes.lists());
    let beside = beside.map(|folder| match folder {
        own if own.as_os_str().is_empty() => Path::new("."),
        folder => folder,
    });
    if beside
        .and_then(|folder| folder.canonicalize().ok())
        .is_some_and(|folder| folder.starts_with(tree.place()))
    {
        return Err(Failure::new(
            FailureKind::Words,
            "the list would lie in the tree of links",
        )
        .at_file(&wish.to)
        .hint("write it beside the tree: a tree holds nothing but links"));
    }
    Ok(Some(Begun { tree, link_as }))
}

/// A tree that is whole but not in its place yet.
#[derive(Debug)]
pub(super) struct Grown {
    tree: WholeTree,
    head: RecordHead,
    links: Vec<RecordedLink>,
}

/// Makes the links, beside their place. Frames whose files cannot be read leave the plan, where that was allowed.
pub(super) fn grow(
    setting: &Setting,
    begun: Begun,
    catalogue: &Catalogue,
    order: &HandOrder<'_>,
    plan: &mut Plan,
    found: &mut Calibration,
) -> Result<Grown, Failure> {
    let Begun { mut tree, link_as } = begun;
    let mut unreadable = Unreadable::new();
    let wanted = handoff::links(catalogue, plan, found)?;
    let progress = Progress::new("links", setting.quiet);
    let mut links = Vec::with_capacity(wanted.len());
    for (done, link) in wanted.iter().enumerate() {
        if STOP.load(Ordering::Relaxed) {
            break;
        }
        progress.at(done as u64, wanted.len() as u64);
        match tree.link(link) {
            Ok(made) => links.push(made),
            Err(Unmade {
                file: Some(saw), ..
            }) if order.lacking == Lacking::LeftOut => {
                unreadable.insert(link.file_id, saw);
            }
            Err(unmade) => {
                progress.end();
                return Err(*unmade.failure);
            }
        }
    }
    progress.end();
    if !unreadable.is_empty() {
        let before = plan.left_out.len();
        handoff::leave_out_unreadable(catalogue, order, &unreadable, plan, found)?;
        told::unreadable(catalogue, &plan.left_out[before..])?;
    }
    Ok(Grown {
        tree,
        head: RecordHead {
            program: PROGRAM.to_owned(),
            written_utc: order.now.to_string(),
            query: order.query.to_owned(),
            link_as,
            calibration: handoff::calibration_notes(catalogue, found)?,
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
            return Err(Failure::new(
                FailureKind::Words,
                "a list, or its manifest, and the tree of links would have one name",
            )
            .at_file(place)
            .hint("give the tree another name"));
        }
        Ok(())
    }

    /// Puts the tree in its place, and says so.
    pub fn keep(self, setting: &Setting) -> Result<(), Failure> {
        let said = format!(
            "{} {} made in {}",
            self.links.len(),
            match (self.head.link_as, self.links.len()) {
                (LinkAs::Copy, 1) => "copy",
                (LinkAs::Copy, _) => "copies",
                (_, 1) => "link",
                _ => "links",
            },
            printable(&self.tree.place().to_string_lossy())
        );
        let hard = self.head.link_as == LinkAs::Hard;
        self.tree.keep(&self.head, &self.links)?;
        if setting.quiet == Quiet::No {
            print::complain(&said);
            if hard {
                print::complain(
                    "they are second names of your originals: a program that writes into one writes into the original",
                );
            }
        }
        Ok(())
    }
}
