//! Lists as other programs read them: CSV and JSON read back, tables measured, paths byte for byte.
#![allow(clippy::unwrap_used)] // Tests may panic.

use std::io;

use framefall::framelist::Column;
use framefall::framelist::Format;
use framefall::framelist::ListWriter;
use framefall::framelist::columns_for;
use framefall::framelist::is_closed_pipe;
use framefall::terms::column::ColumnSource;
use framefall::terms::failure::FailureKind;
use framefall::terms::field::FIELDS;
use framefall::terms::field_kind::FieldKind;
use framefall::terms::field_radiant::RADIANT_FIELDS;
use framefall::terms::records::Cell;
use framefall::terms::records::FrameFile;
use framefall::terms::records::FrameRow;
use framefall::terms::records::InPicture;
use framefall::terms::records::RadiantSky;
use framefall::terms::shower::ShowerCode;
use proptest::prelude::*;
use unicode_width::UnicodeWidthStr;

fn gem() -> ShowerCode {
    ShowerCode::parse("GEM").unwrap()
}

fn list(format: Format, columns: Vec<Column>, width: Option<usize>, rows: &[FrameRow]) -> Vec<u8> {
    let mut list = ListWriter::new(format, columns, width, Vec::new());
    for row in rows {
        list.row(row).unwrap();
    }
    let written = list.finish().unwrap();
    assert_eq!(written.rows, rows.len() as u64);
    written.out
}

fn text(format: Format, columns: Vec<Column>, width: Option<usize>, rows: &[FrameRow]) -> String {
    String::from_utf8(list(format, columns, width, rows)).unwrap()
}

/// A row with the same text in every text column, and numbers elsewhere.
fn row(columns: &[Column], words: &str) -> FrameRow {
    let cell = |column: &Column| match column.field().kind {
        FieldKind::Text if column.field().key == "zone" => Cell::Text("Europe/Rome".to_owned()),
        FieldKind::Text => Cell::Text(words.to_owned()),
        FieldKind::Words(of) => Cell::Text(of[0].to_owned()),
        FieldKind::Number(_) => Cell::Number(-12.345_678_901),
        FieldKind::Whole(_) => Cell::Whole(4217),
        FieldKind::Instant => Cell::Text("2023-12-14T00:12:07.250Z".to_owned()),
        FieldKind::Reading => Cell::Text("2023-12-14T01:12:07.25".to_owned()),
        FieldKind::Local => Cell::Text("2023-12-14T01:12:07.250+01:00".to_owned()),
        FieldKind::Date => Cell::Text("2023-12-13".to_owned()),
    };
    FrameRow {
        cells: columns.iter().map(cell).collect(),
        path_bytes: b"/cards/a/NITE4217.ARW".to_vec(),
        files: vec![FrameFile {
            path: "/cards/a/\"NITE\"\n4217.ARW".to_owned(),
            format: "arw".to_owned(),
            bytes: 24_000_000,
            health: "sound".to_owned(),
            further_copy: false,
        }],
        radiants: vec![RadiantSky {
            shower: gem(),
            alt_deg: 78.312_345_678,
            az_deg: 180.0,
            seen_alt_deg: 78.7,
            seen_az_deg: 181.25,
            moon_sep_deg: 102.0,
            rate: 117.123_456,
            seen_rate: 41.654_321,
            picture: InPicture {
                inside: Some(true),
                x_px: Some(2_000.126),
                ..InPicture::default()
            },
        }],
        ..FrameRow::default()
    }
}

