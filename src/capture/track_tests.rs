use super::*;

const HEAD: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="a receiver" xmlns="http://www.topografix.com/GPX/1/1">
<metadata><name>Up &amp; down</name></metadata>
<trk><name>night</name>
"#;

fn refused(text: &str) -> NoTrack {
    parse_track(text).unwrap_err()
}

fn gpx(segments: &str) -> String {
    format!("{HEAD}{segments}\n</trk></gpx>\n")
}

fn point(lat: &str, lon: &str, time: &str) -> String {
    format!("<trkpt lat=\"{lat}\" lon='{lon}'><ele>2400.5</ele><time>{time}</time></trkpt>\n")
}

#[test]
fn a_track_is_read_point_by_point() {
    let text = gpx(&format!(
        "<trkseg>{}{}</trkseg><trkseg>{}<trkpt lat='46' lon='7'/></trkseg>",
        point("46.5", "-7.25", "2023-12-14T00:00:00Z"),
        point("46.6", "-7.25", "2023-12-14T01:00:01.5+01:00"),
        point("46.7", "-7.25", "2023-12-14T00:10:00"),
    ));
    let read = parse_track(&text).unwrap();
    assert_eq!(read.timeless, 1);
    let at: Vec<String> = read.points.iter().map(|p| p.at.to_string()).collect();
    assert_eq!(
        at,
        [
            "2023-12-14T00:00:00.000Z",
            "2023-12-14T00:00:01.500Z",
            "2023-12-14T00:10:00.000Z"
        ]
    );
    assert_eq!(read.points[2].segment, 1);
    assert!((read.points[0].lat_deg - 46.5).abs() < 1e-12);
    assert!((read.points[0].lon_deg + 7.25).abs() < 1e-12);
    assert_eq!(read.points[0].elev_m, Some(2400.5));
}

#[test]
fn tracks_in_any_order_are_put_in_order_of_time() {
    let text = gpx(&format!(
        "<trkseg>{}</trkseg><trkseg>{}</trkseg>",
        point("46.7", "7", "2023-12-14T03:00:00Z"),
        point("46.5", "7", "2023-12-14T00:00:00Z"),
    ));
    let read = parse_track(&text).unwrap();
    assert!((read.points[0].lat_deg - 46.5).abs() < 1e-12);
    assert!(read.points.is_sorted_by_key(|p| p.at));
}

#[test]
fn bad_tracks_are_refused_with_their_line() {
    let good = point("46.5", "7", "2023-12-14T00:00:10Z");
    let earlier = point("46.5", "7", "2023-12-14T00:00:09Z");
    for (text, line, why) in [
        (
            gpx(&format!("<trkseg>{good}{earlier}</trkseg>")),
            Some(6),
            "backwards",
        ),
        (
            gpx("<trkseg><trkpt lat='46' lon='7'></trkpt></trkseg>"),
            None,
            "has a time",
        ),
        (gpx(""), None, "no track points"),
        (
            gpx(&format!(
                "<trkseg>{}</trkseg>",
                point("116", "38", "2023-12-14T00:00:00Z")
            )),
            Some(5),
            "beyond 90",
        ),
        (
            gpx(&format!(
                "<trkseg>{}</trkseg>",
                point("NaN", "38", "2023-12-14T00:00:00Z")
            )),
            Some(5),
            "beyond",
        ),
        (
            gpx(&format!(
                "<trkseg>{}</trkseg>",
                point("x", "38", "2023-12-14T00:00:00Z")
            )),
            Some(5),
            "is not a number",
        ),
        (
            gpx(&format!(
                "<trkseg>{}</trkseg>",
                point("1", "38", "yesterday")
            )),
            Some(5),
            "not a valid time",
        ),
        (
            gpx("<trkseg><trkpt lat='1'><time>2023-12-14T00:00:00Z</time></trkpt></trkseg>"),
            Some(5),
            "no lon",
        ),
        (
            gpx(&format!("<trkseg>{good}</trkseg><trkseg>{good}</trkseg>")),
            None,
            "overlap",
        ),
        (format!("{HEAD}<trkseg>{good}"), None, "cut off"),
        (
            format!("{HEAD}<trkseg>{good}<trkpt lat=\"46."),
            None,
            "broken",
        ),
        (
            format!("{HEAD}<trkseg>{good}</trk></gpx>"),
            Some(6),
            "broken",
        ),
        ("<kml></kml>".to_owned(), Some(1), "<kml>"),
        (String::new(), Some(1), "no <gpx>"),
        ("GPS week 2292\n".to_owned(), None, "no <gpx>"),
        (format!("<gpx>{}", "<a>".repeat(100)), Some(1), "deep"),
    ] {
        let said = refused(&text);
        assert!(said.why.contains(why), "{why}: {said:?}");
        if line.is_some() {
            assert_eq!(said.line, line, "{said:?}");
        }
    }
}

#[test]
fn entity_bombs_are_refused_unexpanded() {
    let mut bomb =
        String::from("<?xml version=\"1.0\"?>\n<!DOCTYPE gpx [\n<!ENTITY a0 \"boom\">\n");
    for i in 1..20 {
        let tenfold = format!("&a{};", i - 1).repeat(10);
        bomb.extend(["<!ENTITY a", &i.to_string(), " \"", &tenfold, "\">\n"]);
    }
    bomb.push_str("]>\n<gpx><trk><name>&a19;</name></trk></gpx>");
    assert!(refused(&bomb).why.contains("document type"));
    let reference = gpx("<trkseg><trkpt lat='1' lon='1'><time>&a19;</time></trkpt></trkseg>");
    assert!(refused(&reference).why.contains("not a valid time"));
}

proptest::proptest! {
    #[test]
    fn no_damage_makes_it_panic(cut in 0_usize..600, at in 0_usize..600, byte in proptest::prelude::any::<u8>()) {
        let text = gpx(&format!(
            "<trkseg>{}{}</trkseg>",
            point("46.5", "-7.25", "2023-12-14T00:00:00Z"),
            point("46.6", "-7.25", "2023-12-14T00:00:05Z"),
        ));
        let mut bytes = text.into_bytes();
        let length = bytes.len();
        bytes[at % length] = byte;
        bytes.truncate(length.min(cut + 1).max(1));
        let _ = parse_track(&String::from_utf8_lossy(&bytes));
    }
}
