//! Which of several findings governs, and how are findings tabled?

use crate::check::{Finding, Status};

use super::table::{Cell, Set, Table};
use super::{Ink, status_cell};
use crate::report::{Report, words};

/// The finding that a reader must see first: the worse status, then the smaller margin, then the earlier one.
pub fn governing<'a>(findings: impl IntoIterator<Item = &'a Finding>) -> Option<&'a Finding> {
    let rank = |finding: &Finding| match finding.status {
        Status::Violation(_) => 0,
        Status::NotChecked(_) => 1,
        Status::Tight => 2,
        Status::Ok => 3,
    };
    let margin = |finding: &Finding| finding.margin.unwrap_or(f64::INFINITY);
    findings.into_iter().min_by(|a, b| rank(a).cmp(&rank(b)).then(margin(a).total_cmp(&margin(b))))
}

/// A table of findings, one a row, under a first column of the caller's: how many there are, and the one that governs,
/// with its worst case where tolerances make one.
pub struct FindingsTable {
    table: Table<7>,
}

impl FindingsTable {
    /// An empty one; `first` is the heading of the first column.
    pub fn new(first: &'static str) -> Self {
        let columns = [
            (first, Set::Left),
            ("n", Set::Right),
            ("governing", Set::Wrap),
            ("worst case", Set::Left),
            ("limit", Set::Left),
            ("status", Set::Left),
            ("of", Set::Wrap),
        ];
        Self { table: Table::new(columns) }
    }

    /// Adds a row for the one of these findings that governs.
    pub fn row(&mut self, report: &Report, first: impl Into<Cell>, findings: &[&Finding]) {
        let Some(finding) = governing(findings.iter().copied()) else {
            return;
        };
        let checked = !matches!(finding.status, Status::NotChecked(_));
        let shown = |text: Option<String>| Cell::from(text.filter(|_| checked).unwrap_or_default());
        self.table.row([
            first.into(),
            findings.len().to_string().into(),
            shown(Some(words::said(report, finding))),
            shown(words::worst(finding)),
            shown(finding.limit.map(|bar| words::short_limit(bar, finding.unit))),
            status_cell(&finding.status),
            words::subject(finding).into(),
        ]);
    }

    /// Writes it.
    pub fn write(&self, ink: Ink, indent: usize, out: &mut String) {
        self.table.write(ink, indent, out);
    }
}

/// Findings in groups by a key, groups and findings in the order in which they come.
pub fn grouped<'a, K: PartialEq>(
    findings: impl IntoIterator<Item = &'a Finding>,
    key: impl Fn(&'a Finding) -> K,
) -> Vec<(K, Vec<&'a Finding>)> {
    let mut groups: Vec<(K, Vec<&Finding>)> = Vec::new();
    for finding in findings {
        let key = key(finding);
        match groups.iter_mut().find(|(known, _)| *known == key) {
            Some((_, group)) => group.push(finding),
            None => groups.push((key, vec![finding])),
        }
    }
    groups
}
