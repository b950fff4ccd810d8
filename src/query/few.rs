//! Conditions that must all hold, where an index or a small table tells sooner which frames they hold for. Says the same as
//! the conditions themselves; SQL alone.
//!
//! Within `or` and `not` this would lose the difference between false and unknown. Where all must hold there is none.

use crate::query::checked::Checked;
use crate::query::checked::Test;
use crate::query::checked::Value;
use crate::query::scan::Op;
use crate::query::sql::Building;
use crate::query::sql::Grip;
use crate::query::sql::joined;
use crate::terms::basis::Kind;
use crate::terms::column::ColumnSource;
use crate::terms::field::Field;
use crate::terms::field_kind::Shared;
use crate::terms::field_kind::Storage;
use crate::terms::field_kind::Table;

/// A table with few rows, each of which many frames share.
#[derive(PartialEq, Eq)]
struct Few {
    /// The frame's column with the number of its row, and the table that column lies in.
    column: &'static str,
    table: Table,
    /// The number, and the rows.
    number: &'static str,
    rows: &'static str,
    /// How many rows may bear one name.
    named: Named,
}

/// How many rows may bear one name.
#[derive(PartialEq, Eq)]
enum Named {
    One,
    Hardly,
    Many,
}

const CAMERAS: Few = Few {
    column: "frame.camera_id",
    table: Table::Frame,
    number: "camera.camera_id",
    rows: "written_camera AS camera",
    named: Named::Hardly,
};
const LENSES: Few = Few {
    column: "frame.lens_id",
    table: Table::Frame,
    number: "lens.lens_id",
    rows: "written_lens AS lens",
    named: Named::Hardly,
};
const SITES: Few = Few {
    column: "time.site_id",
    table: Table::Time,
    number: "site.site_id",
    rows: "stated_site AS site",
    named: Named::One,
};
const FOLDERS: Few = Few {
    column: "file.folder_id",
    table: Table::File,
    number: "folder.folder_id",
    rows: "written_folder AS folder JOIN written_dump AS dump ON dump.dump_id = folder.dump_id",
    named: Named::Many,
};

/// The condition of the index over calibration frames.
const OF_INDEX: &str = "time.kind_no IN (1, 2, 3)";

/// Whether a test of the field `kind` holds for calibration frames alone, which are few and have an index.
pub(super) fn is_of_calibration(field: &Field, test: &Test) -> bool {
    let few = |value: &Value| match value {
        Value::Word(word) => [Kind::Dark, Kind::Flat, Kind::Bias]
            .iter()
            .any(|kind| kind.word() == *word),
        _ => false,
    };
    field.key == "kind"
        && match test {
            Test::Compare(Op::Equal, value) => few(value),
            Test::OneOf(values) => values.iter().all(few),
            _ => false,
        }
}

impl Building {
    /// The whole tree.
    pub fn root(&mut self, tree: &Checked) -> (String, Grip) {
        match tree {
            Checked::All(parts) => {
                let parts = parts.iter().map(|part| self.at_top(part)).collect();
                joined(parts, Grip::And)
            }
            one => self.at_top(one),
        }
    }

    fn at_top(&mut self, part: &Checked) -> (String, Grip) {
        let few = match part {
            Checked::Test(ColumnSource::Frame(field), Test::Known) => few_of(field),
            other => few(other),
        };
        if let Some(few) = few {
            return self.among_few(few, part);
        }
        match part {
            Checked::Test(source @ ColumnSource::Frame(field), test)
                if field.name == "session" && !matches!(test, Test::Unknown) =>
            {
                self.session(*source, test)
            }
            Checked::Test(ColumnSource::Frame(field), test) if is_of_calibration(field, test) => {
                let (sql, _) = self.tree(part);
                (format!("{OF_INDEX} AND {sql}"), Grip::And)
            }
            _ => self.tree(part),
        }
    }

    /// What must hold of a row that many frames share is asked of the row once, and not for each frame.
    fn among_few(&mut self, few: &Few, part: &Checked) -> (String, Grip) {
        let mut of_row = Self::default();
        let (sql, _) = of_row.tree(part);
        self.predicate.tables.insert(few.table);
        let Few {
            column,
            number,
            rows,
            ..
        } = few;
        let select = |what: &str| format!("(SELECT {what} FROM {rows} WHERE {sql})");
        let is_name = matches!(part, Checked::Test(_, Test::Compare(Op::Equal, _)));
        let values = of_row.predicate.values;
        if is_name && few.named == Named::One {
            self.predicate.values.extend(values);
            return (format!("{column} = {}", select(number)), Grip::One);
        }
        let listed = format!("{column} IN {}", select(number));
        if !is_name || few.named == Named::Many {
            self.predicate.values.extend(values);
            return (listed, Grip::One);
        }
        // A list is looked through for each frame; two numbers leave most frames out sooner.
        for _ in 0..3 {
            self.predicate.values.extend(values.iter().cloned());
        }
        let (least, greatest) = (
            select(&format!("min({number})")),
            select(&format!("max({number})")),
        );
        (
            format!("{column} BETWEEN {least} AND {greatest} AND {listed}"),
            Grip::And,
        )
    }

    /// A session lies in one night, and an index finds it there.
    fn session(&mut self, source: ColumnSource, test: &Test) -> (String, Grip) {
        let mut of_session = Self::default();
        let (of_its_own, _) = of_session.test_of("session.session_id".to_owned(), source, test);
        self.predicate.values.extend(of_session.predicate.values);
        let (sql, grip) = self.test(source, test);
        let sql = if grip < Grip::And {
            format!("({sql})")
        } else {
            sql
        };
        let nights = format!("SELECT night_day FROM derived_session AS session WHERE {of_its_own}");
        (format!("time.night_day IN ({nights}) AND {sql}"), Grip::And)
    }
}

/// The one small table of whose rows a condition asks, where it holds for no frame without a row.
fn few(tree: &Checked) -> Option<&'static Few> {
    match tree {
        Checked::Test(_, Test::Known | Test::Unknown) | Checked::Every => None,
        Checked::Test(ColumnSource::Frame(field), _) => few_of(field),
        Checked::Test(..) => None,
        Checked::Not(inner) => few(inner),
        Checked::All(parts) | Checked::Any(parts) => {
            let mut parts = parts.iter().map(few);
            let first = parts.next()??;
            parts.all(|part| part == Some(first)).then_some(first)
        }
    }
}

fn few_of(field: &Field) -> Option<&'static Few> {
    let Storage::Of(shared, _) = field.storage else {
        return None;
    };
    match shared {
        Shared::Camera => Some(&CAMERAS),
        Shared::Lens => Some(&LENSES),
        Shared::Site => Some(&SITES),
        Shared::Folder => Some(&FOLDERS),
        Shared::Evidence | Shared::Shower | Shared::MainShower => None,
    }
}
