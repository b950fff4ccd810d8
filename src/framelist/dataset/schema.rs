//! The Parquet type of each type of field. Holds no values.
//!
//! Source of the types: the specification of Apache Parquet, `LogicalTypes.md` (STRING, DATE, TIMESTAMP).

use std::sync::Arc;

use parquet::basic::LogicalType;
use parquet::basic::Repetition;
use parquet::basic::TimeUnit;
use parquet::basic::Type as Physical;
use parquet::errors::Result;
use parquet::schema::types::Type;
use parquet::schema::types::TypePtr;

use crate::terms::field::Field;
use crate::terms::field_kind::FieldKind;

/// Whether a column may have unknown values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Presence {
    /// It may.
    Optional,
    /// It may not.
    Always,
}

/// One column of a data set.
#[derive(Clone, Copy, Debug)]
pub struct DataColumn {
    /// Its row in the table of fields: key and kind.
    pub field: &'static Field,
    /// Whether it may have unknown values.
    pub presence: Presence,
}

/// The types of the columns, in their order.
pub(super) fn schema(table: &str, columns: &[DataColumn]) -> Result<TypePtr> {
    let fields = columns
        .iter()
        .map(|column| column_type(column).map(Arc::new))
        .collect::<Result<Vec<_>>>()?;
    let schema = Type::group_type_builder(table).with_fields(fields).build();
    schema.map(Arc::new)
}

fn column_type(column: &DataColumn) -> Result<Type> {
    let (physical, logical) = match column.field.kind {
        // Its offset goes with it: an engine would turn it into UTC.
        FieldKind::Text | FieldKind::Words(_) | FieldKind::Local => {
            (Physical::BYTE_ARRAY, Some(LogicalType::String))
        }
        FieldKind::Number(_) => (Physical::DOUBLE, None),
        FieldKind::Whole(_) => (Physical::INT64, None),
        FieldKind::Instant => (
            Physical::INT64,
            Some(LogicalType::timestamp(true, TimeUnit::MILLIS)),
        ),
        // Cameras write up to six digits of a second; nanoseconds would end in 2262, and many engines cannot hold them.
        FieldKind::Reading => (
            Physical::INT64,
            Some(LogicalType::timestamp(false, TimeUnit::MICROS)),
        ),
        FieldKind::Date => (Physical::INT32, Some(LogicalType::Date)),
    };
    Type::primitive_type_builder(column.field.key, physical)
        .with_logical_type(logical)
        .with_repetition(match column.presence {
            Presence::Optional => Repetition::OPTIONAL,
            Presence::Always => Repetition::REQUIRED,
        })
        .build()
}
