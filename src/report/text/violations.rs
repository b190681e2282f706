//! What is wrong: where, when, which pair, by how much, and what would help?
//!
//! One cause can break a limit for thousands of pairs. Checks come in the order in which one mends them, and at each
//! place a check has one entry: its worst finding in full, then one row for each two families of bodies that meet, with
//! how many findings it stands for. Rows beyond [`FURTHER`] are counted.

use std::borrow::Cow;

use crate::check::{Finding, JointName, Moment, Outcome, Place, Status};
use crate::model::Who;
use crate::propose::mend::Cause;

use super::table::{Set, Table};
use super::{Ink, count, paragraph, section, status_paint};
use crate::report::number::{self, Rounding};
use crate::report::{Report, arm_then, words};

/// At most so many rows after the worst finding of a check at one place.
const FURTHER: usize = 5;
/// Checks in the order in which one mends: what the plan sets comes before what follows from it.
const CAUSES_FIRST: [&str; 12] = [
    "joint-limits",
    "line",
    "speed",
    "singularity",
    "reach",
    "posture",
    "envelope",
    "placing",
    "sight",
    "access",
    "clearance",
    "stopping",
];

/// The violations, causes first; of one check the worst first, where it measures distances between bodies, else in the
/// plan's order.
pub fn causes_first(outcome: &Outcome) -> Vec<&Finding> {
    let mut found: Vec<&Finding> = outcome.findings.iter().filter(|finding| finding.status.is_violation()).collect();
    found.sort_by(|a, b| {
        let rank = |finding: &Finding| CAUSES_FIRST.iter().position(|check| *check == finding.key.check);
        let by_size = if between_bodies(a) && between_bodies(b) {
            severity(a).total_cmp(&severity(b))
        } else {
            std::cmp::Ordering::Equal
        };
        rank(a).cmp(&rank(b)).then(by_size)
    });
    found
}

fn between_bodies(finding: &Finding) -> bool {
    finding.pair.is_some()
}

/// The margin; less than any where there is no value at all.
fn severity(finding: &Finding) -> f64 {
    finding.margin.unwrap_or(f64::NEG_INFINITY)
}

/// The violations.
pub fn write(report: &Report, ink: Ink, out: &mut String) {
    section("violations", ink, out);
    let entries = entries(report.outcome);
    if entries.is_empty() {
        out.push_str("none\n");
    }
    for (number, entry) in entries.iter().enumerate() {
        if number > 0 {
            out.push('\n');
        }
        entry.write(report, number + 1, ink, out);
    }
}

/// What one check found at one place.
pub struct Entry<'a> {
    header: Header<'a>,
    /// Findings of bodies of the same two families together, the worst first; any other finding alone.
    groups: Vec<Vec<&'a Finding>>,
}

/// What the findings of one entry have in common.
#[derive(PartialEq)]
struct Header<'a> {
    check: &'static str,
    place: &'a Place,
    who: Option<Who>,
}

impl std::fmt::Display for Header<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", words::check(self.check), words::place(self.place))?;
        self.who.map_or(Ok(()), |who| write!(f, ", {}", words::who(who)))
    }
}

/// All violations by check and place, causes first.
pub fn entries(outcome: &Outcome) -> Vec<Entry<'_>> {
    let mut found: Vec<(Header, Vec<&Finding>)> = Vec::new();
    for finding in causes_first(outcome) {
        let header = Header { check: finding.key.check, place: &finding.key.place, who: finding.key.who };
        match found.iter_mut().find(|(known, _)| *known == header) {
            Some((_, findings)) => findings.push(finding),
            None => found.push((header, vec![finding])),
        }
    }
    found.into_iter().map(|(header, findings)| Entry { header, groups: grouped(&findings) }).collect()
}

/// The causes of all violations, in the order in which they are told.
pub fn causes(outcome: &Outcome) -> Vec<Cause> {
    let cause = |Header { check, place, who }: Header| Cause { check, place: place.clone(), who };
    entries(outcome).into_iter().map(|entry| cause(entry.header)).collect()
}

impl<'a> Entry<'a> {
    /// What it is about, and how many findings it stands for.
    pub fn heading(&self) -> String {
        let all: usize = self.groups.iter().map(Vec::len).sum();
        let of = if all > 1 { format!(" ({})", count(all, "violation")) } else { String::new() };
        format!("{}{of}", self.header)
    }

    /// What governs: which pair, joint or target, its value, the limit, and how far the one is beyond the other.
    pub fn governing(&self, report: &Report) -> String {
        let told = |worst: &Finding| format!("{}: {}", words::subject(worst), measured(report, worst));
        self.worst().map(told).unwrap_or_default()
    }

