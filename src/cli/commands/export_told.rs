//! Reports of an export: frames that cannot be exported, what was written, differences from a manifest.

use std::path::PathBuf;

use crate::catalogue::handle::Catalogue;
use crate::cli::print;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::linktree::LinkAs;
use crate::terms::plural::counted;
use crate::terms::plural::either;
use crate::terms::printable::printable;
use crate::usecase::export::preview::Preview;
use crate::usecase::export::tree::TreeMade;
use crate::usecase::handoff;
use crate::usecase::handoff::again::Differences;
use crate::usecase::handoff::plan::LeftOut;
use crate::usecase::handoff::plan::Plan;

/// How many frames that cannot be exported are reported in full.
const TOLD: usize = 20;

/// Reports the lists that were written.
pub fn written(plan: &Plan, names: &[PathBuf]) {
    lists(plan, names, "written");
    let damaged = plan.entries.iter().filter(|entry| entry.is_damaged).count();
    if damaged > 0 {
        let is = either(damaged as u64, "is", "are");
        print::warn(&format!("{damaged} of them {is} damaged"));
    }
    if plan.not_raw > 0 {
        let one = plan.not_raw;
        let (have, are) = (either(one, "has", "have"), either(one, "is", "are"));
        print::warn(&format!(
            "{} of them {have} no raw file and {are} listed with another; --take raw refuses that",
            plan.not_raw
        ));
    }
}

fn lists(plan: &Plan, names: &[PathBuf], written: &str) {
    for (part, name) in plan.parts.iter().zip(names) {
        let frames = frames(part.entries.len() as u64);
        print::warn(&format!("{frames} {written} to {}", print::path(name)));
    }
}

/// Reports what an export would write.
pub fn preview(preview: &Preview) {
    lists(&preview.plan, &preview.lists, "would be written");
    if let Some((place, links)) = &preview.tree {
        print::warn(&format!(
            "{} would be made in {}",
            counted(*links as u64, "link"),
            print::path(place)
        ));
    }
}

/// Tells of the tree that was made.
pub fn tree(made: &TreeMade) {
    let links = match (made.link_as, made.links) {
        (LinkAs::Copy, 1) => "copy",
        (LinkAs::Copy, _) => "copies",
        (_, 1) => "link",
        _ => "links",
    };
    print::warn(&format!(
        "{} {links} made in {}",
        made.links,
        print::path(&made.place)
    ));
    if made.link_as == LinkAs::Hard {
        print::warn(
            "they are second names of your originals: a program that writes into a link writes \
             into the original",
        );
    }
}

/// Reports the frames that cannot be exported: a line for each offline dump, the first of the others in full, and for
/// each kind of problem the number of frames and the remedy.
pub fn left_out(catalogue: &Catalogue, plan: &Plan) -> Result<(), Failure> {
    let mut counts = Counts::default();
    for (finding, kept_back) in plan.away.values() {
        print::warn(&print::finding_text(&frames(*kept_back), finding));
        counts.add(finding.code, *kept_back);
    }
    each_of(catalogue, &plan.left_out, &mut counts)?;
    counts.tell_cures();
    if plan.damaged() > 0 {
        let (is, it) = if plan.damaged() == 1 {
            ("is", "it")
        } else {
            ("are", "them")
        };
        print::warn(&format!(
            "{} {is} left out because of damage; --with-damaged includes {it}",
            frames(plan.damaged() as u64)
        ));
    }
    Ok(())
}

/// Reports frames whose files could not be copied.
pub fn unreadable(catalogue: &Catalogue, left_out: &[LeftOut]) -> Result<(), Failure> {
    let mut counts = Counts::default();
    each_of(catalogue, left_out, &mut counts)?;
    counts.tell_cures();
    Ok(())
}

/// How many frames each kind of problem affects, in the order in which the kinds appeared.
#[derive(Default)]
struct Counts(Vec<(&'static str, u64)>);

impl Counts {
    fn add(&mut self, code: &'static str, frames: u64) {
        match self.0.iter_mut().find(|known| known.0 == code) {
            Some(known) => known.1 += frames,
            None => self.0.push((code, frames)),
        }
    }

    /// Prints the remedy for each.
    fn tell_cures(&self) {
        for (code, frames) in &self.0 {
            print::cure(code, *frames);
        }
    }
}

fn each_of(
    catalogue: &Catalogue,
    left_out: &[LeftOut],
    counts: &mut Counts,
) -> Result<(), Failure> {
    let mut shown = 0;
    handoff::plan::each_odd(catalogue, left_out, &mut |path, finding: &Finding| {
        counts.add(finding.code, 1);
        shown += 1;
        if shown <= TOLD {
            print::warn(&print::finding_text(&path.to_string_lossy(), finding));
        }
    })?;
    if shown > TOLD {
        print::warn(&format!("and {} more", shown - TOLD));
    }
    Ok(())
}

/// Reports the differences between a list made again and its manifest.
pub fn differences(found: &Differences) {
    for (kind, what) in [
        (&found.added, "new in the list"),
        (&found.gone, "no longer in the list"),
        (&found.moved, "moved"),
        (&found.changed, "changed"),
    ] {
        for path in &kind.1 {
            print::warn(&format!("{what}: {}", printable(path)));
        }
        let told = kind.1.len() as u64;
        if kind.0 > told {
            print::warn(&format!("{what}: {} more", kind.0 - told));
        }
    }
    let same_files = [&found.added, &found.gone, &found.moved, &found.changed]
        .iter()
        .all(|kind| kind.0 == 0);
    if !found.same_bytes && same_files {
        print::warn("the files are the same; their order, or their data in the list, is not");
    }
    if !found.same_bytes {
        for (what, then, now) in &found.state {
            print::warn(&format!(
                "{what}: {} then, {} now",
                printable(then),
                printable(now)
            ));
        }
    }
}

/// A number of frames, with the noun.
pub fn frames(count: u64) -> String {
    counted(count, "frame")
}
