//! What keeps its limit only just?

use crate::check::{Finding, Status};

use super::findings_table::grouped;
use super::table::{Cell, Set, Table};
use super::{Ink, paragraph, section, status_paint};
use crate::report::number::{self, Rounding};
use crate::report::{Report, words};

/// So many rows of a check are printed, those with least to spare; the rest is counted.
const MOST: usize = 20;

/// One row for each tight finding, those of a check with least to spare first.
pub fn write(report: &Report, ink: Ink, out: &mut String) {
    section("tight", ink, out);
    let tight: Vec<&Finding> =
        report.outcome.findings.iter().filter(|finding| finding.status == Status::Tight).collect();
    if tight.is_empty() {
        out.push_str("none\n");
    }
    let mut table = Table::new([
        ("check", Set::Left),
        ("where", Set::Wrap),
        ("value", Set::Wrap),
        ("limit", Set::Left),
        ("to spare", Set::Right),
        ("which", Set::Wrap),
    ]);
    let mut left = Vec::new();
    for (check, mut findings) in grouped(tight, |finding| finding.key.check) {
        let margin = |finding: &Finding| finding.margin.unwrap_or(f64::INFINITY);
        findings.sort_by(|a, b| margin(a).total_cmp(&margin(b)));
        for finding in findings.iter().take(MOST) {
            table.row([
                Cell::painted(words::check(check), status_paint(&finding.status)),
                words::place(&finding.key.place).into(),
                words::worst(finding).unwrap_or_else(|| words::said(report, finding)).into(),
                finding.limit.map(|bar| words::short_limit(bar, finding.unit)).unwrap_or_default().into(),
                finding
                    .margin
                    .map(|margin| number::value(margin, finding.unit, Rounding::Down))
                    .unwrap_or_default()
                    .into(),
                words::subject(finding).into(),
            ]);
        }
        if findings.len() > MOST {
            left.push(format!("{} more of {}", findings.len() - MOST, words::check(check)));
        }
    }
    table.write(ink, 0, out);
    if !left.is_empty() {
        paragraph(&format!("and {}, in --format json|csv", left.join(", ")), 0, out);
    }
}
