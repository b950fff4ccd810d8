//! The columns of an exported list: those of any list, and its own: the reference frame, the turn since it, and by what that is known.

use crate::catalogue::select::Detail;
use crate::framelist::Column;
use crate::framelist::columns_for;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::handoff::REFERENCE;
use crate::terms::handoff::REFERENCE_TURN;
use crate::terms::handoff::REFERENCE_TURN_BASIS;
use crate::usecase::handoff::HandOrder;
use crate::usecase::handoff::entry::refused;
use crate::usecase::listings::answers;

/// A column chosen by the photographer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// Of the catalogue.
    Kept(ColumnSource),
    /// The path of the reference frame.
    Reference,
    /// The turn of the sky since it.
    ReferenceTurn,
    /// By what that is known.
    ReferenceTurnBasis,
}

impl Shown {
    /// Those that only exported lists have.
    const OWN: [(Self, &'static Field); 3] = [
        (Self::Reference, &REFERENCE),
        (Self::ReferenceTurn, &REFERENCE_TURN),
        (Self::ReferenceTurnBasis, &REFERENCE_TURN_BASIS),
    ];

    fn source(self) -> ColumnSource {
        let own = Self::OWN.iter().find(|(own, _)| *own == self);
        match (self, own) {
            (Self::Kept(source), _) => source,
            (_, Some((_, field))) => ColumnSource::Frame(field),
            (_, None) => ColumnSource::Frame(&REFERENCE),
        }
    }
}

/// Chosen columns, from their list. Besides the fields of a query there are those of [`Shown::OWN`].
pub fn shown(list: &str) -> Result<Vec<Shown>, Failure> {
    let own = |word: &str| {
        let mut own = Shown::OWN.into_iter();
        own.find(|(_, field)| word.trim().eq_ignore_ascii_case(field.name))
            .map(|(own, _)| own)
    };
    if !list.split(',').any(|word| own(word).is_some()) {
        let kept = answers::columns(list)?;
        return Ok(kept.into_iter().map(Shown::Kept).collect());
    }
    let mut chosen = Vec::new();
    for word in list.split(',') {
        match own(word) {
            Some(column) => chosen.push(column),
            None => chosen.extend(answers::columns(word)?.into_iter().map(Shown::Kept)),
        }
    }
    let twice = (1..chosen.len()).find(|at| chosen[..*at].contains(&chosen[*at]));
    match twice {
        Some(at) => Err(refused(format!("`{}` is named twice", heading(chosen[at])))),
        None => Ok(chosen),
    }
}

fn heading(shown: Shown) -> String {
    shown.source().to_string()
}

/// The columns of a list, and the source of each cell.
pub(super) struct Laid {
    /// The columns, in order.
    pub columns: Vec<Column>,
    /// The same as sources.
    pub shown: Vec<Shown>,
    /// The columns of the catalogue; the list's own come from elsewhere.
    pub sources: Vec<ColumnSource>,
    /// The positions of those.
    pub own: Vec<(usize, Shown)>,
    /// The other data needed.
    pub detail: Detail,
}

/// Determines the columns of a list.
///
/// Refuses: chosen columns for a list of paths.
pub(super) fn lay_out(order: &HandOrder<'_>) -> Result<Laid, Failure> {
    let paths = order.format.wants_path_bytes();
    let shown: Vec<Shown> = match order.show {
        Some(_) if paths => {
            return Err(
                refused("a list of paths has no columns").hint("leave out --show, or use --as csv")
            );
        }
        Some(show) => show.to_vec(),
        None if paths => Vec::new(),
        None => columns_for(order.format, &order.compiled.showers_named)
            .iter()
            .map(|column| Shown::Kept(column.source))
            .chain(Shown::OWN.map(|(own, _)| own))
            .collect(),
    };
    let columns: Vec<Column> = shown.iter().map(|one| Column::of(one.source())).collect();
    let places = shown.iter().copied().enumerate();
    Ok(Laid {
        sources: columns.iter().map(|column| column.source).collect(),
        columns,
        own: places
            .filter(|(_, shown)| !matches!(shown, Shown::Kept(_)))
            .collect(),
        detail: if order.show.is_none() && order.format.wants_files_and_radiants() {
            Detail::Everything
        } else {
            Detail::Columns
        },
        shown,
    })
}
