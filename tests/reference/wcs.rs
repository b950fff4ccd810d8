//! Headers of FITS files: those of astropy read as astropy reads them, ours as astropy reads them.

use std::path::Path;

use framefall::pointing::camera::Camera;
use framefall::pointing::law::Law;
use framefall::pointing::lens::Lens;
use framefall::pointing::vector::angle_rad;
use framefall::pointing::vector::from_angles_rad;
use framefall::pointing::vector::turned_further;
use framefall::pointing::wcs::cards::Cards;
use framefall::pointing::wcs::cards::Value;
use framefall::pointing::wcs::cards::headers;
use framefall::pointing::wcs::fitted::Rows;
use framefall::pointing::wcs::fitted::camera_of;
use framefall::pointing::wcs::header::wcs_of;
use framefall::pointing::wcs::written::written;

/// A row of a table of astropy's: a file, a pixel, a direction.
struct Row {
    file: String,
    pixel: (f64, f64),
    direction: [f64; 3],
}

fn bytes(name: &str) -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/wcs");
    std::fs::read(folder.join(name)).unwrap()
}

fn rows(name: &str) -> Vec<Row> {
    let text = String::from_utf8(bytes(name)).unwrap();
    let row = |line: &str| {
        let mut cells = line.split(',');
        let file = cells.next().unwrap().to_owned();
        let mut number = || cells.next().unwrap().trim().parse::<f64>().unwrap();
        let pixel = (number(), number());
        let (ra, dec) = (number().to_radians(), number().to_radians());
        Row {
            file,
            pixel,
            direction: from_angles_rad(ra, dec),
        }
    };
    text.lines().skip(1).map(row).collect()
}

/// Every pixel of twelve headers is where astropy puts it; a camera of ours draws them all, in the right order of rows.
#[test]
fn headers_of_astropy_are_read_as_astropy_reads_them() {
    let rows = rows("directions.csv");
    assert_eq!(rows.len(), 84);
    for row in &rows {
        let wcs = wcs_of(&headers(&bytes(&format!("{}.fits", row.file))).unwrap()).unwrap();
        let off = angle_rad(wcs.direction(row.pixel).unwrap(), row.direction).to_degrees();
        assert!(off * 3600.0 < 1e-3, "{} {:?} {off}", row.file, row.pixel);
        let found = camera_of(&wcs, (1620.0, 1080.0)).unwrap();
        // The fifth power of the polynomial and the crossed terms of the distortion are not ours: some pixels are left.
        let most_px = match row.file.as_str() {
            "tan-sip" | "zpn" => 2.5,
            _ => 0.1,
        };
        assert!(
            found.residual_px < most_px,
            "{} {}",
            row.file,
            found.residual_px
        );
        let top_first = row.file == "top-first";
        assert_eq!(found.rows == Rows::TopFirst, top_first, "{}", row.file);
        let (x, y) = found.camera.project(row.direction).unwrap();
        let down = if top_first {
            row.pixel.1 - 1.0
        } else {
            1080.0 - row.pixel.1
        };
        let off_px = (x - (row.pixel.0 - 1.0)).hypot(y - down);
        assert!(off_px < 4.0 * most_px, "{} {off_px}", row.file);
    }
}

pub fn cameras() -> [(&'static str, Camera); 3] {
    [
        ("rectilinear", Law::Rectilinear, 2_333.0, (0.0, 0.0)),
        ("distorted", Law::Rectilinear, 2_333.0, (-0.03, 0.008)),
        ("equisolid", Law::Equisolid, 2_100.0, (0.01, 0.0)),
    ]
    .map(|(name, law, f_px, distortion)| {
        let mut lens = Lens::plain(law, f_px, (6000.0, 4000.0));
        (lens.k1, lens.k2) = distortion;
        (lens.cx, lens.cy) = (3007.0, 1991.5);
        let still = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        let rows = turned_further(&still, [0.7, -0.4, 1.9]);
        (name, Camera { lens, rows })
    })
}

/// The headers that astropy read are those that are written now, and astropy puts their pixels where the camera does.
#[test]
fn astropy_reads_our_headers_as_they_are_meant() {
    let rows = rows("written.csv");
    for (name, camera) in cameras() {
        let kept = headers(&bytes(&format!("written-{name}.fits"))).unwrap();
        let now = headers(&written(&camera, "N6A_0442.DNG").unwrap()).unwrap();
        alike(&kept[0], &now[0]);
        let mut pixels = 0;
        for row in rows.iter().filter(|row| row.file == name) {
            let ours = camera.unproject(row.pixel).unwrap();
            let off_px = angle_rad(ours, row.direction) * camera.lens.f_px;
            assert!(off_px < 0.05, "{name} {:?} {off_px}", row.pixel);
            pixels += 1;
        }
        assert_eq!(pixels, 6, "{name}");
    }
}

/// The same cards, numbers to the last digits but three.
fn alike(a: &Cards, b: &Cards) {
    assert_eq!(a.all().count(), b.all().count());
    for ((keyword, one), (other_keyword, other)) in a.all().zip(b.all()) {
        assert_eq!(keyword, other_keyword);
        match (one, other) {
            (Value::Number(one), Value::Number(other)) => {
                let close = (one - other).abs() <= 1e-9 * one.abs().max(1e-9);
                assert!(close, "{keyword} {one} {other}");
            }
            _ => assert_eq!(one, other, "{keyword}"),
        }
    }
}
