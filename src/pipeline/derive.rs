//! Time, place and sky of frames into the catalogue, within the batch that asks for it.

use std::collections::BTreeSet;

use crate::catalogue::derive::BodyNight;
use crate::catalogue::derive::Derived;
use crate::catalogue::store::Batch;
use crate::pipeline::place::SiteBook;
use crate::pipeline::place::assign_site;
use crate::pipeline::place::place_frame;
use crate::sky::look::Looker;
use crate::sky::showers;
use crate::terms::basis::PlaceBasis;
use crate::terms::basis::TimeBasis;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::records::FrameFacts;
use crate::terms::records::PlacedFrame;

/// The program and its version, as derived rows are signed with.
pub const PROGRAM: &str = concat!("framefall ", env!("CARGO_PKG_VERSION"));

/// Derives frames, keeping what is dear between them: the site book, the sky's nodes.
pub struct Deriver {
    book: SiteBook,
    looker: Looker,
    maker_id: i64,
    /// Nights whose sessions must be found anew.
    pub touched: BTreeSet<BodyNight>,
    /// The night touched last: frames come night by night, so most of them ask for it again.
    latest: Option<BodyNight>,
}

/// What deriving one frame came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reached {
    /// How its time was reached.
    pub time: TimeBasis,
    /// How its place was reached.
    pub place: PlaceBasis,
}

impl Deriver {
    /// Makes one for a batch's catalogue.
    pub fn new(batch: &Batch<'_>) -> Result<Self, Failure> {
        Ok(Self {
            book: SiteBook::new(batch.sites()?),
            looker: Looker::new(),
            maker_id: batch.ensure_maker(PROGRAM, showers::EDITION)?,
            touched: BTreeSet::new(),
            latest: None,
        })
    }

    /// Places one frame, computes the sky over it, and puts both in.
    pub fn derive(
        &mut self,
        batch: &Batch<'_>,
        facts: &FrameFacts,
        derived: Derived,
    ) -> Result<Reached, Failure> {
        let mut placed = self.place(batch, facts)?;
        let sky = placed.mid_utc.and_then(|mid| {
            let sky = self.looker.frame_sky(mid, placed.place);
            if sky.is_none() {
                placed.findings.push(Finding::new(
                    "year-outside",
                    format!("{mid}"),
                    "left the sky over it unknown",
                ));
            }
            sky
        });
        batch.put_derived(
            facts.frame_id,
            derived,
            self.maker_id,
            &placed,
            sky.as_ref(),
        )?;
        for night in [facts.night_before.as_ref(), placed.night.as_ref()]
            .into_iter()
            .flatten()
        {
            self.touch(batch, night, facts.camera_id)?;
        }
        Ok(Reached {
            time: placed.time_basis,
            place: placed.place_basis,
        })
    }

    fn place(&mut self, batch: &Batch<'_>, facts: &FrameFacts) -> Result<PlacedFrame, Failure> {
        let mut assigned = assign_site(facts, &self.book);
        if let Some(mut site) = assigned.new_site.take() {
            site.id = batch.add_site(&site)?;
            assigned.site_id = Some(site.id);
            self.book.enter(site);
        }
        Ok(place_frame(facts, assigned, &self.book))
    }

    /// Notes a night whose sessions must be found anew.
    pub fn touch(
        &mut self,
        batch: &Batch<'_>,
        night: &str,
        camera_id: Option<i64>,
    ) -> Result<(), Failure> {
        let again = self
            .latest
            .as_ref()
            .is_some_and(|n| n.night == night && n.camera_id == camera_id);
        if again {
            return Ok(());
        }
        let night = BodyNight {
            night: night.to_owned(),
            camera_id,
        };
        if self.touched.insert(night.clone()) {
            batch.mark_pending(&night)?;
        }
        self.latest = Some(night);
        Ok(())
    }
}
