//! Of each violation: what governs it, and which least changes would mend it?

use crate::model::{PlanEdit, Project};
use crate::propose::mend::{Mend, Mended, Sought, proposable};

use super::edits::values;
use super::table::{Cell, Paint, Set, Table};
use super::violations::entries;
use super::{Ink, count, paragraph, section};
use crate::report::Report;
use crate::report::number::{self, Rounding};

/// The mends of all causes, in the order of the violations; each mend has its number.
pub fn mends(report: &Report, mended: &[Mended], ink: Ink) -> String {
    let mut out = String::new();
    section("mends", ink, &mut out);
    if mended.is_empty() {
        out.push_str("no limit is violated: there is nothing to mend\n");
        return out;
    }
    let entries = entries(report.outcome);
    let mut number = 0;
    for (at, (mended, entry)) in mended.iter().zip(&entries).enumerate() {
        if at > 0 {
            out.push('\n');
        }
        out.push_str(&ink.paint(&format!("{}. {}", at + 1, entry.heading()), Paint::Bad));
        out.push('\n');
        paragraph(&format!("governs: {}", entry.governing(report)), 3, &mut out);
        let mut table = Table::new([
            ("mend", Set::Right),
            ("by", Set::Wrap),
            ("change", Set::Wrap),
            ("time", Set::Right),
            ("tried", Set::Right),
        ]);
        for sought in &mended.sought {
            table.row(row(report.project, sought, &mut number));
        }
        table.write(ink, 3, &mut out);
        if mended.sought.is_empty() {
            paragraph("nothing was tried: no kind of change bears on it", 3, &mut out);
        }
        let is_mended = mended.sought.iter().any(|sought| sought.mend.is_some());
        if let (false, Some(name)) = (is_mended, proposable(report.project, &mended.cause)) {
            let told = format!(
                "no single change was found: `trusswalk propose{} --only {name}` looks for all of it anew",
                report.named.map(|named| format!(" {named}")).unwrap_or_default()
            );
            paragraph(&told, 3, &mut out);
        }
    }
    out.push('\n');
    paragraph(
        "each is the least of its kind that was found by checking the whole plan with it; nothing else is violated by it. \
         time: by how much longer all timed motions take; tried: plans that were checked. None found is no proof that there \
         is none.",
        0,
        &mut out,
    );
    out
}

fn row(project: &Project, sought: &Sought, number: &mut usize) -> [Cell; 5] {
    let by = sought.way.to_string().into();
    let tried = sought.tried.to_string().into();
    match &sought.mend {
        None => ["".into(), by, sought.none_found().into(), "".into(), tried],
        Some(mend) => {
            *number += 1;
            [Cell::painted(number.to_string(), Paint::Good), by, change(project, mend).into(), time(mend).into(), tried]
        }
    }
}

fn time(mend: &Mend) -> String {
    let Some(longer) = mend.longer else { return "not timed".to_owned() };
    let sign = if longer > 0.0 { "+" } else { "" };
    format!("{sign}{} s", number::fixed(longer, 1, Rounding::Nearest))
}

/// What a mend changes, from which value to which.
pub fn change(project: &Project, mend: &Mend) -> String {
    let removed = mend.edits.iter().filter(|edit| matches!(edit, PlanEdit::RemoveWaypoint { .. })).count();
    let added = mend.edits.iter().filter(|edit| matches!(edit, PlanEdit::AddWaypoint { .. })).count();
    let one = |edit: &PlanEdit| {
        let values = values(project, edit)?.join(", ");
        Some(match edit {
            PlanEdit::SetWaypoint { waypoint, .. } => format!("waypoint {}: {values}", waypoint + 1),
            PlanEdit::SetDuration { waypoint, .. } => format!("to waypoint {}: {values}", waypoint + 1),
            _ => values,
        })
    };
    let mut told: Vec<String> = mend.edits.iter().filter_map(one).collect();
    if removed + added > 0 {
        told.push(format!("{} in place of {removed}", count(added, "waypoint")));
    }
    let left =
        if mend.left > 0 { format!("; {} left of other causes", count(mend.left, "violation")) } else { String::new() };
    format!("{}{left}", told.join("; "))
}