#[test]
fn every_object_carries_every_key_in_order() {
    let columns = columns_for(Format::Json, &[gem()]);
    let rows = [row(&columns, "x"), FrameRow::default()];
    let array = text(Format::Json, columns.clone(), None, &rows);
    let array: Vec<serde_json::Value> = serde_json::from_str(&array).unwrap();
    let lines = text(Format::Jsonl, columns, None, &rows);
    let lines: Vec<serde_json::Value> = lines
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    assert_eq!(array, lines);

    let keys: Vec<&str> = ["schema"]
        .into_iter()
        .chain(FIELDS.iter().map(|f| f.key))
        .chain(["files", "radiants"])
        .collect();
    for object in &array {
        let found: Vec<&String> = object.as_object().unwrap().keys().collect();
        assert_eq!(found, keys);
        assert_eq!(object["schema"], "framefall.frame/1");
    }
    assert_eq!(array[0]["seq"], 4217);
    assert_eq!(array[0]["moon_alt_deg"], -12.345_679);
    assert_eq!(array[0]["exposure_s"], -12.345_678_901);
    assert_eq!(array[0]["files"][0]["path"], "/cards/a/\"NITE\"\n4217.ARW");
    assert_eq!(array[0]["files"][0]["bytes"], 24_000_000);
    assert_eq!(array[0]["files"][0]["further_copy"], false);
    assert_eq!(array[0]["radiants"][0]["shower"], "GEM");
    assert_eq!(array[0]["radiants"][0]["alt_deg"], 78.312_346);
    assert_eq!(array[0]["radiants"][0]["az_deg"], 180);
    assert_eq!(array[0]["radiants"][0]["rate"], 117.123);
    assert_eq!(array[0]["radiants"][0]["seen_rate"], 41.654);
    let radiant = array[0]["radiants"][0].as_object().unwrap();
    assert_eq!(radiant.len(), 1 + RADIANT_FIELDS.len());
    assert_eq!(radiant["in_picture"], "yes");
    assert_eq!(radiant["x_px"], 2_000.13);
    assert!(radiant["seen_x_px"].is_null());
    assert!(array[1]["moon_alt_deg"].is_null());
    assert_eq!(array[1]["files"], serde_json::json!([]));
}

#[test]
fn empty_lists_are_whole() {
    for (format, expect) in [
        (Format::Json, "[]\n"),
        (Format::Jsonl, ""),
        (Format::Table, ""),
        (Format::Paths, ""),
        (Format::Paths0, ""),
    ] {
        assert_eq!(text(format, columns_for(format, &[]), None, &[]), expect);
    }
    let csv = text(Format::Csv, columns_for(Format::Csv, &[]), None, &[]);
    assert!(csv.starts_with("path,file,dump,") && csv.ends_with(",seen_x_px,seen_y_px\r\n"));
    assert_eq!(csv.lines().count(), 1);
}

