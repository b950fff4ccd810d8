//! What the findings of an audit ask for: each kind of finding, the worst first, with a count and a remedy for every session or
//! dump that has it. Looks nothing up, prints nothing.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use crate::catalogue::audit_row::AuditRow;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::finding::FINDINGS;
use crate::terms::finding::FindingCode;
use crate::terms::finding::Severity;
use crate::terms::finding::finding_code;

/// Which findings an audit is asked for; where a list is empty, all.
#[derive(Clone, Debug, Default)]
pub struct AuditFilter {
    /// Only these codes.
    pub codes: Vec<String>,
    /// Only those of these dumps.
    pub dumps: Vec<String>,
    /// Only those of these sessions.
    pub sessions: Vec<i64>,
    /// Only those of these weights.
    pub weights: Vec<Severity>,
}

impl AuditFilter {
    /// Refuses: a code that no finding has.
    pub fn check(&self) -> Result<(), Failure> {
        let Some(unknown) = self.codes.iter().find(|code| finding_code(code).is_none()) else {
            return Ok(());
        };
        let nearest = FINDINGS
            .iter()
            .min_by_key(|row| strsim::osa_distance(row.code, unknown))
            .map_or("no-place", |row| row.code);
        let message = format!("no finding has the code {unknown}");
        let hint = format!("did you mean {nearest}? framefall audit --codes lists every code");
        Err(Failure::words(message).hint(hint))
    }

    /// Whether it takes a finding.
    pub fn takes(&self, row: &AuditRow) -> bool {
        let any = |none: bool, of: bool| none || of;
        any(self.codes.is_empty(), self.codes.contains(&row.code))
            && any(self.dumps.is_empty(), self.dumps.contains(&row.dump))
            && any(
                self.sessions.is_empty(),
                row.session.is_some_and(|s| self.sessions.contains(&s)),
            )
            && any(
                self.weights.is_empty(),
                self.weights.contains(&weight_of(row)),
            )
    }

    /// Whether it asks for notes or for single kinds by name: then they are summed up like the rest.
    pub fn names_kinds(&self) -> bool {
        !self.codes.is_empty() || self.weights.contains(&Severity::Note)
    }
}

/// How much a finding weighs: a note, once framefall has resolved it.
pub fn weight_of(row: &AuditRow) -> Severity {
    match finding_code(&row.code) {
        Some(code) if !row.settled => code.severity,
        _ => Severity::Note,
    }
}

/// What to do about one finding: what it says itself, a command for its session, or what its code says.
pub fn remedy_of(row: &AuditRow) -> String {
    let own = || row.remedy.clone().or_else(|| command_for(row));
    match finding_code(&row.code) {
        _ if row.settled => "nothing; the order of the frames shows the time".to_owned(),
        Some(code) => own().unwrap_or_else(|| code.cure.to_owned()),
        None => own().unwrap_or_default(),
    }
}

/// The command that is the remedy for a finding's session.
fn command_for(row: &AuditRow) -> Option<String> {
    let site = matches!(
        row.code.as_str(),
        "no-place" | "no-zone" | "gps-absurd" | "gps-stale"
    );
    let session = row.session.filter(|_| site)?;
    let assign = CommandLine::new("site assign").blank("NAME");
    Some(assign.option("--session", session.to_string()).to_string())
}

/// What a finding is counted under.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    /// The catalogue as a whole.
    Catalogue,
    /// A session, by its number.
    Session(i64),
    /// A dump, by its label.
    Dump(String),
}

/// The findings of one kind that one session or dump has, and need the same remedy.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Where.
    pub place: Place,
    /// How many.
    pub findings: u64,
    /// What was found, where a finding is about many frames and has its own remedy.
    pub found: Option<String>,
    /// What to do about these; `None` where that of the kind says it.
    pub remedy: Option<String>,
}

/// One kind of finding.
#[derive(Clone, Debug)]
pub struct Kind {
    /// Its row in the table of findings.
    pub code: &'static FindingCode,
    /// How much it weighs here.
    pub weight: Severity,
    /// What to do about all of them; `None` where each entry has its own remedy, or there is nothing to do.
    pub remedy: Option<&'static str>,
    /// Where it was found, the most findings first.
    pub entries: Vec<Entry>,
}

impl Kind {
    /// Whether there is anything to do.
    fn asks_for_something(&self) -> bool {
        self.entries.iter().any(|entry| entry.remedy.is_some())
            || self
                .remedy
                .is_some_and(|words| !words.starts_with("nothing"))
    }

    /// How many findings are of this kind.
    pub fn findings(&self) -> u64 {
        self.entries.iter().map(|entry| entry.findings).sum()
    }
}

