//! The demo night for `framefall demo --look`: its files with pictures that can be examined, painted when they are asked for, and
//! the commands that fill the catalogue.

use crate::terms::failure::Failure;
use crate::usecase::looking::stars_over::stars_over;

#[path = "../../../demo-data/make/studio/mod.rs"]
#[allow(dead_code)] // the list of the small files is not asked for here
mod studio;

/// One step of the demo: its description, and the command as typed; an argument with blanks is in double quotes.
pub type Step = (&'static str, &'static str);

/// The first words.
pub const INTRO: &str = "The demo: one invented night of Geminids with its real stars, two bodies, in a throw-away folder.\n\
    Your own catalogue is not touched. The pictures are painted first, which takes some seconds.";

/// What is said before the page.
pub const PAGE_WORDS: &str = "Now the page. Press h on it for its keys.";

/// The commands before the page.
pub const STEPS: &[Step] = &[
    (
        "State where the tripod was.",
        r#"site add "Salt Ridge" --lat 38.93 --lon 116.01W --elevation 1905"#,
    ),
    (
        "Ingest the cards and examine their pictures: stars, pointing, trails. Body B does not know where it was.",
        "ingest --examine cards/geminids-body-a",
    ),
    (
        "",
        r#"ingest --examine --site "Salt Ridge" cards/geminids-body-b"#,
    ),
    (
        "Body B's clock was an hour fast.",
        r#"clock fix 2B-00318 --read "2023-12-13 22:30:21" --true 2023-12-14T05:30:21Z"#,
    ),
    ("Where the cameras pointed.", "pointing 2023-12-13"),
    (
        "Which trails may be meteors?",
        "trails 2023-12-13 --class meteor",
    ),
    (
        "Some of the evening is done already: a meteor, a satellite, the frames before them.",
        "trails add N6A_0431.DNG --from 561.6,312.7 --to 683.6,368 --is meteor --shower GEM",
    ),
    (
        "",
        "trails add N6A_0423.DNG --from 164,253 --to 214.3,222.1 --is satellite",
    ),
    (
        "",
        r#"frames mark "file = N6A_0431.DNG" --chosen yes --note "bright, ends above the ridge""#,
    ),
    (
        "",
        r#"frames mark "session = 2 and seq <= 18" --looked yes"#,
    ),
];

/// Writes a file of a name and its contents.
type Write<'a> = &'a dyn Fn(&str, &[u8]) -> Result<(), Failure>;

/// Gives each file of the night to `write`: its path and its contents.
pub fn each_file(write: Write<'_>) -> Result<(), Failure> {
    let over = |site: &studio::Site, unix_ms: i64| {
        stars_over(unix_ms, (site.lat_deg, site.lon_deg, site.elev_m))
            .into_iter()
            .map(|star| studio::Star {
                towards: star.north_east_up,
                light: star.light,
                tint: [1.0, 0.97, 0.92],
            })
            .collect()
    };
    for dump in [studio::Dump::GeminidsA, studio::Dump::GeminidsB] {
        let files = studio::large_dump_files(dump, &over, &|_| true).map_err(|e| {
            Failure::bug("the demo's pictures could not be painted").hint(e.to_string())
        })?;
        for file in files {
            write(&file.path, &file.bytes)?;
        }
    }
    Ok(())
}
