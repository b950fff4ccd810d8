//! Where the catalogue lies unless it is said, and what time it is.

use std::path::PathBuf;
use std::time::SystemTime;
use std::time::UNIX_EPOCH;

use etcetera::BaseStrategy;

use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::time::Utc;

/// The catalogue's file: as said, else `framefall/catalogue.sqlite` in the platform's data directory.
pub fn catalogue_path(said: Option<&PathBuf>) -> Result<PathBuf, Failure> {
    if let Some(path) = said {
        return Ok(path.clone());
    }
    let strategy = etcetera::choose_base_strategy().map_err(|e| {
        Failure::new(
            FailureKind::Words,
            "this computer has no data directory for you",
        )
        .hint("name the catalogue: --catalogue FILE")
        .because(e)
    })?;
    Ok(strategy
        .data_dir()
        .join("framefall")
        .join("catalogue.sqlite"))
}

/// The current instant.
pub fn now() -> Result<Utc, Failure> {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .ok()
        .and_then(|since| Utc::from_unix_ms(i64::try_from(since.as_millis()).ok()?))
        .ok_or_else(|| {
            Failure::new(
                FailureKind::Words,
                "this computer's clock is before 1970 or after 9999",
            )
            .hint("set it right")
        })
}
