//! Messages of failures and findings. A snapshot is read before it is accepted: whoever reads the message at three in the
//! morning should know what happened, to what, and what to do.

use std::path::Path;

use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::cli::print::cure_text;
use framefall::cli::print::failure_text;
use framefall::cli::print::finding_text;
use framefall::terms::failure::Failure;
use framefall::terms::finding::Finding;
use framefall::usecase::listings::frames::compile;

/// A failure without its colours.
fn words(failure: &Failure) -> String {
    anstream::adapter::strip_str(&failure_text(failure)).to_string()
}

#[test]
fn a_slip_in_a_query() {
    let slip = compile("kind = light and GEM.alto > 30").unwrap_err();
    insta::assert_snapshot!(words(&slip));
}

#[test]
fn a_wrong_unit() {
    let slip = compile("exposure > 20mm").unwrap_err();
    insta::assert_snapshot!(words(&slip));
}

#[test]
fn no_catalogue() {
    let none = Catalogue::open(Path::new("no/such/catalogue.sqlite"), Purpose::Read).unwrap_err();
    insta::assert_snapshot!(words(&none));
}

#[test]
fn a_truncated_file() {
    let finding = Finding::new(
        "truncated",
        "the picture of IFD0 ends at byte 21142, the file at 14998",
        "kept what could be read",
    );
    let told = finding_text("card/DCIM/100NITES/NITE\n0001.DNG", &finding);
    let told = anstream::adapter::strip_str(&told).to_string();
    insta::assert_snapshot!(format!("{told}\n{}", cure_text("truncated", 3).unwrap()));
}

/// A build without Parquet support says how to get one with it, and writes nothing.
#[cfg(not(feature = "parquet"))]
#[test]
fn a_form_that_was_not_built_in() {
    for words in [
        &["--as", "parquet", "--to", "set"][..],
        &["--to", "set.parquet"],
    ] {
        let folder = tempfile::tempdir().unwrap();
        let said = std::process::Command::new(env!("CARGO_BIN_EXE_framefall"))
            .args(["export", "kind = light"])
            .args(words)
            .current_dir(folder.path())
            .output()
            .unwrap();
        assert_eq!(said.status.code(), Some(2));
        let err = String::from_utf8(said.stderr).unwrap();
        assert!(err.contains("no Parquet support"), "{err}");
        assert!(err.contains("--features parquet"), "{err}");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