    /// The finding that is printed in full.
    pub fn worst(&self) -> Option<&'a Finding> {
        self.groups.first()?.first().copied()
    }

    fn write(&self, report: &Report, number: usize, ink: Ink, out: &mut String) {
        let (Some(first), Some(worst)) = (self.groups.first(), self.worst()) else { return };
        let heading = format!("{number}. {}", self.heading());
        out.push_str(&ink.paint(&heading, status_paint(&worst.status)));
        out.push('\n');
        let mut block = block(report, worst);
        if first.len() > 1 {
            block.row(["likewise".into(), format!("{} more of {}", first.len() - 1, families(first)).into()]);
        }
        block.write(ink, 3, out);
        self.further(report).write(ink, 3, out);
        let left: usize = self.groups.iter().skip(1 + FURTHER).map(Vec::len).sum();
        if left > 0 {
            paragraph(&format!("and {left} more, in --format json|csv"), 3, out);
        }
    }

    /// One row for each further group.
    fn further(&self, report: &Report) -> Table<5> {
        let mut table = Table::new([
            ("n", Set::Right),
            ("of", Set::Wrap),
            ("worst", Set::Wrap),
            ("limit", Set::Left),
            ("off by", Set::Right),
        ]);
        for group in self.groups.iter().skip(1).take(FURTHER) {
            let Some(worst) = group.first() else { continue };
            let value = match worst.margin {
                Some(_) => words::worst(worst).unwrap_or_else(|| words::said(report, worst)),
                None => worst.note.clone().unwrap_or_default(),
            };
            table.row([
                group.len().to_string().into(),
                families(group).into(),
                value.into(),
                worst.limit.map(|bar| words::short_limit(bar, worst.unit)).unwrap_or_default().into(),
                worst.margin.map(|margin| number::value(-margin, worst.unit, Rounding::Up)).unwrap_or_default().into(),
            ]);
        }
        table
    }
}

/// Groups of findings, the worst first where all are in one unit.
fn grouped<'a>(findings: &[&'a Finding]) -> Vec<Vec<&'a Finding>> {
    let mut groups: Vec<(Option<[&str; 2]>, Vec<&Finding>)> = Vec::new();
    for finding in findings {
        let pair = ordered_bodies(finding).map(|pair| pair.map(family));
        match groups.iter_mut().find(|(known, _)| pair.is_some() && *known == pair) {
            Some((_, group)) => group.push(finding),
            None => groups.push((pair, vec![finding])),
        }
    }
    let mut groups: Vec<Vec<&Finding>> = groups.into_iter().map(|(_, group)| group).collect();
    if findings.windows(2).all(|pair| pair[0].unit == pair[1].unit) {
        for group in &mut groups {
            group.sort_by(|a, b| severity(a).total_cmp(&severity(b)));
        }
        let worst = |group: &Vec<&Finding>| group.first().map_or(f64::INFINITY, |finding| severity(finding));
        groups.sort_by(|a, b| worst(a).total_cmp(&worst(b)));
    }
    groups
}

/// The two bodies, the earlier family first.
fn ordered_bodies(finding: &Finding) -> Option<[&str; 2]> {
    let [a, b] = finding.pair.as_ref()?.bodies.as_ref()?;
    let (a, b) = (a.as_str(), b.as_str());
    Some(if family(b) < family(a) { [b, a] } else { [a, b] })
}

/// What a body's name begins with: `main` of `main/bay-1/diagonal-0`.
fn family(name: &str) -> &str {
    name.split('/').next().unwrap_or(name)
}

/// What a group is about: `arm/base/sled to main/…`.
fn families(group: &[&Finding]) -> String {
    match group {
        [] => String::new(),
        [one] => words::subject(one),
        several => {
            let pairs: Vec<[&str; 2]> = several.iter().filter_map(|finding| ordered_bodies(finding)).collect();
            let side = |k: usize| shared(&pairs.iter().map(|pair| pair[k]).collect::<Vec<_>>()).into_owned();
            format!("{} to {}", side(0), side(1))
        }
    }
}

/// What names have in common, up to a `/`: the name where all are alike, else `main/bay-1/…`.
fn shared<'a>(names: &[&'a str]) -> Cow<'a, str> {
    let Some((first, rest)) = names.split_first() else { return Cow::Borrowed("") };
    if rest.iter().all(|name| name == first) {
        return Cow::Borrowed(first);
    }
    let parts: Vec<&str> = first.split('/').collect();
    let alike = |k: usize| rest.iter().all(|name| name.split('/').nth(k) == parts.get(k).copied());
    let common = (0..parts.len()).take_while(|k| alike(*k)).count();
    let parts = parts.get(..common).unwrap_or_default();
    Cow::Owned(format!("{}/…", parts.join("/")))
}

