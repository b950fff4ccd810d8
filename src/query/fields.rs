//! Finds the field of a name, or the nearest name. The fields themselves are in `terms::field`.

use crate::query::mistake::Mistake;
use crate::query::mistake::one_of;
use crate::query::mistake::quoted;
use crate::query::other_names::hint_for;
use crate::query::tree::Written;
use crate::terms::column::ColumnSource;
use crate::terms::field::FIELDS;
use crate::terms::field::Field;
use crate::terms::field::field_keyed;
use crate::terms::field::field_named;
use crate::terms::field_radiant::RADIANT_FIELDS;
use crate::terms::shower::ShowerCode;

/// The first half of a field of each frame's strongest shower: `radiant.alt`.
pub(super) const STRONGEST: &str = "radiant";

/// Finds the field, ignoring case.
///
/// Refuses: an unknown name, with the nearest one; a shower that is not among `showers`.
pub(super) fn find(written: &Written, showers: &[ShowerCode]) -> Result<ColumnSource, Mistake> {
    let name = written.text.to_ascii_lowercase();
    if let Some(field) = field_named(&name) {
        return Ok(ColumnSource::Frame(field));
    }
    if let Some((of_whom, what)) = name.split_once('.') {
        let whom = if of_whom == STRONGEST {
            Some(None)
        } else {
            ShowerCode::parse(of_whom).map(Some)
        };
        let split = written.span.start + of_whom.len();
        // `sun.` and `moon.` are not showers: for them the whole name is looked up.
        if let Some(shower) = whom
            && !FIELDS
                .iter()
                .any(|f| f.name.starts_with(&format!("{of_whom}.")))
        {
            if let Some(shower) = shower
                && !showers.contains(&shower)
            {
                return Err(unknown_shower(
                    &written.text[..of_whom.len()],
                    written.span.start..split,
                    showers,
                ));
            }
            let Some(field) = RADIANT_FIELDS.iter().find(|f| f.name == what) else {
                return Err(unknown_radiant_field(written, split, what));
            };
            return Ok(shower.map_or(ColumnSource::Strongest(field), |shower| {
                ColumnSource::Radiant(shower, field)
            }));
        }
    }
    Err(unknown_field(written, &name, showers))
}

/// The same for a list of columns, which may also name keys that only exports have.
pub(super) fn find_any(written: &Written, showers: &[ShowerCode]) -> Result<ColumnSource, Mistake> {
    match field_keyed(&written.text).filter(|field| field.name.is_empty()) {
        Some(field) => Ok(ColumnSource::Frame(field)),
        None => find(written, showers),
    }
}

/// The mistake of a shower that is not in the table.
pub(super) fn unknown_shower(
    code: &str,
    span: std::ops::Range<usize>,
    showers: &[ShowerCode],
) -> Mistake {
    let message = format!("no shower in the table has the code {}", quoted(code));
    let capitals = code.to_uppercase();
    let near: Vec<&str> = showers
        .iter()
        .map(ShowerCode::as_str)
        .filter(|known| code.len() <= 5 && strsim::osa_distance(known, &capitals) == 1)
        .take(3)
        .collect();
    let hint = if !near.is_empty() {
        format!("did you mean {}?", one_of(&near))
    } else if ShowerCode::parse(code).is_some() {
        "`framefall showers` lists the codes".to_owned()
    } else {
        "use the shower's three-letter code, such as GEM; `framefall showers` lists them".to_owned()
    };
    Mistake::new(message, span).hint(hint)
}

fn unknown_radiant_field(written: &Written, split: usize, what: &str) -> Mistake {
    let whom = &written.text[..split - written.span.start];
    let names: Vec<&str> = RADIANT_FIELDS.iter().map(|f| f.name).collect();
    let keyed = RADIANT_FIELDS
        .iter()
        .find(|f| f.key == what)
        .map(|f| f.name);
    let hint = match keyed.or_else(|| nearest(what, names.iter().copied())) {
        Some(name) => format!("did you mean {whom}.{name}?"),
        None => format!("a radiant has {}", one_of(&names).replace(" or ", " and ")),
    };
    if what.is_empty() {
        return Mistake::new(
            format!(
                "a radiant's field is missing after {}",
                quoted(&written.text)
            ),
            written.span.clone(),
        )
        .hint(hint);
    }
    Mistake::new(
        format!("a radiant has no field {}", quoted(what)),
        split + 1..written.span.end,
    )
    .hint(hint)
}

