//! Rows in, Parquet out: typed columns for engines that read columns. The only place that knows the format. Opens no
//! file.
//!
//! - `schema`: the Parquet type of each type of field
//! - `held`: the values of a column until its row group is full
//! - `table`: a file of one table

mod held;
mod schema;
mod table;

pub use schema::DataColumn;
pub use schema::Presence;
pub use table::About;
pub use table::TableFile;
