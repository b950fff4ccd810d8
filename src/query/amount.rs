//! A number against a column; if whole parts are stored, against the parts with equivalent bounds. SQL only.

use crate::query::scan::Op;
use crate::query::sql::Asked;
use crate::query::sql::Building;
use crate::query::sql::EQUAL_WITHIN;
use crate::terms::predicate::SqlValue;

impl Building {
    pub fn number(&mut self, asked: &Asked, op: Op, number: f64) -> String {
        let within = match op {
            Op::Equal | Op::Unequal => (number.abs() * EQUAL_WITHIN).max(asked.half_a_digit()),
            _ => 0.0,
        };
        let (low, high) = (number - within, number + within);
        let how = match op {
            Op::Unequal => "NOT BETWEEN",
            _ => "BETWEEN",
        };
        if let Some(packed) = &asked.packed
            && let Some((low, above)) = packed.around(low, high)
        {
            let column = &packed.column;
            return match op {
                Op::Equal | Op::Unequal => {
                    let low = self.mark(SqlValue::Whole(low));
                    let high = self.mark(SqlValue::Whole(above - 1));
                    format!("{column} {how} {low} AND {high}")
                }
                Op::Below => format!("{column} < {}", self.mark(SqlValue::Whole(low))),
                Op::AtLeast => format!("{column} >= {}", self.mark(SqlValue::Whole(low))),
                Op::AtMost => format!("{column} < {}", self.mark(SqlValue::Whole(above))),
                Op::Above => format!("{column} >= {}", self.mark(SqlValue::Whole(above))),
            };
        }
        let column = &asked.sql;
        if matches!(op, Op::Equal | Op::Unequal) {
            let low = self.mark(SqlValue::Number(low));
            let high = self.mark(SqlValue::Number(high));
            return format!("{column} {how} {low} AND {high}");
        }
        let mark = self.mark(SqlValue::Number(number));
        format!("{column} {} {mark}", op.sign())
    }
}
