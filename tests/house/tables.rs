//! Tables that must agree: migrations, fields, findings, test data.

#![allow(clippy::unwrap_used)] // Tests may panic.

use std::collections::BTreeSet;
use std::fs;

use crate::sources::files_under;
use crate::sources::root;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;

#[test]
fn the_migrations_are_those_that_were_published() {
    let listed = fs::read_to_string(root().join("tests/data/migrations.blake3")).unwrap();
    let listed: BTreeSet<&str> = listed.lines().filter(|l| !l.is_empty()).collect();
    let there: BTreeSet<String> = files_under("migrations", ".sql")
        .into_iter()
        .map(|(file, text)| format!("{}  {file}", blake3::hash(text.as_bytes()).to_hex()))
        .collect();
    let there: BTreeSet<&str> = there.iter().map(String::as_str).collect();
    assert_eq!(
        listed, there,
        "a published migration is never edited; a new one adds its line to tests/data/migrations.blake3"
    );
    assert_eq!(
        framefall::catalogue::migrations::MIGRATIONS.len(),
        there.len(),
        "each file is applied"
    );
}

#[test]
fn every_field_has_its_column() {
    use framefall::terms::field::FIELDS;
    use framefall::terms::field_radiant::RADIANT_FIELDS;
    let folder = tempfile::tempdir().unwrap();
    let catalogue =
        Catalogue::open(&folder.path().join("new.sqlite"), Purpose::ChangeOrMake).unwrap();
    let answered = |name: &str| {
        let query = format!("{name} is known");
        let asked = framefall::usecase::listings::frames::compile(&query).unwrap();
        assert_eq!(catalogue.count(&asked.tree).unwrap(), 0, "{query}");
    };
    for field in FIELDS.iter().filter(|f| !f.name.is_empty()) {
        answered(field.name);
    }
    for field in RADIANT_FIELDS {
        answered(&format!("GEM.{}", field.name));
        answered(&format!("radiant.{}", field.name));
    }
}

#[test]
fn every_finding_is_made_somewhere() {
    let source: String = files_under("src", ".rs")
        .into_iter()
        .filter(|(file, _)| file != "src/terms/finding.rs")
        .map(|(_, text)| text)
        .collect();
    for row in framefall::terms::finding::FINDINGS {
        assert!(
            source.contains(&format!("\"{}\"", row.code)),
            "nothing makes the finding {}",
            row.code
        );
    }
}

/// Every page can be found from one list, and every link leads somewhere.
#[test]
fn the_manual_lists_every_page_and_its_links_lead_somewhere() {
    let docs = root().join("docs");
    let list = fs::read_to_string(docs.join("README.md")).unwrap();
    let pages = files_under("docs", ".md");
    assert!(pages.len() > 15, "{}", pages.len());
    for (page, text) in &pages {
        let name = page.trim_start_matches("docs/");
        assert!(
            name == "README.md" || list.contains(&format!("({name}")),
            "docs/README.md lacks {name}"
        );
        for target in text
            .split("](")
            .skip(1)
            .map(|rest| rest.split(')').next().unwrap())
        {
            let file = target.split('#').next().unwrap();
            let leads = target.starts_with("https://") || docs.join(file).exists();
            assert!(leads, "{page}: {target}");
        }
    }
    let readme = fs::read_to_string(root().join("README.md")).unwrap();
    for target in readme
        .split("](")
        .skip(1)
        .map(|rest| rest.split(')').next().unwrap())
    {
        assert!(
            root().join(target.split('#').next().unwrap()).exists(),
            "{target}"
        );
    }
}

#[test]
fn every_file_of_test_data_is_named_by_a_test_or_by_a_table_beside_it() {
    let mut named: String = files_under("tests", ".rs")
        .into_iter()
        .map(|(_, text)| text)
        .collect();
    for table in ["SOURCES.tsv", "oracle.jsonl", "maker_notes.tsv"] {
        named += &fs::read_to_string(root().join("tests/data/frames").join(table)).unwrap();
    }
    for folder in ["pointing", "wcs"] {
        let table = root().join("tests/data").join(folder).join("SOURCES.md");
        named += &fs::read_to_string(table).unwrap();
    }
    let mut unused = Vec::new();
    let mut folders = vec![root().join("tests/data")];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            // Tables are named without their ending.
            let stem = path.file_stem().unwrap().to_string_lossy().into_owned();
            let by_stem = path.extension().is_some_and(|e| e == "csv" || e == "toml")
                && named.contains(&format!("\"{stem}\""));
            if !named.contains(&name) && !by_stem && name != "README.md" {
                unused.push(path);
            }
        }
    }
    assert!(unused.is_empty(), "no test names {unused:?}");
}

/// The guides name files of the project between backticks; a file that has moved takes its name along.
#[test]
fn files_that_the_guides_name_are_there() {
    let folders = ["src", "tests", "docs", "benches", "migrations", "demo-data"];
    let mut named = 0;
    let mut gone = Vec::new();
    let mut guides = files_under("docs", ".md");
    for guide in ["README.md", "DEVELOPERS.md"] {
        guides.push((
            guide.to_owned(),
            fs::read_to_string(root().join(guide)).unwrap(),
        ));
    }
    for (guide, text) in guides {
        for path in text.split('`').skip(1).step_by(2) {
            let is_path = path.split_once('/').is_some_and(|(first, _)| {
                let is_room = !first.is_empty() && root().join("src").join(first).is_dir();
                is_room || folders.contains(&first)
            });
            if !is_path || path.contains([' ', '*', '<']) || path.contains("NAME") {
                continue;
            }
            named += 1;
            if !root().join(path).exists() && !root().join("src").join(path).exists() {
                gone.push(format!("{guide}: {path}"));
            }
        }
    }
    assert!(named > 40, "only {named} files are named");
    assert!(gone.is_empty(), "{gone:#?}");
}
