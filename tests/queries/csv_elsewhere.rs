//! CSV read back by readers that are not ours, RFC 4180 by its own examples, and nothing in it that a spreadsheet runs.

use std::io::Write;
use std::process::Command;
use std::process::Stdio;

use framefall::framelist::Column;
use framefall::framelist::Format;
use framefall::framelist::ListWriter;
use framefall::terms::column::ColumnSource;
use framefall::terms::field::field_keyed;
use framefall::terms::records::Cell;
use framefall::terms::records::FrameRow;
use proptest::prelude::*;

/// A list of three text columns: camera, lens, site.
fn list(rows: &[[&str; 3]]) -> Vec<u8> {
    let columns = ["camera", "lens", "site"]
        .map(|key| Column::of(ColumnSource::Frame(field_keyed(key).unwrap())));
    let mut list = ListWriter::of_columns(Format::Csv, columns.to_vec(), None, Vec::new());
    for row in rows {
        list.row(&FrameRow {
            cells: row
                .iter()
                .map(|text| Cell::Text((*text).to_owned()))
                .collect(),
            ..FrameRow::default()
        })
        .unwrap();
    }
    list.finish().unwrap().out
}

/// RFC 4180, section 2, rules 5 to 7 with their examples: quotes where a line break, a quote or a comma stands, quotes
/// doubled, lines ended by CR LF.
#[test]
fn the_examples_of_rfc_4180_are_written_as_it_says() {
    let csv = list(&[
        ["aaa", "b\r\nbb", "ccc"],
        ["zzz", "yyy", "xxx"],
        ["aaa", "b\"bb", "c,c"],
    ]);
    assert_eq!(
        String::from_utf8(csv).unwrap(),
        "camera,lens,site\r\naaa,\"b\r\nbb\",ccc\r\nzzz,yyy,xxx\r\naaa,\"b\"\"bb\",\"c,c\"\r\n"
    );
}

/// Python's csv module as a second reader.
#[test]
fn python_reads_the_same_texts() {
    let rows = [
        ["N6 6004127", "Nova 14mm, \"f/1.8\"", "Höhe 星"],
        ["two\r\nlines", "a\nb", "c\td"],
        ["", " lead", "trail "],
        ["=1+1", "@x", "a;=1"],
    ];
    let csv = list(&rows);
    let program = "import csv, io, json, sys\n\
        text = io.TextIOWrapper(sys.stdin.buffer, encoding='utf-8', newline='')\n\
        print(json.dumps(list(csv.reader(text, strict=True))))";
    let python = Command::new("python3")
        .args(["-c", program])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn();
    let Ok(mut python) = python else {
        println!("skipped: there is no python3 here");
        return;
    };
    python.stdin.take().unwrap().write_all(&csv).unwrap();
    let said = python.wait_with_output().unwrap();
    let read: Vec<[String; 3]> = serde_json::from_slice(&said.stdout).unwrap();
    assert_eq!(read[0], ["camera", "lens", "site"]);
    assert_eq!(read[1..4], rows[..3]);
    assert_eq!(read[4], ["'=1+1", "'@x", "a;'=1"]);
}

/// What a spreadsheet makes of a line whose cells it parts by this sign, quotes honoured where a cell begins with one.
fn cells(csv: &[u8], parted_by: u8) -> Vec<String> {
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(parted_by)
        .flexible(true)
        .has_headers(false)
        .from_reader(csv);
    let records = reader.byte_records().map(Result::unwrap);
    let text = |cell: &[u8]| String::from_utf8_lossy(cell).into_owned();
    records
        .flat_map(|r| r.iter().map(text).collect::<Vec<_>>())
        .collect()
}

fn is_formula(cell: &str) -> bool {
    cell.starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠'])
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// However a spreadsheet parts the cells: by commas, semicolons or tabs.
    #[test]
    fn no_cell_is_a_formula_by_whatever_sign_cells_are_parted(
        texts in prop::array::uniform3("[=+@;,|a\"' \t\r\n＝-]{0,12}"),
    ) {
        let csv = list(&[[&texts[0], &texts[1], &texts[2]]]);
        for parted_by in *b",;\t" {
            for cell in cells(&csv, parted_by) {
                prop_assert!(!is_formula(&cell), "{cell:?} of {texts:?} by {parted_by}");
            }
        }
    }
}
