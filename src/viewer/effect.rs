//! What does a change make better, and what worse?
//!
//! Findings of a plan before and after, compared place by place. Pairs of the same classes are one: which of them is the
//! nearest may change with anything.

use std::collections::BTreeMap;

use crate::check::{Finding, Place, Status};
use crate::model::Who;
use crate::report::words;

use super::chosen::rank;

/// So many of a kind are told in full.
const TOLD: usize = 3;

/// Whether something is better or worse for a change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    Better,
    /// A limit is violated that was kept.
    Broken,
    /// Little is to spare where there was enough, or it is not known any more.
    Tighter,
}

/// What a change does, line by line.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Effect {
    pub lines: Vec<(Turn, String)>,
}

/// What is compared with its like.
type Like<'a> = (&'static str, &'a Place, Option<Who>, String);

impl Effect {
    /// Compares the findings of a plan with those that it had before.
    pub fn new(before: &[Finding], now: &[Finding]) -> Self {
        let (before, now) = (worst(before), worst(now));
        let was = |like: &Like| before.get(like).copied();
        let is_kept = |finding: Option<&Finding>| !finding.is_some_and(|finding| finding.status.is_violation());
        let mended = before.iter().filter(|(like, was)| was.status.is_violation() && is_kept(now.get(*like).copied()));
        let mended: Vec<&Finding> = mended.map(|(_, was)| *was).collect();
        let find = |holds: &dyn Fn(&Like, &Finding) -> bool| -> Vec<&Finding> {
            now.iter().filter(|(like, finding)| holds(like, finding)).map(|(_, finding)| *finding).collect()
        };
        let broken = find(&|like, finding| finding.status.is_violation() && is_kept(was(like)));
        let farther = find(&|like, finding| {
            let short = |finding: &Finding| finding.margin.unwrap_or(0.0);
            finding.status.is_violation()
                && was(like).is_some_and(|was| was.status.is_violation() && short(finding) < short(was) - 1e-6)
        });
        let tight = find(&|like, finding| {
            finding.status == Status::Tight && was(like).is_none_or(|was| was.status == Status::Ok)
        });
        let unchecked = find(&|like, finding| {
            matches!(finding.status, Status::NotChecked(_))
                && was(like).is_some_and(|was| !matches!(was.status, Status::NotChecked(_)))
        });
        let mut lines = Vec::new();
        if !mended.is_empty() {
            lines.push((Turn::Better, format!("{} no more", count(mended.len(), "violation"))));
        }
        tell(Turn::Broken, "breaks", &broken, &mut lines);
        tell(Turn::Broken, "breaks by more than before", &farther, &mut lines);
        tell(Turn::Tighter, "makes tight", &tight, &mut lines);
        tell(Turn::Tighter, "leaves not checked", &unchecked, &mut lines);
        if [&broken, &farther, &tight, &unchecked].iter().all(|found| found.is_empty()) {
            lines
                .push((Turn::Better, "breaks no limit that was kept, and makes nothing tight that was not".to_owned()));
        }
        Self { lines }
    }
}

/// Of each kind, the finding with the least margin; violations first.
fn worst(findings: &[Finding]) -> BTreeMap<Like<'_>, &Finding> {
    let mut worst: BTreeMap<Like, &Finding> = BTreeMap::new();
    for finding in findings {
        let subject = match &finding.pair {
            Some(pair) => format!("{} {:?}", words::classes(pair.classes), pair.situation.map(words::situation)),
            None => finding.key.subject.clone(),
        };
        let like = (finding.key.check, &finding.key.place, finding.key.who, subject);
        let known = worst.entry(like).or_insert(finding);
        let order = rank(&finding.status).cmp(&rank(&known.status));
        let margin = |finding: &Finding| finding.margin.unwrap_or(f64::INFINITY);
        if order.then(margin(finding).total_cmp(&margin(known))).is_lt() {
            *known = finding;
        }
    }
    worst
}

fn tell(turn: Turn, verb: &str, findings: &[&Finding], lines: &mut Vec<(Turn, String)>) {
    let mut findings = findings.to_vec();
    findings.sort_by(|a, b| a.margin.unwrap_or(f64::NEG_INFINITY).total_cmp(&b.margin.unwrap_or(f64::NEG_INFINITY)));
    lines.extend(findings.iter().take(TOLD).map(|finding| (turn, format!("{verb}: {}", said(finding)))));
    if let Some(more) = findings.len().checked_sub(TOLD).filter(|more| *more > 0) {
        lines.push((turn, format!("{verb}: {more} more")));
    }
}

/// Where, what, and by which value against which limit.
fn said(finding: &Finding) -> String {
    let what = format!("{}, {} of {}", words::place(&finding.key.place), finding.key.check, words::subject(finding));
    let value = words::worst(finding).unwrap_or_else(|| words::value(finding));
    match finding.limit {
        Some(bar) => format!("{what}: {value}, {}", words::limit(bar, finding.unit)),
        None => format!("{what}: {value}"),
    }
}

fn count(number: usize, word: &str) -> String {
    if number == 1 { format!("1 {word}") } else { format!("{number} {word}s") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::viewer::session::Ask;
    use crate::viewer::testing::{Opened, clearance};

    fn turns(effect: &Effect) -> Vec<Turn> {
        effect.lines.iter().map(|(turn, _)| *turn).collect()
    }

    #[test]
    fn what_is_broken_is_told_with_place_value_and_limit_and_what_is_mended_by_its_number() {
        let mut opened = Opened::starter();
        let before = opened.session().findings().to_vec();
        opened.change(Ask::Edit(clearance(0.7)));
        let now = opened.session().findings().to_vec();
        let violated = now.iter().filter(|finding| finding.status.is_violation()).count();
        assert!(violated > 0 && !before.iter().any(|finding| finding.status.is_violation()));

        let worse = Effect::new(&before, &now);
        let (turn, first) = &worse.lines[0];
        assert_eq!(*turn, Turn::Broken);
        assert!(first.starts_with("breaks: ") && first.contains("at least 0.700 m"), "{first}");
        assert!(!turns(&worse).contains(&Turn::Better), "{worse:?}");

        let better = Effect::new(&now, &before);
        assert!(better.lines[0].1.ends_with("no more"), "{better:?}");
        assert!(!turns(&better).contains(&Turn::Broken), "{better:?}");

        let same = Effect::new(&now, &now);
        assert_eq!(turns(&same), [Turn::Better], "{same:?}");
        assert!(same.lines[0].1.starts_with("breaks no limit that was kept"), "{same:?}");
    }

    #[test]
    fn a_limit_that_is_broken_by_more_than_before_is_told() {
        let mut opened = Opened::starter();
        opened.change(Ask::Edit(clearance(0.7)));
        let before = opened.session().findings().to_vec();
        opened.change(Ask::Edit(clearance(0.8)));
        let effect = Effect::new(&before, opened.session().findings());
        assert!(effect.lines.iter().any(|(_, line)| line.starts_with("breaks by more than before: ")), "{effect:?}");
    }

    #[test]
    fn of_many_a_few_are_told_in_full_and_the_others_counted() {
        let mut opened = Opened::starter();
        let before = opened.session().findings().to_vec();
        opened.change(Ask::Edit(clearance(2.0)));
        let effect = Effect::new(&before, opened.session().findings());
        let broken: Vec<&String> =
            effect.lines.iter().filter(|(turn, _)| *turn == Turn::Broken).map(|(_, line)| line).collect();
        assert_eq!(broken.len(), TOLD + 1, "{broken:?}");
        assert!(broken[TOLD].ends_with(" more"), "{broken:?}");
    }
}
