//! Predicates put to the archive: every table that one may need is joined plainly, as its documentation says.

use framefall::terms::column::ColumnSource;
use framefall::terms::predicate::STRONGEST_ALIAS;
use framefall::terms::predicate::SqlPredicate;
use framefall::terms::predicate::SqlValue;
use framefall::terms::predicate::radiant_alias;
use rusqlite::Connection;
use rusqlite::types::Value;

/// The tables that a predicate or a column needs, joined as its documentation says.
pub fn joins(predicate: &SqlPredicate) -> String {
    let mut from = "written_frame AS frame \
        LEFT JOIN written_file AS file ON file.file_id = frame.first_file_id \
        LEFT JOIN written_folder AS folder ON folder.folder_id = file.folder_id \
        LEFT JOIN written_dump AS dump ON dump.dump_id = folder.dump_id \
        LEFT JOIN written_lens AS lens ON lens.lens_id = frame.lens_id \
        LEFT JOIN written_camera AS camera ON camera.camera_id = frame.camera_id \
        LEFT JOIN derived_time AS time ON time.frame_id = frame.frame_id \
        LEFT JOIN stated_site AS site ON site.site_id = time.site_id \
        LEFT JOIN derived_sky AS sky ON sky.frame_id = frame.frame_id
        LEFT JOIN stated_look AS look ON look.frame_id = frame.frame_id"
        .to_owned();
    let named = predicate.showers.iter();
    let named = named.map(|shower| {
        (
            radiant_alias(*shower),
            format!("(SELECT shower_id FROM derived_shower WHERE code = '{shower}')"),
        )
    });
    let strongest = (STRONGEST_ALIAS.to_owned(), "sky.shower_id".to_owned());
    for (alias, shower) in named.chain([strongest]) {
        from += " LEFT JOIN derived_radiant AS ";
        from += &alias;
        from += &[" ON ", &alias, ".shower_id = ", &shower].concat();
        from += &[" AND ", &alias, ".frame_id = frame.frame_id"].concat();
    }
    from
}

fn values(predicate: &SqlPredicate) -> impl rusqlite::Params {
    let values = predicate.values.iter().map(|value| match value {
        SqlValue::Text(text) => Value::Text(text.clone()),
        SqlValue::Whole(number) => Value::Integer(*number),
        SqlValue::Number(number) => Value::Real(*number),
    });
    rusqlite::params_from_iter(values.collect::<Vec<_>>())
}

/// How SQLite goes about a predicate, step by step.
pub fn plan(connection: &Connection, predicate: &SqlPredicate) -> Vec<String> {
    let sql = format!(
        "EXPLAIN QUERY PLAN SELECT frame.frame_id FROM {} WHERE {}",
        joins(predicate),
        predicate.sql
    );
    let mut statement = connection.prepare(&sql).unwrap();
    let steps = statement
        .query_map(values(predicate), |row| row.get(3))
        .unwrap();
    steps.collect::<rusqlite::Result<_>>().unwrap()
}

/// The numbers of the frames a predicate finds.
pub fn found(connection: &Connection, predicate: &SqlPredicate) -> rusqlite::Result<Vec<i64>> {
    let condition = match predicate.sql.as_str() {
        "" => "1".to_owned(),
        sql => sql.to_owned(),
    };
    let sql = format!(
        "SELECT frame.frame_id FROM {} WHERE {condition} ORDER BY frame.frame_id",
        joins(predicate)
    );
    let mut statement = connection.prepare(&sql)?;
    let rows = statement.query_map(values(predicate), |row| row.get(0))?;
    rows.collect()
}

/// Whether the catalogue has the column of a source.
pub fn has_column(connection: &Connection, source: ColumnSource) -> bool {
    let mut predicate = SqlPredicate::default();
    if let ColumnSource::Radiant(shower, _) = source {
        predicate.showers.insert(shower);
    }
    let sql = format!("SELECT {} FROM {}", source.sql(), joins(&predicate));
    connection.prepare(&sql).is_ok()
}
