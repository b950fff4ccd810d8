//! Asks before something is removed. Removes nothing.

use std::io::BufRead;
use std::io::IsTerminal;

use crate::cli::print;
use crate::terms::failure::Failure;

/// Whether the photographer agrees: `--yes`, or a `y` at the terminal.
///
/// Refuses: to go on where nobody can be asked.
pub fn confirmed(yes: bool, question: &str) -> Result<bool, Failure> {
    if yes {
        return Ok(true);
    }
    if !std::io::stdin().is_terminal() {
        return Err(Failure::words(
            "nothing was removed: this must be confirmed, and there is no terminal to ask at",
        )
        .hint("add --yes"));
    }
    print::warn(&format!("{question} [y/N]"));
    let mut answer = String::new();
    // An end of input is a no.
    let _ = std::io::stdin().lock().read_line(&mut answer);
    let answer = answer.trim().to_lowercase();
    let is_yes = matches!(answer.as_str(), "y" | "yes");
    if !is_yes {
        print::warn("nothing was removed");
    }
    Ok(is_yes)
}
