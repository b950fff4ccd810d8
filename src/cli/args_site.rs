//! Words of the `site` command. Decides nothing.

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;

use crate::cli::args_form::ListArgs;
use crate::cli::args_form::ROW_FORMS;
use crate::cli::values;
use crate::cli::values::words;
use crate::framelist::Format;

/// Commands of the site book.
#[derive(Debug, Subcommand)]
pub enum SiteCommand {
    /// Add a site
    Add(SiteAddArgs),
    /// List the sites
    List(ListArgs),
    /// State where the frames of a session or a dump were taken, and recompute their sky
    Assign(SiteAssignArgs),
    /// Change a site, and recompute the sky of its frames
    Change(SiteChangeArgs),
    /// Remove a site, after saying what would change; frames that were assigned to it lose their place
    Remove(SiteRemoveArgs),
    /// Place frames by a recorded track (GPX)
    Track(SiteTrackArgs),
}

/// Arguments of `site add`.
#[derive(Args, Debug)]
pub struct SiteAddArgs {
    /// The name you use for it
    #[arg(value_name = "NAME")]
    pub name: String,

    /// Latitude: 31.45S, -31.45 or 31°27'S
    #[arg(long, value_name = "LATITUDE", allow_hyphen_values = true)]
    pub lat: String,

    /// Longitude: 70.72W, -70.72 or 70°43'W
    #[arg(long, value_name = "LONGITUDE", allow_hyphen_values = true)]
    pub lon: String,

    /// Elevation in metres [default: sea level, which moves a radiant's altitude by less than 0.1″]
    #[arg(long, value_name = "METRES", allow_hyphen_values = true, value_parser = values::metres)]
    pub elevation: Option<f64>,

    /// IANA time zone, such as America/Santiago [default: from the coordinates]
    #[arg(long, value_name = "ZONE")]
    pub zone: Option<String>,

    /// How dark its sky is
    #[command(flatten)]
    pub brightness: BrightnessArgs,
}

/// How dark a site's sky is on a moonless night.
#[derive(Args, Debug)]
pub struct BrightnessArgs {
    /// Brightness of the sky at the zenith in mag/arcsec², as meters show it
    #[arg(long, value_name = "MAG", conflicts_with = "limiting_magnitude", allow_hyphen_values = true, value_parser = values::sky_brightness)]
    pub sky_brightness: Option<f64>,

    /// Magnitude of the faintest star you see there, instead
    #[arg(long, value_name = "MAG", allow_hyphen_values = true, value_parser = values::magnitude)]
    pub limiting_magnitude: Option<f64>,
}

/// Arguments of `site change`.
#[derive(Args, Debug)]
pub struct SiteChangeArgs {
    /// The site's name
    #[arg(value_name = "NAME")]
    pub site: String,

    /// The new name
    #[arg(long, value_name = "NAME")]
    pub name: Option<String>,

    /// The new latitude
    #[arg(long, value_name = "LATITUDE", allow_hyphen_values = true)]
    pub lat: Option<String>,

    /// The new longitude
    #[arg(long, value_name = "LONGITUDE", allow_hyphen_values = true)]
    pub lon: Option<String>,

    /// The new elevation in metres
    #[arg(long, value_name = "METRES", allow_hyphen_values = true, value_parser = values::metres)]
    pub elevation: Option<f64>,

    /// The new IANA time zone
    #[arg(long, value_name = "ZONE", allow_hyphen_values = true)]
    pub zone: Option<String>,

    /// How dark its sky is
    #[command(flatten)]
    pub brightness: BrightnessArgs,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Arguments of `site remove`.
#[derive(Args, Debug)]
pub struct SiteRemoveArgs {
    /// The site's name
    #[arg(value_name = "NAME")]
    pub site: String,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,

    /// Do not ask
    #[arg(long, conflicts_with = "dry_run")]
    pub yes: bool,
}

/// Arguments of `site track`.
#[derive(Args, Debug)]
#[command(group = clap::ArgGroup::new("which").required(true))]
pub struct SiteTrackArgs {
    /// The track file: GPX 1.1
    #[arg(value_name = "FILE", group = "which")]
    pub file: Option<PathBuf>,

    /// List the tracks
    #[arg(long, group = "which")]
    pub list: bool,

    /// Remove a track, by its name in the list: track-1
    #[arg(long, value_name = "TRACK", group = "which")]
    pub remove: Option<String>,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,

    /// The format of the list
    #[arg(long = "as", value_parser = words(ROW_FORMS), default_value = "table")]
    pub form: Format,
}

/// Arguments of `site assign`.
#[derive(Args, Debug)]
#[command(group = clap::ArgGroup::new("whose").required(true).multiple(true))]
pub struct SiteAssignArgs {
    /// The site's name
    #[arg(value_name = "NAME")]
    pub name: String,

    /// The session's number; may be given more than once
    #[arg(long, value_name = "NUMBER", group = "whose", allow_negative_numbers = true, value_parser = values::session)]
    pub session: Vec<i64>,

    /// The dump's label; may be given more than once
    #[arg(long, value_name = "LABEL", group = "whose")]
    pub dump: Vec<String>,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}
