//! The default location of the catalogue, and the current time.

use std::path::Path;
use std::path::PathBuf;
use std::time::SystemTime;
use std::time::UNIX_EPOCH;

use etcetera::BaseStrategy;

use crate::terms::failure::Failure;
use crate::terms::time::Utc;

/// The environment variable that names the catalogue.
pub const CATALOGUE_VARIABLE: &str = "FRAMEFALL_CATALOGUE";

/// The catalogue's file: as given, otherwise `framefall/catalogue.sqlite` in the platform's data directory.
pub fn catalogue_path(said: Option<&PathBuf>) -> Result<PathBuf, Failure> {
    if let Some(path) = said {
        return Ok(path.clone());
    }
    let strategy = etcetera::choose_base_strategy().map_err(|e| {
        Failure::words("you have no data directory on this computer")
            .hint("name the catalogue: --catalogue FILE")
            .because(e)
    })?;
    Ok(strategy
        .data_dir()
        .join("framefall")
        .join("catalogue.sqlite"))
}

/// Whether a catalogue is the one that a command without `--catalogue` uses, in the same environment.
pub fn is_default_catalogue(path: &Path) -> bool {
    match std::env::var_os(CATALOGUE_VARIABLE) {
        Some(variable) => variable == path.as_os_str(),
        None => catalogue_path(None).is_ok_and(|default| default == path),
    }
}

/// The current instant.
pub fn now() -> Result<Utc, Failure> {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .ok()
        .and_then(|since| Utc::from_unix_ms(i64::try_from(since.as_millis()).ok()?))
        .ok_or_else(|| {
            Failure::words("this computer's clock is before 1970 or after 9999")
                .hint("set the clock")
        })
}
