//! Small invented archives: cards of two bodies around the night on which Rome's clocks are put back, with statements about them.

use framefall::catalogue::file_rows::NewFile;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::read::Scope;
use framefall::terms::basis::ClockTag;
use framefall::terms::basis::Health;
use framefall::terms::basis::Kind;
use framefall::terms::clock::Before;
use framefall::terms::records::CaptureRecord;
use framefall::terms::records::FileReading;
use framefall::terms::statement::Act;
use framefall::terms::time::Utc;
use framefall::terms::time::WallTime;
use framefall::terms::trail::Judgement;
use framefall::terms::trail::MeteorShower;
use framefall::terms::trail::PicturePoint;
use framefall::terms::trail::TrailEnds;
use framefall::terms::trail::TrailIs;
use framefall::usecase::clocks::limits::Limits;
use framefall::usecase::clocks::shown::FixOrder;
use framefall::usecase::clocks::shown::Showed;
use framefall::usecase::clocks::state::ZoneOrder;
use framefall::usecase::clocks::state::state_fix;
use framefall::usecase::clocks::state::state_zone;
use framefall::usecase::clocks::state::take_back;
use framefall::usecase::derive::evenings::Deriver;
use framefall::usecase::derive::rederive::Mode;
use framefall::usecase::listings::frames::compile;
use framefall::usecase::looking::mark::LookSaid;
use framefall::usecase::looking::mark::frames_of;
use framefall::usecase::looking::mark::mark_frames;
use framefall::usecase::looking::trails::TrailNumbers;
use framefall::usecase::looking::trails::add_trail;
use framefall::usecase::looking::trails::judge_trails;
use framefall::usecase::marks::Said;
use framefall::usecase::marks::mark_session;
use framefall::usecase::sites::book::StatedSite;
use framefall::usecase::sites::book::add_site;
use framefall::usecase::sites::book::assign_site;
use framefall::usecase::sites::tracks::state_track;
use proptest::prelude::*;
use std::path::Path;

use crate::clock_archive::derive_and_group;

