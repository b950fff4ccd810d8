//! The words of `framefall look` and `framefall demo`. Decides nothing.

use clap::Args;

/// Arguments of `look`.
#[derive(Args, Debug)]
#[command(
    after_long_help = "The page is served on this computer only, under an address with a random token; nothing is loaded from elsewhere. \
    What you state on it is saved at once, as by framefall frames mark and framefall trails.\n\n\
    Examples:\n  framefall look 2023-12-13\n  framefall look 3 --no-open\n  framefall look 'night = 2023-12-13 and looked = no and kind = light'"
)]
pub struct LookArgs {
    /// The night, as the evening's date, the number of a session, or a query
    #[arg(value_name = "NIGHT|SESSION|QUERY")]
    pub of: String,

    /// Print the address of the page and open no browser
    #[arg(long)]
    pub no_open: bool,

    /// Minutes after the last page was closed until framefall ends
    #[arg(long, value_name = "MINUTES", default_value_t = 10, value_parser = clap::value_parser!(u64).range(1..=1440))]
    pub end_after: u64,
}

/// Arguments of `demo`.
#[derive(Args, Debug)]
pub struct DemoArgs {
    /// Examine the pictures of the demo night, then show the page to look through it
    #[arg(long)]
    pub look: bool,

    /// With --look: print the address of the page and open no browser
    #[arg(long, requires = "look")]
    pub no_open: bool,
}