#[test]
fn a_spreadsheet_runs_nothing() {
    let columns = columns_for(Format::Csv, &[gem()]);
    for (words, expect) in [
        ("=cmd|' /C calc'!A0", "'=cmd|' /C calc'!A0"),
        ("+1+1", "'+1+1"),
        ("-2+3", "'-2+3"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("  =1+1", "  '=1+1"),
        (" a=1, -2", " a=1, -2"),
        ("\t=1", "'\t'=1"),
        ("\r=1", "'\r'=1"),
        ("+01:00", "+01:00"),
        ("+01:00=1", "'+01:00=1"),
        ("Nova 14mm, \"f/1.8\"", "Nova 14mm, \"f/1.8\""),
        ("two\r\nlines", "two\r\nlines"),
    ] {
        let csv = list(Format::Csv, columns.clone(), None, &[row(&columns, words)]);
        let mut reader = csv::Reader::from_reader(csv.as_slice());
        let heading = reader.headers().unwrap().clone();
        let record = reader.records().next().unwrap().unwrap();
        let at = |key: &str| heading.iter().position(|h| h == key).unwrap();
        assert_eq!(&record[at("lens")], expect);
        assert_eq!(&record[at("moon_alt_deg")], "-12.345679");
        assert_eq!(&record[at("GEM_alt_deg")], "-12.345679");
        assert_eq!(&record[at("start_utc")], "2023-12-14T00:12:07.250Z");
        assert_eq!(&record[at("seq")], "4217");
    }
}

#[test]
fn csv_leaves_unknown_values_empty_and_ends_its_lines_as_the_standard_says() {
    let columns = columns_for(Format::Csv, &[]);
    let csv = text(Format::Csv, columns.clone(), None, &[FrameRow::default()]);
    assert_eq!(csv.matches("\r\n").count(), 2);
    let last = csv.lines().last().unwrap();
    assert_eq!(last, ",".repeat(columns.len() - 1));
}

#[test]
fn paths_keep_their_bytes() {
    let rows: Vec<FrameRow> = [b"/cards/\xff.ARW".as_slice(), b"", b"/b c"]
        .into_iter()
        .map(|path| FrameRow {
            path_bytes: path.to_vec(),
            ..FrameRow::default()
        })
        .collect();
    assert_eq!(
        list(Format::Paths, vec![], None, &rows),
        b"/cards/\xff.ARW\n/b c\n"
    );
    assert_eq!(
        list(Format::Paths0, vec![], None, &rows),
        b"/cards/\xff.ARW\0/b c\0"
    );
    let mut counted = ListWriter::new(Format::Paths, vec![], None, Vec::new());
    counted.row(&rows[1]).unwrap();
    assert_eq!(counted.finish().unwrap().without_file, 1);
}

#[test]
fn a_newline_in_a_name_is_refused_where_lines_end_paths() {
    for name in [b"/a\nb", b"/a\rb"] {
        let row = FrameRow {
            path_bytes: name.to_vec(),
            ..FrameRow::default()
        };
        let mut lines = ListWriter::new(Format::Paths, vec![], None, Vec::new());
        let failure = lines.row(&row).unwrap_err();
        assert_eq!(failure.kind, FailureKind::Output);
        assert!(failure.hint.unwrap().contains("paths0"));
        let ended = [&name[..], b"\0"].concat();
        assert_eq!(list(Format::Paths0, vec![], None, &[row]), ended);
    }
}

struct Closed;

impl io::Write for Closed {
    fn write(&mut self, _: &[u8]) -> io::Result<usize> {
        Err(io::ErrorKind::BrokenPipe.into())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[test]
fn a_reader_that_went_away_is_told_from_a_full_disk() {
    for format in [
        Format::Table,
        Format::Csv,
        Format::Json,
        Format::Jsonl,
        Format::Paths,
    ] {
        let columns = columns_for(format, &[]);
        let row = row(&columns, "x");
        let mut list = ListWriter::new(format, columns, None, Closed);
        let failure = (0..2000)
            .find_map(|_| list.row(&row).err())
            .or_else(|| list.finish().err())
            .unwrap();
        assert!(is_closed_pipe(&failure), "{format:?}");
    }
}

#[test]
fn format_words_read_back() {
    for format in Format::ALL {
        assert_eq!(Format::from_word(format.word()), Some(*format));
    }
    assert_eq!(Format::from_word("xml"), None);
}

fn night(columns: &[Column], files: &[&str]) -> Vec<FrameRow> {
    let camera = |at: usize| {
        if at == 0 {
            "Borealis K2 30417"
        } else {
            "星座 7 \u{1b}[31m"
        }
    };
    let of = |at: usize, file: &str, column: &Column| match column.key.as_str() {
        "file" => Cell::Text(file.to_owned()),
        "camera" => Cell::Text(camera(at).to_owned()),
        "shower" => Cell::Text("GEM".to_owned()),
        "start_local" => Cell::Text("2023-12-14T01:12:07.250+01:00".to_owned()),
        "zone" => Cell::Text("Europe/Rome".to_owned()),
        "session" => Cell::Whole(3),
        "exposure_s" => Cell::Number(if at == 0 { 15.0 } else { 0.005 }),
        "iso" => Cell::Number(3200.0),
        "moon_alt_deg" if at == 1 => Cell::Unknown,
        "moon_alt_deg" => Cell::Number(-11.04),
        "focal_mm" => Cell::Number(20.0),
        _ => Cell::Number(78.31),
    };
    files
        .iter()
        .enumerate()
        .map(|(at, file)| FrameRow {
            cells: columns.iter().map(|column| of(at, file, column)).collect(),
            ..FrameRow::default()
        })
        .collect()
}

#[test]
fn the_table_on_a_wide_screen() {
    let columns = columns_for(Format::Table, &[]);
    let rows = night(&columns, &["NITE4217.ARW", "NITE\n4218.ARW"]);
    insta::assert_snapshot!(text(Format::Table, columns, Some(140), &rows));
}

#[test]
fn the_table_on_a_narrow_screen() {
    let columns = columns_for(Format::Table, &[gem()]);
    let rows = night(
        &columns,
        &["NITE4217.ARW", "a name that is far too long.ARW"],
    );
    insta::assert_snapshot!(text(Format::Table, columns, Some(60), &rows));
}

#[test]
fn columns_left_out_are_named() {
    let columns = columns_for(Format::Table, &[]);
    let rows = night(&columns, &["NITE4217.ARW"]);
    let mut list = ListWriter::new(Format::Table, columns, Some(60), Vec::new());
    list.row(&rows[0]).unwrap();
    let left_out = list.finish().unwrap().left_out;
    assert!(left_out.contains(&"camera".to_owned()), "{left_out:?}");
    assert!(!left_out.contains(&"radiant.alt".to_owned()));
}

#[test]
fn a_long_value_after_the_measured_rows_is_cut_on_a_screen_only() {
    let columns = vec![
        Column::of(ColumnSource::Frame(
            FIELDS.iter().find(|f| f.key == "file").unwrap(),
        )),
        Column::of(ColumnSource::Frame(
            FIELDS.iter().find(|f| f.key == "path").unwrap(),
        )),
    ];
    let of = |name: &str| FrameRow {
        cells: vec![
            Cell::Text(name.to_owned()),
            Cell::Text(format!("/cards/{name}")),
        ],
        ..FrameRow::default()
    };
    let mut rows = vec![of("NITE4217.ARW"); 700];
    rows.push(of("a name that is far too long.ARW"));
    let cut = text(Format::Table, columns.clone(), Some(80), &rows);
    let last = cut.lines().last().unwrap();
    assert_eq!(last, "a name that…  …s far too long.ARW");
    let whole = text(Format::Table, columns, None, &rows);
    assert!(
        whole
            .ends_with("a name that is far too long.ARW  /cards/a name that is far too long.ARW\n")
    );
    assert_eq!(whole.lines().count(), 702);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_line_is_wider_than_the_screen(
        names in prop::collection::vec("\\PC{0,40}|[\u{0}-\u{1f}a-z]{0,20}", 1..6),
        width in 1_usize..160,
        named in any::<bool>(),
    ) {
        let showers = if named { vec![gem()] } else { vec![] };
        let columns = columns_for(Format::Table, &showers);
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let rows = night(&columns, &names);
        let table = text(Format::Table, columns, Some(width), &rows);
        // The zone, the heading, and the units of the numbers where the screen has room for one.
        let heading = table.lines().count() - names.len();
        prop_assert!(heading == 3 || heading == 2 && width < 40);
        for line in table.lines() {
            prop_assert!(line.width() <= width, "{} > {}: {}", line.width(), width, line);
            prop_assert!(!line.contains(char::is_control));
        }
    }

    #[test]
    fn csv_and_json_bring_every_text_back(words in any::<String>()) {
        let columns = columns_for(Format::Jsonl, &[]);
        let json = text(Format::Jsonl, columns.clone(), None, &[row(&columns, &words)]);
        prop_assert_eq!(json.matches('\n').count(), 1);
        let object: serde_json::Value = serde_json::from_str(&json).unwrap();
        prop_assert_eq!(&object["lens"], &serde_json::Value::from(words.as_str()));

        let csv = list(Format::Csv, columns.clone(), None, &[row(&columns, &words)]);
        let mut reader = csv::Reader::from_reader(csv.as_slice());
        let at = reader.headers().unwrap().iter().position(|h| h == "lens").unwrap();
        let record = reader.records().next().unwrap().unwrap();
        // Nothing is lost: without the added apostrophes it is the text.
        let without = |text: &str| text.replace('\'', "");
        prop_assert_eq!(without(&record[at]), without(&words));
    }
}
