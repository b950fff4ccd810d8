//! `framefall look`.

use std::time::Duration;

use crate::catalogue::purpose::Purpose;
use crate::cli::args_look::LookArgs;
use crate::cli::commands::changed::open_to_state;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::print::written;
use crate::cli::setting::Setting;
use crate::cli::stop::STOP;
use crate::cli::stop::prepare_for_ctrl_c;
use crate::terms::failure::Failure;
use crate::terms::plural::counted;
use crate::terms::printable::printable;
use crate::usecase::looking::scene::scene;
use crate::web::server::Ended;
use crate::web::server::serve;

/// Runs the command.
pub fn run(setting: &Setting, args: &LookArgs) -> Result<Outcome, Failure> {
    let catalogue = open_to_state(setting, Purpose::Change)?;
    let scene = scene(&catalogue, &args.of)?;
    let about = format!(
        "{}: {}",
        printable(&scene.title),
        counted(scene.frames.len() as u64, "frame")
    );
    prepare_for_ctrl_c()?;
    let quiet = setting.quiet == Quiet::Yes;
    let idle = Duration::from_secs(args.end_after * 60);
    let ended = serve(catalogue, scene, idle, &STOP, |address| {
        if !quiet {
            print::warn(&about);
        }
        print::answer(|out| writeln!(out, "{address}").map_err(written))?;
        if !args.no_open && open::that_detached(address).is_err() {
            print::warn("no browser could be opened; open the address yourself");
        }
        if !quiet {
            print::warn("press Ctrl-C to end");
        }
        Ok(())
    })?;
    if ended == Ended::Idle && !quiet {
        print::warn(&format!(
            "ended: no page was open for {}",
            counted(args.end_after, "minute")
        ));
    }
    Ok(Outcome::Done)
}
