//! Rows to a page: the night for a photographer to look at. No SQL, no formula of the sky, nothing loaded from
//! elsewhere.
//!
//! ```text
//! night       rows -> NightReport: the sums     axis     time along a line, and its clock
//! plot        altitudes of a night -> SVG       strip    one session close up      lane   frames along a line
//! dome        paths over the sky -> SVG         pictures a picture -> text for a page
//! seen        what is shown in pictures         marked   a picture with signs over it
//! sky_state   clear sky, width of stars -> SVG  trail_chart  trails about a radiant -> SVG
//! page        NightReport -> HTML               session_page, meteors_page, tables, words  its parts
//! terminal    the same night as a few lines of text
//! lenses      width of stars by aperture -> SVG
//! season      years of nights -> HTML           html     elements and escaping: the only file that writes a tag
//! ```
//!
//! A page is one file: no script, no font, nothing from a network. Each plot is drawn twice, for wide and for narrow
//! screens, and the style sheet shows the one that fits.

pub mod axis;
mod dome;
mod html;
mod lane;
mod lenses;
pub mod look_map;
mod marked;
mod meteors_page;
pub mod night;
pub mod page;
pub mod peaks;
mod pictures;
mod plot;
pub mod season;
pub mod seen;
mod session_page;
mod session_showers;
mod shapes;
mod sky_state;
mod strip;
mod tables;
pub mod terminal;
mod trail_chart;
pub mod trail_picture;
pub mod words;
