//! The words of `framefall copy`. Decides nothing.

use std::path::PathBuf;

use clap::Args;

/// Arguments of `copy`.
#[derive(Args, Debug)]
#[command(
    after_long_help = "Every file is read once, written beside its place, brought to the disk, read back past the cache and compared; only \
    then it gets its name. Nothing on the card is changed and nothing at a target is replaced. The same command carries on \
    where a run was stopped.\n\nA file is 'verified' when it was read back from the device, and 'copied' where the device cannot \
    be asked. Beside each target a list of hashes is written for sha256sum --check.\n\n\
    Examples:\n  framefall copy /media/CARD --to /photos/quadrantids --to /mnt/second/quadrantids\n  \
    framefall copy /media/A /media/B --label body-a --label body-b --to /photos/2026"
)]
pub struct CopyArgs {
    /// The memory cards, or folders copied off them; they are only read
    #[arg(required = true, value_name = "CARD")]
    pub cards: Vec<PathBuf>,

    /// A folder to copy to; give it once for each copy. One card fills the folder itself, several a folder each within it
    #[arg(long, required = true, value_name = "DIR")]
    pub to: Vec<PathBuf>,

    /// The label of the dump; with several cards once for each, in their order [default: the folder's name]
    #[arg(long = "label", value_name = "LABEL")]
    pub labels: Vec<String>,

    /// Do not ingest the copies
    #[arg(long)]
    pub no_ingest: bool,

    /// The site of frames that say no position of their own
    #[arg(long, value_name = "NAME", conflicts_with = "no_ingest")]
    pub site: Option<String>,

    /// Read files back again that are verified already
    #[arg(long)]
    pub again: bool,

    /// Read each file of the card twice and compare: some readers return wrong bytes without an error
    #[arg(long)]
    pub read_twice: bool,

    /// How often to try a spot of the card that cannot be read
    #[arg(long, value_name = "N", default_value_t = 3, value_parser = clap::value_parser!(u32).range(1..=100))]
    pub tries: u32,
}
