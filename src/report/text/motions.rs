//! How does the arm get from worksite to worksite, and how near does anything come to anything?

use crate::check::{Finding, MotionSummary, Place, Status, Value};

use super::findings_table::{FindingsTable, governing, grouped};
use super::table::{Cell, Paint, Set, Table};
use super::{Ink, paragraph, section, status_cell};
use crate::report::number::{self, Rounding};
use crate::report::{Report, words};

/// Names of the checks that have a column of their own.
const JOINT_LIMITS: &str = "joint-limits";
const SINGULARITY: &str = "singularity";
/// The check that has a row for each pair of classes.
const CLEARANCE: &str = "clearance";

/// One table of the motions, one of their clearances by pair of classes.
pub fn write(report: &Report, ink: Ink, out: &mut String) {
    let motions = &report.outcome.motions;
    if motions.is_empty() {
        return;
    }
    section("motions", ink, out);
    let mut table = Table::new([
        ("motion", Set::Left),
        ("kind", Set::Left),
        ("carries", Set::Wrap),
        ("waypoints", Set::Right),
        ("min:s", Set::Right),
        ("nearest joint limit", Set::Wrap),
        ("least singular value", Set::Left),
        ("status", Set::Left),
    ]);
    for motion in motions {
        table.row(row(report, motion));
    }
    table.write(ink, 0, out);
    let scale = number::limit(report.project.plan.limits.singularity_length_m, crate::check::Unit::Metre);
    let singular =
        format!("singular values are those of the tip's Jacobian, its turning rows times a length scale of {scale}");
    paragraph(&singular, 0, out);
    let timed: Vec<f64> = motions.iter().filter_map(|motion| motion.seconds).collect();
    if !timed.is_empty() {
        let total = number::minutes(timed.iter().sum(), 0, Rounding::Up);
        out.push_str(&format!("{} of {} motions are timed; together {total} (min:s)\n", timed.len(), motions.len()));
    }
    section("clearances of the motions", ink, out);
    for motion in motions {
        let findings = findings_of(report, motion).filter(|finding| finding.pair.is_some());
        // One pair of classes can have several limits: moving, near a worksite, as one piece, in a declared contact.
        let row_of = |finding: &Finding| match &finding.pair {
            Some(pair) if finding.key.check == CLEARANCE => (words::classes(pair.classes), pair.situation),
            _ => (format!("{}, all pairs", finding.key.check), None),
        };
        let rows = grouped(findings, row_of);
        let several = |name: &str| rows.iter().filter(|((known, _), _)| known == name).count() > 1;
        if rows.is_empty() {
            continue;
        }
        out.push_str(&ink.paint(&motion.id, Paint::Bold));
        out.push('\n');
        let mut table = FindingsTable::new("clearance of");
        let mut far: Vec<(String, Vec<String>)> = Vec::new();
        for ((name, situation), findings) in &rows {
            let title = match situation {
                Some(situation) if several(name) => format!("{name}, {}", words::situation(*situation)),
                _ => name.clone(),
            };
            match findings.as_slice() {
                [finding] if matches!(finding.value, Value::Above(_)) && finding.status == Status::Ok => {
                    let farther = words::value(finding);
                    match far.iter_mut().find(|(known, _)| *known == farther) {
                        Some((_, titles)) => titles.push(title),
                        None => far.push((farther, vec![title])),
                    }
                }
                _ => table.row(report, title, findings),
            }
        }
        table.write(ink, 2, out);
        for (farther, titles) in far {
            paragraph(&format!("{farther}: {}", titles.join(", ")), 2, out);
        }
    }
}

fn findings_of<'a>(report: &Report<'a>, motion: &'a MotionSummary) -> impl Iterator<Item = &'a Finding> {
    let belongs = |finding: &&Finding| matches!(&finding.key.place, Place::Motion { motion: id } if *id == motion.id);
    report.outcome.findings.iter().filter(belongs)
}

fn row(report: &Report, motion: &MotionSummary) -> [Cell; 8] {
    let least = |check: &str| {
        let of_check = findings_of(report, motion).filter(|finding| finding.key.check == check);
        governing(of_check.filter(|finding| finding.margin.is_some()))
    };
    let carries: Vec<String> = motion.carries.iter().map(|class| class.word().replace('_', " ")).collect();
    let joint = least(JOINT_LIMITS).map(|finding| format!("{} {}", words::value(finding), finding.key.subject));
    let worst = governing(findings_of(report, motion)).map(|finding| status_cell(&finding.status));
    let not_checked = motion.not_checked.as_ref().map(|reason| status_cell(&Status::NotChecked(reason.clone())));
    [
        motion.id.as_str().into(),
        motion.kind.word().into(),
        (if carries.is_empty() { "nothing".to_owned() } else { carries.join(", ") }).into(),
        motion.waypoints.len().to_string().into(),
        motion.seconds.map(|seconds| number::minutes(seconds, 0, Rounding::Up)).unwrap_or_default().into(),
        joint.unwrap_or_default().into(),
        least(SINGULARITY).map(words::value).unwrap_or_default().into(),
        not_checked.or(worst).unwrap_or_default(),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::CHECKS;

    #[test]
    fn the_checks_with_a_column_of_their_own_exist() {
        for name in [JOINT_LIMITS, SINGULARITY, CLEARANCE] {
            assert!(CHECKS.iter().any(|check| check.name == name), "{name}");
        }
    }
}
