//! What is wrong or nearly so: where, when, which pair, by how much, and what would help?

use crate::check::{Finding, JointName, Moment, Place, Status};

use super::table::{Cell, Set, Table};
use super::{Ink, section, status_paint};
use crate::report::number::{self, Rounding};
use crate::report::{Report, arm_then, words};

/// The violations, one by one, then what is tight, one a row.
pub fn write(report: &Report, ink: Ink, out: &mut String) {
    section("violations", ink, out);
    let violations = report.outcome.findings.iter().filter(|finding| finding.status.is_violation());
    let mut number = 0;
    for finding in violations {
        if number > 0 {
            out.push('\n');
        }
        number += 1;
        let who = finding.key.who.map(|who| format!(", {}", words::who(who))).unwrap_or_default();
        let heading = format!("{number}. {}: {}{who}", finding.key.check, words::place(&finding.key.place));
        out.push_str(&ink.paint(&heading, status_paint(&finding.status)));
        out.push('\n');
        entry(report, finding).write(ink, 3, out);
    }
    if number == 0 {
        out.push_str("none\n");
    }

    section("tight", ink, out);
    let tight: Vec<&Finding> =
        report.outcome.findings.iter().filter(|finding| finding.status == Status::Tight).collect();
    if tight.is_empty() {
        out.push_str("none\n");
    }
    tight_table(&tight).write(ink, 0, out);
}

fn tight_table(findings: &[&Finding]) -> Table<6> {
    let mut table = Table::new([
        ("check", Set::Left),
        ("where", Set::Wrap),
        ("value", Set::Left),
        ("limit", Set::Left),
        ("to spare", Set::Right),
        ("which", Set::Wrap),
    ]);
    for finding in findings {
        table.row([
            Cell::painted(finding.key.check, status_paint(&finding.status)),
            words::place(&finding.key.place).into(),
            words::worst(finding).unwrap_or_else(|| words::value(finding)).into(),
            finding.limit.map(|bar| words::short_limit(bar, finding.unit)).unwrap_or_default().into(),
            finding.margin.map(|margin| number::value(margin, finding.unit, Rounding::Down)).unwrap_or_default().into(),
            words::subject(finding).into(),
        ]);
    }
    table
}

fn entry(report: &Report, finding: &Finding) -> Table<2> {
    let mut table = Table::new([("", Set::Left), ("", Set::Wrap)]);
    let mut line = |what: &str, text: String| table.row([what.into(), text.into()]);
    match &finding.pair {
        Some(pair) => {
            let bodies = words::subject(finding);
            let classes = words::classes(pair.classes);
            line("which", if bodies == classes { classes } else { format!("{bodies} ({classes})") });
        }
        None => line("which", finding.key.subject.clone()),
    }
    line("value", measured(finding));
    if let Status::Violation(kind) = finding.status {
        line("verdict", words::kind(kind).to_owned());
    }
    if let Some(at) = &finding.at {
        let when = when(report, finding, at);
        if !when.is_empty() {
            line("when", when);
        }
        if let Some([a, b]) = &at.points {
            line("nearest points", format!("{} and {} m", number::point(a), number::point(b)));
        }
        if let Some(joints) = arm_then(report.outcome, finding, at) {
            let joint =
                |(joint, value): (&JointName, f64)| format!("{} {}", joint.name, number::joint(value, joint.turns));
            line("arm then", joints.into_iter().map(joint).collect::<Vec<_>>().join(", "));
        }
    }
    for (what, text) in [("note", &finding.note), ("would help", &finding.help), ("limit from", &finding.source)] {
        if let Some(text) = text {
            line(what, text.clone());
        }
    }
    table
}

/// The value, the limit, and how far the one is beyond the other.
fn measured(finding: &Finding) -> String {
    let mut said = words::value(finding);
    if let Some(worst) = words::worst(finding) {
        said += &format!(", worst case {worst}");
    }
    if let (Some(bar), Some(margin)) = (finding.limit, finding.margin) {
        let off_by = number::value(-margin, finding.unit, Rounding::Up);
        said += &format!("; {}: off by {off_by}", words::limit(bar, finding.unit));
    }
    said
}

/// Time, segment and fraction; segments are counted from 1.
fn when(report: &Report, finding: &Finding, at: &Moment) -> String {
    let mut said = Vec::new();
    if let Some(seconds) = at.seconds {
        said.push(format!("{} (min:s)", number::minutes(seconds, 1, Rounding::Nearest)));
    }
    if let Some(segment) = at.segment {
        let segments = match &finding.key.place {
            Place::Motion { motion } => report.outcome.motions.iter().find(|known| known.id == *motion),
            Place::Worksite { .. } | Place::Step { .. } => None,
        };
        let of = segments.map(|motion| format!(" of {}", motion.waypoints.len().saturating_sub(1))).unwrap_or_default();
        let fraction = number::fixed(at.fraction, 3, Rounding::Nearest);
        said.push(format!("segment {}{of}, {fraction} along it", segment + 1));
    }
    said.join(", ")
}