fn unknown_field(written: &Written, name: &str, showers: &[ShowerCode]) -> Mistake {
    let mistake = Mistake::new(
        format!("no field is called {}", quoted(&written.text)),
        written.span.clone(),
    );
    if let Some(field) = field_keyed(name) {
        let hint = if field.name.is_empty() {
            "this value is in CSV and JSON only; queries cannot use it".to_owned()
        } else {
            format!(
                "that is its name in CSV and JSON; in a query it is {}",
                field.name
            )
        };
        return mistake.hint(hint);
    }
    if let Some(field) = RADIANT_FIELDS
        .iter()
        .find(|f| f.key == name || f.name == name)
    {
        let others = match field.name {
            "alt" => "sun.alt, moon.alt, ",
            "az" => "moon.az, ",
            _ => "",
        };
        return mistake.hint(format!(
            "name the object: {others}{}.{1}, or {STRONGEST}.{1} for the strongest shower",
            example_shower(showers),
            field.name
        ));
    }
    if let Some((shower, key)) = name.split_once('_')
        && let Some(shower) = ShowerCode::parse(shower)
        && let Some(field) = RADIANT_FIELDS.iter().find(|f| f.key == key)
    {
        return mistake.hint(format!(
            "that is its name in CSV; in a query it is {shower}.{}",
            field.name
        ));
    }
    if let Some(shower) = ShowerCode::parse(name)
        && showers.contains(&shower)
    {
        return mistake.hint(format!(
            "{shower} is a shower: use {shower}.alt, or shower = {shower}"
        ));
    }
    if let Some(hint) = hint_for(name) {
        return mistake.hint(hint);
    }
    let names = FIELDS.iter().map(|f| f.name).filter(|n| !n.is_empty());
    let radiants: Vec<String> = RADIANT_FIELDS
        .iter()
        .map(|f| format!("{STRONGEST}.{}", f.name))
        .collect();
    let near = nearest(name, names.chain(radiants.iter().map(String::as_str)));
    mistake.hint(near.map_or_else(
        || "`framefall frames --fields` lists the fields".to_owned(),
        |near| format!("did you mean {near}?"),
    ))
}

fn example_shower(showers: &[ShowerCode]) -> String {
    let geminids = ShowerCode::parse("GEM").filter(|gem| showers.contains(gem));
    geminids
        .or_else(|| showers.first().copied())
        .map_or_else(|| STRONGEST.to_owned(), |shower| shower.to_string())
}

/// The word nearest to `word`, if one is near enough: a letter in three may differ, or one is the beginning of the
/// other.
pub(super) fn nearest<'w>(word: &str, among: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    // Words longer than any name are not worth the time.
    const LONGEST: usize = 40;
    let letters = word.chars().count();
    if letters > LONGEST {
        return None;
    }
    let allowed = (letters / 3).max(1);
    let known: Vec<&str> = among.collect();
    let close = known
        .iter()
        .map(|known| (strsim::osa_distance(known, word), *known))
        .filter(|&(distance, known)| distance <= allowed && distance < known.len())
        .min_by_key(|&(distance, _)| distance);
    if let Some((_, close)) = close {
        return Some(close);
    }
    // `temp` for `temperature`, if nothing else begins like that; `moon.altitude` for `moon.alt`.
    let mut longer = known.iter().filter(|known| known.starts_with(word));
    let begun = longer
        .next()
        .filter(|_| letters >= 3 && longer.next().is_none());
    let shorter = known
        .iter()
        .filter(|known| known.len() >= 3 && word.starts_with(**known));
    begun.or(shorter.max_by_key(|known| known.len())).copied()
}

/// Whether a field holds showers.
pub(super) const fn is_shower(field: &Field) -> bool {
    matches!(field.key.as_bytes(), b"shower" | b"main_shower")
}