/// One finding in full.
fn block(report: &Report, finding: &Finding) -> Table<2> {
    let mut table = Table::new([("", Set::Left), ("", Set::Wrap)]);
    let mut line = |what: &str, text: String| table.row([what.into(), text.into()]);
    match &finding.pair {
        Some(pair) => {
            let (bodies, classes) = (words::subject(finding), words::classes(pair.classes));
            let held = pair.situation.map(|held| format!(", {}", words::situation(held))).unwrap_or_default();
            line("which", if bodies == classes { classes + &held } else { format!("{bodies} ({classes}{held})") });
        }
        None => line("which", finding.key.subject.clone()),
    }
    line("value", measured(report, finding));
    if let Status::Violation(kind) = finding.status {
        line("how", words::kind(kind).to_owned());
    }
    if let Some(at) = &finding.at {
        let when = when(finding, at);
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
        if let Some(command) = poses_command(report, finding, at) {
            line("all bodies then", command);
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
fn measured(report: &Report, finding: &Finding) -> String {
    let mut said = words::said(report, finding);
    if let Some(worst) = words::worst(finding) {
        said += &format!(", worst case {worst}");
    }
    if let (Some(bar), Some(margin)) = (finding.limit, finding.margin) {
        let off_by = number::value(-margin, finding.unit, Rounding::Up);
        said += &format!("; {}: off by {off_by}", words::limit(bar, finding.unit));
    }
    said
}

/// Time, segment and fraction; segments are counted from 0, as `poses` counts them.
fn when(finding: &Finding, at: &Moment) -> String {
    let mut said = Vec::new();
    if let Some(seconds) = at.seconds {
        said.push(format!("{} (min:s)", number::minutes(seconds, 1, Rounding::Nearest)));
    }
    if let Some(segment) = at.segment {
        let of = at.segments.map(|count| format!(" of 0 to {}", count.saturating_sub(1))).unwrap_or_default();
        let fraction = number::fixed(at.fraction, 3, Rounding::Nearest);
        said.push(match &finding.key.place {
            Place::Worksite { .. } => format!("stretch {segment}{of} of the change of posture, {fraction} along it"),
            Place::Motion { .. } | Place::Step { .. } => format!("segment {segment}{of}, {fraction} along it"),
        });
    }
    said.join(", ")
}

/// The command that prints every body at the moment of a finding on a motion.
fn poses_command(report: &Report, finding: &Finding, at: &Moment) -> Option<String> {
    let (Place::Motion { motion }, Some(segment)) = (&finding.key.place, at.segment) else { return None };
    let plan = report.named.map(|named| format!("{} ", quoted(named))).unwrap_or_default();
    Some(format!("trusswalk poses {plan}{} --at {segment}:{}", quoted(motion), number::shortest(at.fraction, 9)))
}

/// A word as a shell takes it.
fn quoted(word: &str) -> Cow<'_, str> {
    let plain = |letter: char| letter.is_alphanumeric() || "/._-+:,@%".contains(letter);
    if !word.is_empty() && word.chars().all(plain) {
        Cow::Borrowed(word)
    } else {
        Cow::Owned(format!("'{}'", word.replace('\'', r"'\''")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::CHECKS;

    #[test]
    fn every_check_has_its_place_among_causes() {
        let mut ranked = CAUSES_FIRST;
        let mut checks = CHECKS.map(|check| check.name);
        ranked.sort_unstable();
        checks.sort_unstable();
        assert_eq!(ranked, checks);
    }

    #[test]
    fn names_share_what_they_begin_with() {
        assert_eq!(shared(&["arm/base/sled", "arm/base/sled"]), "arm/base/sled");
        assert_eq!(shared(&["main/bay-1/diagonal-0", "main/bay-1/longeron-3"]), "main/bay-1/…");
        assert_eq!(shared(&["main/bay-1", "main/bay-10"]), "main/…");
    }

    #[test]
    fn a_word_with_a_blank_is_quoted_for_the_shell() {
        assert_eq!(quoted("my-plan/plan.toml"), "my-plan/plan.toml");
        assert_eq!(quoted("my plan"), "'my plan'");
        assert_eq!(quoted("o'clock"), r"'o'\''clock'");
    }
}
