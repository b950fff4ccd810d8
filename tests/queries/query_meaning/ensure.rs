//! Rows of lookup tables, made when they are first needed.

use rusqlite::Connection;

pub fn ensure_active(connection: &Connection, showers: &str) -> i64 {
    ensure(
        connection,
        "INSERT INTO derived_active (showers) VALUES (?1)
         ON CONFLICT (showers) DO UPDATE SET showers = ?1 RETURNING active_id",
        showers,
    )
}

pub fn ensure_shower(connection: &Connection, code: &str) -> i64 {
    ensure(
        connection,
        "INSERT INTO derived_shower (code) VALUES (?1)
         ON CONFLICT (code) DO UPDATE SET code = ?1 RETURNING shower_id",
        code,
    )
}

fn ensure(connection: &Connection, sql: &str, text: &str) -> i64 {
    let row = connection
        .prepare_cached(sql)
        .unwrap()
        .query_row([text], |row| row.get(0));
    row.unwrap()
}