/// A finding's kind: weight, and code.
type KindKey = (Reverse<Severity>, &'static str);

/// What findings of a kind are counted together by: place, what was found, remedy.
type EntryKey = (Place, Option<String>, Option<String>);

/// The findings of an audit, counted as they come. Memory grows with the sessions and dumps that have some.
#[derive(Debug, Default)]
pub struct Summary {
    counted: BTreeMap<KindKey, BTreeMap<EntryKey, u64>>,
}

impl Summary {
    /// Counts a finding.
    pub fn add(&mut self, row: &AuditRow) {
        let Some(code) = finding_code(&row.code) else {
            return;
        };
        let place = match row.session {
            _ if row.dump.is_empty() || code.code == "rows-stale" => Place::Catalogue,
            Some(session) if code.is_of_session() => Place::Session(session),
            _ => Place::Dump(row.dump.clone()),
        };
        let own = || row.remedy.clone().or_else(|| command_for(row));
        let remedy = if row.settled { None } else { own() };
        let kind = (Reverse(weight_of(row)), code.code);
        let places = self.counted.entry(kind).or_default();
        let found = row.remedy.is_some().then(|| row.saw.clone());
        *places.entry((place, found, remedy)).or_default() += 1;
    }

    /// How many findings there are.
    pub fn findings(&self) -> u64 {
        self.counted.values().flat_map(BTreeMap::values).sum()
    }

    /// The greatest weight among them.
    pub fn worst(&self) -> Option<Severity> {
        self.counted.keys().next().map(|(weight, _)| weight.0)
    }

    /// Every kind, the worst first; of one weight those that ask for something, then the one with the most findings.
    pub fn kinds(&self) -> Vec<Kind> {
        let mut kinds: Vec<Kind> = self.counted.iter().filter_map(kind).collect();
        kinds
            .sort_by_key(|kind| Reverse((kind.weight, kind.asks_for_something(), kind.findings())));
        kinds
    }
}

fn kind((key, places): (&KindKey, &BTreeMap<EntryKey, u64>)) -> Option<Kind> {
    let code = finding_code(key.1)?;
    let mut entries: Vec<Entry> = places
        .iter()
        .map(|((place, found, remedy), findings)| Entry {
            place: place.clone(),
            found: found.clone(),
            findings: *findings,
            remedy: remedy.clone(),
        })
        .collect();
    entries.sort_by_key(|entry| Reverse(entry.findings));
    let weight = key.0.0;
    let settled = weight < code.severity;
    let general = !settled && entries.iter().any(|entry| entry.remedy.is_none());
    Some(Kind {
        code,
        weight,
        remedy: general.then_some(code.cure),
        entries,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(code: &str, session: i64, settled: bool) -> AuditRow {
        AuditRow {
            code: code.to_owned(),
            dump: "card".to_owned(),
            session: Some(session),
            settled,
            ..AuditRow::default()
        }
    }

    #[test]
    fn kinds_are_counted_for_each_session_or_dump_the_worst_first() {
        let mut summary = Summary::default();
        for _ in 0..360 {
            summary.add(&row("clock-twice", 3, true));
        }
        summary.add(&row("no-place", 3, false));
        summary.add(&row("no-place", 4, false));
        summary.add(&row("no-place", 4, false));
        summary.add(&row("truncated", 4, false));
        let kinds = summary.kinds();
        let codes: Vec<_> = kinds.iter().map(|kind| kind.code.code).collect();
        assert_eq!(codes, ["truncated", "no-place", "clock-twice"]);
        assert_eq!(kinds[0].entries[0].place, Place::Dump("card".to_owned()));
        assert!(
            kinds[0]
                .remedy
                .is_some_and(|words| words.contains("copy it again"))
        );
        assert_eq!(kinds[1].entries[0].place, Place::Session(4));
        assert_eq!(kinds[1].entries[0].findings, 2);
        let assign = "framefall site assign NAME --session 4";
        assert_eq!(kinds[1].entries[0].remedy.as_deref(), Some(assign));
        assert_eq!(kinds[2].weight, Severity::Note);
        assert_eq!((kinds[2].entries.len(), kinds[2].findings()), (1, 360));
        assert_eq!(summary.worst(), Some(Severity::Damage));
    }

    #[test]
    fn a_filter_takes_what_it_names() {
        let filter = AuditFilter {
            weights: vec![Severity::Note],
            sessions: vec![3],
            ..AuditFilter::default()
        };
        assert!(filter.takes(&row("clock-twice", 3, true)));
        assert!(!filter.takes(&row("clock-twice", 3, false)));
        assert!(!filter.takes(&row("clock-twice", 4, true)));
        let unknown = AuditFilter {
            codes: vec!["no-plase".to_owned()],
            ..AuditFilter::default()
        };
        let refused = unknown.check().unwrap_err();
        assert!(refused.hint.is_some_and(|hint| hint.contains("no-place")));
    }
}