/// A statement, or a removal of one.
#[derive(Clone, Debug)]
pub enum Statement {
    Fix(i64, i64, bool),
    /// Limited to some files of a session.
    FixOf(i64, i64, i64),
    Zone(&'static str, Option<i64>),
    Unsaid(usize),
    Site(f64),
    Assign(i64),
    Kind(i64, Kind),
    Focal(i64, f64),
    Look(i64, LookSaid),
    Trail(i64, i64, Option<Judgement>),
    Track(f64),
}

/// A card: its body, its first reading in minutes after the first evening's noon, how far north its receiver was of the first
/// site in degrees, its frames' step in minutes.
#[derive(Clone, Debug)]
pub struct Card {
    pub body: &'static str,
    pub minute: i64,
    pub north_deg: Option<f64>,
    pub step: i64,
    pub writes_offset: bool,
}

fn reading(minute: i64) -> WallTime {
    // The next night Rome's clocks are put back: hours of it happen twice.
    let noon = WallTime::parse("2023-10-28T12:00:00").unwrap();
    noon.plus_ms(minute * 60_000).unwrap()
}

/// Takes a card in, as an ingest does.
pub fn ingest(catalogue: &mut Catalogue, number: usize, card: &Card) {
    let mut batch = catalogue.batch().unwrap();
    let mut deriver = Deriver::new(&batch).unwrap();
    let now = Utc::parse("2024-01-01T00:00:00Z").unwrap();
    let root = format!("/laws/{number}");
    let dump = batch.ensure_dump(Path::new(&root), now).unwrap();
    let folder = batch
        .ensure_folder(dump.dump_id, Path::new("DCIM"))
        .unwrap();
    for i in 0..9_i32 {
        let record = CaptureRecord {
            clock_local: Some(reading(card.minute + i64::from(i) * card.step)),
            clock_source: Some(ClockTag::Original),
            utc_offset_s: card.writes_offset.then_some(3600),
            make: Some("Nocturne".into()),
            serial: Some(card.body.into()),
            exposure_s: Some(if i == 4 { 30.0 } else { 15.0 }),
            iso: Some(3200.0),
            focal_mm: Some(if i < 6 { 20.0 } else { 35.0 }),
            gps_lat_deg: card.north_deg.map(|deg| 41.9 + deg + f64::from(i) * 0.004),
            gps_lon_deg: card.north_deg.map(|_| 12.5),
            ..CaptureRecord::default()
        };
        let file = FileReading {
            format: "dng",
            record: record.clone(),
            health: Health::Sound,
            fingerprint: None,
            thumbnail: None,
            preview: None,
            findings: Vec::new(),
            bytes_read: 0,
        };
        let camera = batch.ensure_camera(&record).unwrap();
        let name = format!("L_{:04}.DNG", number * 100 + usize::try_from(i).unwrap());
        let new = NewFile {
            folder_id: folder,
            name: name.as_ref(),
            bytes: 1,
            modified_ns: 0,
            reading: &file,
        };
        let frame_id = batch.add_frame(camera, new).unwrap();
        batch.mark_frames_pending(&[frame_id]).unwrap();
    }
    deriver.mark_read_otherwise(&batch).unwrap();
    batch.commit().unwrap();
    derive_and_group(catalogue, deriver);
}

/// Marks some frames of a session as looked at or chosen.
fn state_look(catalogue: &mut Catalogue, session: i64, said: &LookSaid) {
    let query = format!("session = {session} and seq in 2..4");
    let frames = frames_of(catalogue, &compile(&query).unwrap().tree).unwrap();
    mark_frames(catalogue, &frames, said, Mode::Lasting).unwrap();
}

/// Adds a trail to the second frame of a session, or takes away what is judged of its trails.
fn state_trail(catalogue: &mut Catalogue, session: i64, at: i64, judged: Option<Judgement>) {
    let query = format!("session = {session} and seq = 2");
    let frames = frames_of(catalogue, &compile(&query).unwrap().tree).unwrap();
    let Some(frame_id) = frames.first() else {
        return;
    };
    if let Some(judged) = judged {
        let ends = TrailEnds {
            from: PicturePoint::from_parts(at, 3),
            to: PicturePoint::from_parts(50_025, at),
        };
        add_trail(catalogue, *frame_id, ends, judged, Mode::Lasting).unwrap();
    } else {
        let stated = catalogue.trails_of(*frame_id).unwrap();
        let numbers = TrailNumbers {
            stated: stated.iter().map(|trail| trail.trail_id).collect(),
            candidates: Vec::new(),
        };
        judge_trails(catalogue, &numbers, None, Mode::Lasting).unwrap();
    }
}

/// States something; whether it was accepted does not matter.
#[allow(clippy::too_many_lines)] // a case for each kind of statement
pub fn state(
    catalogue: &mut Catalogue,
    folder: &Path,
    names: &mut Vec<String>,
    statement: &Statement,
) {
    let quiet = &mut |_, _| {};
    let stated = match statement {
        Statement::Fix(minute, fast_s, reset) => {
            let shown = reading(*minute);
            let at = Utc::from_unix_ms(shown.reading_ms() - 3_600_000 - fast_s * 1000).unwrap();
            let order = FixOrder {
                camera: Some("A"),
                showed: Showed::Reading(&shown.to_string()),
                true_utc: &at.to_string(),
                before: if *reset { Before::Reset } else { Before::RanOn },
                limits: Limits::default(),
                now: Utc::parse("2030-01-01T00:00:00Z").unwrap(),
            };
            state_fix(catalogue, &order, Mode::Lasting, quiet)
        }
        Statement::FixOf(session, minute, fast_s) => {
            let shown = reading(*minute);
            let at = Utc::from_unix_ms(shown.reading_ms() - 3_600_000 - fast_s * 1000).unwrap();
            let order = FixOrder {
                camera: None,
                showed: Showed::Reading(&shown.to_string()),
                true_utc: &at.to_string(),
                before: Before::RanOn,
                limits: Limits {
                    sessions: &[*session],
                    files: Some("L_0000.DNG..L_0105.DNG"),
                    ..Limits::default()
                },
                now: Utc::parse("2030-01-01T00:00:00Z").unwrap(),
            };
            state_fix(catalogue, &order, Mode::Lasting, quiet)
        }
        Statement::Zone(zone, day) => {
            let from = day.map(|day| reading(day * 1_440).to_string());
            let order = ZoneOrder {
                camera: "B",
                zone,
                limits: Limits {
                    from: from.as_deref(),
                    ..Limits::default()
                },
            };
            state_zone(catalogue, &order, Mode::Lasting, quiet)
        }
        Statement::Unsaid(at) => {
            if names.is_empty() {
                return;
            }
            let name = names.remove(at % names.len());
            let _ = take_back(catalogue, &name, Mode::Lasting, quiet);
            return;
        }
        Statement::Site(north_deg) => {
            let lat = format!("{:.4}N", 41.9 + north_deg);
            let site = StatedSite {
                name: &lat,
                lat: &lat,
                lon: "12.5E",
                elev_m: Some(300.0),
                zone: None,
                brightness: None,
            };
            let _ = add_site(catalogue, &site, quiet);
            return;
        }
        Statement::Assign(session) => {
            let sites = catalogue.sites().unwrap();
            if let Some(site) = sites.first() {
                let scope = [Scope::Session(*session)];
                let _ = assign_site(catalogue, &site.name, &scope, Mode::Lasting, quiet);
            }
            return;
        }
        Statement::Kind(session, kind) => {
            let said = Said {
                acts: &[Act::Kind(Some(*kind))],
                frames: Some("1..2"),
            };
            let _ = mark_session(catalogue, *session, &said);
            return;
        }
        Statement::Focal(session, mm) => {
            let said = Said {
                acts: &[Act::Focal(Some(*mm))],
                frames: Some("2..3"),
            };
            let _ = mark_session(catalogue, *session, &said);
            return;
        }
        Statement::Look(session, said) => {
            state_look(catalogue, *session, said);
            return;
        }
        Statement::Trail(session, at, judged) => {
            state_trail(catalogue, *session, *at, *judged);
            return;
        }
        Statement::Track(north_deg) => {
            let path = folder.join(format!("track{north_deg}.gpx"));
            let point = |time: &str, deg: f64| {
                format!(
                    "<trkpt lat=\"{deg}\" lon=\"12.5\"><ele>310</ele><time>{time}</time></trkpt>"
                )
            };
            let first = point("2023-10-28T18:00:00Z", 41.9 + north_deg);
            let last = point("2023-10-29T04:00:00Z", 41.91 + north_deg);
            let text = format!(
                "<gpx version=\"1.1\" creator=\"x\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>{first}{last}</trkseg></trk></gpx>"
            );
            std::fs::write(&path, text).unwrap();
            let _ = state_track(catalogue, &path, Mode::Lasting, quiet);
            return;
        }
    };
    names.extend(stated.ok().map(|stated| stated.name));
}

pub fn cards() -> impl Strategy<Value = Vec<Card>> {
    let card = (
        prop::sample::select(vec!["A", "B"]),
        0_i64..3_000,
        prop::option::of(prop::sample::select(vec![0.0, 0.02, 0.035, 0.05, 1.0])),
        prop::sample::select(vec![1_i64, 7, 20]),
        any::<bool>(),
    )
        .prop_map(|(body, minute, north_deg, step, writes_offset)| Card {
            body,
            minute,
            north_deg,
            step,
            writes_offset,
        });
    prop::collection::vec(card, 1..5)
}

pub fn statements() -> impl Strategy<Value = Vec<Statement>> {
    let kinds = vec![Kind::Light, Kind::Dark, Kind::Flat, Kind::Trial];
    prop::collection::vec(
        prop_oneof![
            (0_i64..3_000, -5_000_i64..5_000, any::<bool>())
                .prop_map(|(at, fast_s, reset)| Statement::Fix(at, fast_s, reset)),
            (1_i64..6, 0_i64..3_000, -90_000_i64..90_000)
                .prop_map(|(session, at, fast_s)| Statement::FixOf(session, at, fast_s)),
            (
                prop::sample::select(vec!["UTC", "Europe/Rome", "+05:45"]),
                prop::option::of(0_i64..3)
            )
                .prop_map(|(zone, day)| Statement::Zone(zone, day)),
            (0_usize..5).prop_map(Statement::Unsaid),
            prop::sample::select(vec![0.01, 0.03, 0.06]).prop_map(Statement::Site),
            (1_i64..6).prop_map(Statement::Assign),
            (1_i64..6, prop::sample::select(kinds))
                .prop_map(|(at, kind)| Statement::Kind(at, kind)),
            (1_i64..6, prop::sample::select(vec![14.0, 20.0]))
                .prop_map(|(at, mm)| Statement::Focal(at, mm)),
            (
                1_i64..6,
                any::<Option<bool>>(),
                any::<Option<Option<bool>>>(),
                any::<Option<Option<bool>>>()
            )
                .prop_map(|(at, looked, chosen, noted)| {
                    let words = |dew: bool| if dew { "dew" } else { "fireball" }.to_owned();
                    let note = noted.map(|noted| noted.map(words));
                    Statement::Look(
                        at,
                        LookSaid {
                            looked,
                            chosen,
                            note,
                        },
                    )
                }),
            (
                1_i64..6,
                100_i64..102,
                prop::option::of(prop::sample::select(TrailIs::ALL.to_vec())),
                any::<bool>()
            )
                .prop_map(|(at, x, is, is_known)| {
                    let gem = MeteorShower::from_word("GEM")
                        .filter(|_| is_known && is == Some(TrailIs::Meteor));
                    Statement::Trail(at, x, is.map(|is| Judgement { is, shower: gem }))
                }),
            prop::sample::select(vec![0.0, 0.04]).prop_map(Statement::Track),
        ],
        0..7,
    )
}
