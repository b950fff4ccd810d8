//! Stores worlds in a catalogue, by the code of an ingest.

use std::path::Path;
use std::sync::atomic::AtomicBool;

use framefall::catalogue::file_rows::NewFile;
use framefall::catalogue::handle::Catalogue;
use framefall::terms::basis::ClockTag;
use framefall::terms::basis::Health;
use framefall::terms::records::CaptureRecord;
use framefall::terms::records::FileReading;
use framefall::terms::site::Place;
use framefall::terms::site::Site;
use framefall::terms::site::SiteOrigin;
use framefall::terms::time::Utc;
use framefall::terms::time::WallTime;
use framefall::usecase::derive::evenings::Deriver;
use framefall::usecase::derive::pending::derive_pending;
use framefall::usecase::derive::regroup::regroup;

use super::Body;
use super::Cards;
use super::Shot;
use super::World;

/// Stores worlds in a catalogue.
pub fn fill(catalogue: &mut Catalogue, worlds: &[World]) {
    for world in worlds {
        let site = catalogue
            .add_site(&Site {
                id: 0,
                name: format!("Site {}", world.bodies[0].serial),
                place: Place::new(world.place.0, world.place.1, 0.0).expect("a place"),
                zone: Some(world.zone.into()),
                origin: SiteOrigin::Stated,
                brightness: None,
            })
            .expect("a site");
        let mut batch = catalogue.batch().expect("a batch");
        let mut deriver = Deriver::new(&batch).expect("a deriver");
        for body in &world.bodies {
            let mut number = 1;
            for (night, run) in body.runs.iter().enumerate() {
                let dump = match body.cards {
                    Cards::One => format!("/worlds/{}", body.serial),
                    _ => format!("/worlds/{}-{night}", body.serial),
                };
                if body.cards == Cards::EachFromOne {
                    number = 1;
                }
                let now = Utc::parse("2026-01-01T00:00:00Z").expect("an instant");
                let dump = batch.ensure_dump(Path::new(&dump), now).expect("a dump");
                let folder_id = batch
                    .ensure_folder(dump.dump_id, Path::new("DCIM/100NIGHT"))
                    .expect("a folder");
                for shot in &run.shots {
                    let reading = reading(body, shot);
                    let camera = batch.ensure_camera(&reading.record).expect("a body");
                    let name = format!("NITE{number:04}.DNG");
                    let file = NewFile {
                        folder_id,
                        name: name.as_ref(),
                        bytes: 50_000_000,
                        modified_ns: 0,
                        reading: &reading,
                    };
                    let frame_id = batch.add_frame(camera, file).expect("a frame");
                    batch.state_place(frame_id, site).expect("a statement");
                    batch.mark_frames_pending(&[frame_id]).expect("a note");
                    number += 1;
                }
            }
        }
        batch.commit().expect("a batch");
        let stop = AtomicBool::new(false);
        derive_pending(
            catalogue,
            &mut deriver,
            &stop,
            &mut |_, _| {},
            &mut |_, _| {},
        )
        .expect("skies");
        regroup(catalogue, &deriver.touched, None).expect("sessions");
    }
}

fn reading(body: &Body, shot: &Shot) -> FileReading {
    let seed = format!("{}{}", body.serial, shot.reading);
    let mut fingerprint = [0; 16];
    fingerprint.copy_from_slice(&blake3::hash(seed.as_bytes()).as_bytes()[..16]);
    FileReading {
        format: "dng",
        record: CaptureRecord {
            clock_local: WallTime::parse(&shot.reading.to_string()),
            clock_source: Some(ClockTag::Original),
            make: Some("Nocturne".into()),
            model: Some("N6".into()),
            serial: Some(body.serial.clone()),
            exposure_s: Some(shot.exposure_s),
            iso: Some(shot.iso),
            focal_mm: Some(20.0),
            ..CaptureRecord::default()
        },
        health: Health::Sound,
        fingerprint: Some(fingerprint),
        thumbnail: None,
        preview: None,
        findings: Vec::new(),
        bytes_read: 0,
    }
}
