//! Which frames are meant: a night, a session, a query; and of these the ones that may show stars.

use std::path::PathBuf;

use crate::catalogue::handle::Catalogue;
use crate::query::Compiled;
use crate::terms::failure::Failure;
use crate::usecase::dumps::manage::dump_root;
use crate::usecase::listings::answers::compile_with_names;
use crate::usecase::listings::answers::query_of_night_or_session;

/// Frames that record the sensor or an even field show no stars.
const MAY_SHOW_STARS: &str = "(kind is unknown or not kind in (dark, flat, bias))";

/// The frames of some folders' dumps that may show stars. Gives nothing where no folder belongs to a dump.
pub fn lights_in(catalogue: &Catalogue, folders: &[PathBuf]) -> Result<Option<Compiled>, Failure> {
    let roots = folders.iter().map(|folder| dump_root(folder));
    let roots = roots.collect::<Result<Vec<_>, _>>()?;
    let dumps = catalogue.dumps()?;
    let meant = dumps.iter().filter(|dump| {
        let overlaps = |root: &PathBuf| dump.root.starts_with(root) || root.starts_with(&dump.root);
        roots.iter().any(overlaps)
    });
    let meant: Vec<String> = meant
        .map(|dump| format!("dump = '{}'", dump.label.replace('\'', "''")))
        .collect();
    if meant.is_empty() {
        return Ok(None);
    }
    let query = format!("({}) and {MAY_SHOW_STARS}", meant.join(" or "));
    compile_with_names(catalogue, &query).map(Some)
}

/// The frames of a night (its date), a session (its number), a query, or all, that may show stars.
pub fn lights_of(catalogue: &Catalogue, of: Option<&str>) -> Result<Compiled, Failure> {
    let Some(of) = of.map(str::trim).filter(|of| !of.is_empty()) else {
        return compile_with_names(catalogue, MAY_SHOW_STARS);
    };
    let query = if let Some(query) = query_of_night_or_session(of) {
        query
    } else {
        // By itself first: what is wrong with it is shown in the words that were typed.
        compile_with_names(catalogue, of)?;
        format!("({of})")
    };
    compile_with_names(catalogue, &format!("{query} and {MAY_SHOW_STARS}"))
}
