//! Is the plan clean, where is it tightest, and where must one look?

use crate::check::{Finding, Pair, Situation, Status};
use crate::model::BodyClass;

use super::findings_table::governing;
use super::table::{Paint, Set, Table};
use super::violations::{causes_first, entries};
use super::{Ink, count, paragraph};
use crate::report::number::{self, Rounding};
use crate::report::{Counts, Report, unbounded_motions, words};

/// The verdict in a line, then what it rests on.
pub fn write(report: &Report, ink: Ink, out: &mut String) {
    sentence(report, ink, out);
    let counts = Counts::of(report.outcome);
    let mut table = Table::new([("", Set::Left), ("", Set::Wrap)]);
    let mut line = |what: &str, text: String| table.row([what.into(), text.into()]);
    line("findings", counted(&counts));
    if let Some(only) = &report.options.only {
        line("only", format!("{only}: all else is left out of this report"));
    }
    if let Some(first) = entries(report.outcome).first().and_then(|entry| entry.worst()) {
        line("mend first", brief(report, first));
    }
    if let Some(tightest) = tightest(report) {
        line("tightest", brief(report, tightest));
    }
    let sections = [("VIOLATIONS", counts.violations), ("TIGHT", counts.tight), ("NOT CHECKED", counts.not_checked)];
    let look: Vec<&str> = sections.iter().filter(|(_, count)| *count > 0).map(|(name, _)| *name).collect();
    if !look.is_empty() {
        line("look at", format!("{} below", look.join(", ")));
    }
    for odd in &report.outcome.odd {
        line("odd", odd.clone());
    }
    table.write(ink, 0, out);
}

/// Clean, or what keeps it from that.
pub fn sentence(report: &Report, ink: Ink, out: &mut String) {
    let mut against = Vec::new();
    let mut checks: Vec<(&str, usize)> = Vec::new();
    for finding in causes_first(report.outcome) {
        match checks.iter_mut().find(|(name, _)| *name == finding.key.check) {
            Some((_, count)) => *count += 1,
            None => checks.push((finding.key.check, 1)),
        }
    }
    let violations: usize = checks.iter().map(|(_, count)| count).sum();
    if violations > 0 {
        let by_check: Vec<String> =
            checks.iter().map(|(name, count)| format!("{count} {}", words::check(name))).collect();
        against.push(format!("{} ({})", count(violations, "violation"), by_check.join(", ")));
    }
    let unbounded = unbounded_motions(report.outcome);
    if !unbounded.is_empty() {
        let have = if unbounded.len() == 1 { "has" } else { "have" };
        let motions = count(unbounded.len(), "motion");
        against.push(format!("{motions} {have} no clearance check ({})", unbounded.join(", ")));
    }
    let (text, paint) = if report.outcome.findings.is_empty() {
        ("NOTHING WAS CHECKED".to_owned(), Paint::Unknown)
    } else if against.is_empty() {
        ("CLEAN: no limit is violated, and the clearance of every motion is bounded".to_owned(), Paint::Good)
    } else {
        (format!("NOT CLEAN: {}", against.join("; ")), Paint::Bad)
    };
    let mut lines = String::new();
    paragraph(&text, 0, &mut lines);
    for line in lines.lines() {
        out.push_str(&ink.paint(line, paint));
        out.push('\n');
    }
}

/// How many findings came to what.
pub fn counted(counts: &Counts) -> String {
    let Counts { ok, tight, violations, not_checked } = counts;
    format!("{ok} ok, {tight} tight, {}, {not_checked} not checked", count(*violations, "violation"))
}

/// The clearance with least to spare; not of what is near by nature, nor of what is meant to touch.
fn tightest<'a>(report: &Report<'a>) -> Option<&'a Finding> {
    let measured = |finding: &&Finding| {
        let pair = finding.pair.as_ref().filter(|pair| !is_of_one_body(pair));
        matches!(pair.and_then(|pair| pair.situation), Some(Situation::Moving | Situation::NearWorksite))
            && finding.margin.is_some()
            && !matches!(finding.status, Status::NotChecked(_))
    };
    governing(report.outcome.findings.iter().filter(measured))
}

/// Whether both are parts of one crewmember: suit and pack are near to each other by nature.
fn is_of_one_body(pair: &Pair) -> bool {
    matches!(
        pair.classes.classes(),
        (BodyClass::Rider, BodyClass::Rider) | (BodyClass::SecondCrew, BodyClass::SecondCrew)
    )
}

/// A finding in a line.
fn brief(report: &Report, finding: &Finding) -> String {
    let about = format!(
        "{}, {}, {}",
        words::check(finding.key.check),
        words::place(&finding.key.place),
        words::subject(finding)
    );
    match (finding.margin, finding.limit) {
        (Some(margin), Some(bar)) => {
            let value = words::worst(finding).unwrap_or_else(|| words::said(report, finding));
            let spare = if margin < 0.0 {
                format!("off by {}", number::value(-margin, finding.unit, Rounding::Up))
            } else {
                format!("{} to spare", number::value(margin, finding.unit, Rounding::Down))
            };
            format!("{about}: {value}, {}: {spare}", words::limit(bar, finding.unit))
        }
        _ => format!("{about}: {}", finding.note.as_deref().unwrap_or("no value")),
    }
}
