//! What the page to look shows: the frames of a night, a session or a query, with what is stated about them, and the sky over them.

use std::collections::BTreeSet;

use crate::capture::picture::jpeg_bytes;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::look_frames::LookFrame;
use crate::catalogue::night::NightScope;
use crate::report::look_map::LookMap;
use crate::report::look_map::look_maps;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;
use crate::usecase::listings::answers::compile_with_names;
use crate::usecase::looking::mark::frames_of;
use crate::usecase::looking::trail_list::query_of;
use crate::usecase::report::night::night_report;
use crate::usecase::report::shown::Pictures;

/// The frames of a page, in the order of their starts.
#[derive(Clone, Debug)]
pub struct Scene {
    /// What was asked for: a night, a session or a query.
    pub title: String,
    /// The frames.
    pub frames: Vec<LookFrame>,
}

/// Reads the frames of a night, a session or a query.
///
/// Refuses: one that has no frames.
pub fn scene(catalogue: &Catalogue, of: &str) -> Result<Scene, Failure> {
    let query = query_of(of);
    let ids = frames_of(catalogue, &compile_with_names(catalogue, &query)?.tree)?;
    if ids.is_empty() {
        return Err(Failure::words(format!("no frame matches: {query}"))
            .hint("framefall sessions lists the nights and sessions; framefall frames 'QUERY' tries a query"));
    }
    let of = of.trim();
    let title = if query == of {
        of.to_owned()
    } else if of.parse::<u32>().is_ok() {
        format!("Session {of}")
    } else {
        format!("The night of {of}")
    };
    Ok(Scene {
        title,
        frames: catalogue.look_frames(&ids)?,
    })
}

impl Scene {
    /// The numbers of its frames.
    pub fn ids(&self) -> Vec<i64> {
        self.frames.iter().map(|frame| frame.frame_id).collect()
    }

    /// The nights of its frames, as dates.
    pub fn nights(&self) -> BTreeSet<String> {
        let days: BTreeSet<i64> = self.frames.iter().filter_map(|f| f.night_day).collect();
        let date = |day: i64| {
            let noon = Utc::from_unix_ms(day.checked_mul(86_400_000)?)?.to_string();
            noon.split('T').next().map(str::to_owned)
        };
        days.into_iter().filter_map(date).collect()
    }
}

/// The altitude curves of a night over one place.
pub type NightMap = LookMap;

/// Reads the maps of a night, one for each place.
pub fn maps_of_night(catalogue: &Catalogue, night: &str) -> Result<Vec<NightMap>, Failure> {
    let scope = NightScope::Night(night.to_owned());
    Ok(look_maps(&night_report(
        catalogue,
        &scope,
        Pictures::Curves,
    )?))
}

/// The bytes of a frame's preview as the camera wrote them; why there are none, in words.
pub fn preview(frame: &LookFrame) -> Result<Vec<u8>, String> {
    let extent = frame
        .preview
        .ok_or_else(|| "the camera put no preview into this file".to_owned())?;
    if !frame.path.exists() {
        return Err(format!(
            "{} is not there: connect the disk of dump {}",
            frame.path.display(),
            frame.dump
        ));
    }
    jpeg_bytes(&frame.path, extent)
}
