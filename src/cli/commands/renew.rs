//! Before a command: the sky over every frame, where the catalogue's follows an earlier edition of the shower table.

use crate::catalogue::open::Purpose;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::pipeline::renew::current_edition;
use crate::pipeline::renew::outdated_edition;
use crate::pipeline::renew::renew_skies;

/// Computes skies again where that is due. What hinders it hinders no command that only looks: it is said.
pub fn renew_if_outdated(setting: &Setting) {
    let Some(edition) = setting
        .catalogue()
        .ok()
        .and_then(|path| outdated_edition(&path))
    else {
        return;
    };
    if setting.quiet == Quiet::No {
        print::complain(&format!(
            "The shower table has changed from {edition} to {}: the sky over the frames is computed again, once.",
            current_edition()
        ));
    }
    let progress = Progress::new("frames", setting.quiet);
    let renewed = setting.open(Purpose::Change).and_then(|mut catalogue| {
        renew_skies(&mut catalogue, &mut |done, of| progress.at(done, of))
    });
    progress.end();
    if let Err(failure) = renewed {
        print::complain(&format!(
            "The sky over some frames still follows shower table {edition}, or is missing: {}. It is computed again by the \
             next command that can write to the catalogue.",
            failure.message
        ));
    }
}
