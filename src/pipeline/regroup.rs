//! The sessions of touched nights, found anew.

use crate::catalogue::derive::BodyNight;
use crate::catalogue::open::Catalogue;
use crate::catalogue::store::Batch;
use crate::session::split::split;
use crate::terms::failure::Failure;

/// Finds the sessions of these nights anew, in a transaction of their own, and gives how many there are.
pub fn regroup<'n>(
    catalogue: &mut Catalogue,
    nights: impl IntoIterator<Item = &'n BodyNight>,
) -> Result<u64, Failure> {
    let batch = catalogue.batch()?;
    let sessions = regroup_in(&batch, nights)?;
    batch.commit()?;
    Ok(sessions)
}

/// The same within a batch.
pub fn regroup_in<'n>(
    batch: &Batch<'_>,
    nights: impl IntoIterator<Item = &'n BodyNight>,
) -> Result<u64, Failure> {
    let mut sessions = 0;
    for night in nights {
        let found = split(&batch.session_frames(night)?);
        sessions += found.len() as u64;
        batch.put_sessions(night, &found)?;
    }
    Ok(sessions)
}
