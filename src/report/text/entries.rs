//! What is wrong or nearly so: where, when, which pair, by how much, and what would help?

use crate::check::{Finding, Moment, Place, Status};

use super::table::{Paint, Set, Table};
use super::{Ink, section, status_paint};
use crate::report::number::{self, Rounding};
use crate::report::{Report, words};

/// The violations, then what is tight.
pub fn write(report: &Report, ink: Ink, out: &mut String) {
    let violations = |finding: &&Finding| finding.status.is_violation();
    let tight = |finding: &&Finding| finding.status == Status::Tight;
    list("violations", report, report.outcome.findings.iter().filter(violations).collect(), ink, out);
    list("tight", report, report.outcome.findings.iter().filter(tight).collect(), ink, out);
}

fn list(title: &str, report: &Report, findings: Vec<&Finding>, ink: Ink, out: &mut String) {
    section(title, ink, out);
    if findings.is_empty() {
        out.push_str("none\n");
    }
    for (index, finding) in findings.into_iter().enumerate() {
        if index > 0 {
            out.push('\n');
        }
        let who = finding.key.who.map(|who| format!(", {}", words::who(who))).unwrap_or_default();
        let heading = format!("{}. {}: {}{who}", index + 1, finding.key.check, words::place(&finding.key.place));
        out.push_str(&ink.paint(&heading, status_paint(&finding.status)));
        out.push('\n');
        entry(report, finding).write(ink, 3, out);
    }
}

fn entry(report: &Report, finding: &Finding) -> Table<2> {
    let mut table = Table::new([("", Set::Left), ("", Set::Wrap)]);
    let mut line = |what: &str, text: String| table.row([super::Cell::painted(what, Paint::None), text.into()]);
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
        if !at.joints.is_empty() {
            let joints = report.outcome.arm_joints.iter().zip(&at.joints);
            let joints = joints.map(|(joint, value)| format!("{} {}", joint.name, number::joint(*value, joint.turns)));
            line("arm then", joints.collect::<Vec<_>>().join(", "));
        }
    }
    for (what, text) in [("note", &finding.note), ("would help", &finding.help), ("limit from", &finding.source)] {
        if let Some(text) = text {
            line(what, text.clone());
        }
    }
    table
}

/// The value, the limit, and how far the one is from the other.
fn measured(finding: &Finding) -> String {
    let mut said = words::value(finding);
    if let Some(worst) = words::worst(finding) {
        said += &format!(", with tolerances {worst}");
    }
    if let Some(bar) = finding.limit {
        said += &format!("; {}", words::limit(bar, finding.unit));
    }
    match finding.margin {
        Some(margin) if margin < 0.0 => {
            said + &format!(": off by {}", number::value(-margin, finding.unit, Rounding::Up))
        }
        Some(margin) => said + &format!(": {} to spare", number::value(margin, finding.unit, Rounding::Down)),
        None => said,
    }
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
