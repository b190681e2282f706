//! How did what a finding tells stand before, and how does it stand now?
//!
//! The one answer for the list of findings and for what an offer does.
//!
//! # Law
//! A finding is what it was where it is told by the same key. Pairs of bodies that break their limit are told one by one, and a
//! group of pairs that keeps it by one finding: where a group begins to keep its limit, its finding was the worst of the
//! pairs; where pairs begin to break it, each was the group's finding. All else is new. So many violations as there are more
//! than before, so many more are told as broken than as no more.

use std::collections::{HashMap, HashSet};

use crate::check::{Finding, Key, Situation, Status};

use super::chosen::{self, rank};

/// How a finding is worse than before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Worse {
    /// A limit is violated that was kept.
    Broken,
    /// A limit is violated by more than before.
    Farther,
    /// Little is to spare where there was enough, or nothing was told.
    Tight,
    /// It is not known any more, or not yet.
    Unchecked,
}

/// What tells a finding from all others: its key and, since declared contacts of the same classes have the same, which
/// contact it is about.
type Identity<K> = (K, Option<usize>);

fn identity(finding: &Finding) -> Identity<&Key> {
    (&finding.key, contact(finding))
}

fn contact(finding: &Finding) -> Option<usize> {
    match finding.pair.as_ref()?.situation {
        Some(Situation::Contact(number)) => Some(number),
        _ => None,
    }
}

/// Findings that others are compared with.
pub struct Before<'a> {
    findings: &'a [Finding],
    by_key: HashMap<Identity<&'a Key>, &'a Finding>,
    /// Of groups whose pairs are told one by one, by what the group's one finding would be told by: the worst.
    worst_pairs: HashMap<Identity<Key>, &'a Finding>,
}

impl<'a> Before<'a> {
    pub fn new(findings: &'a [Finding]) -> Self {
        let by_key = findings.iter().map(|finding| (identity(finding), finding)).collect();
        let mut worst_pairs: HashMap<Identity<Key>, &Finding> = HashMap::new();
        for finding in findings {
            let Some(key) = finding.key_of_group() else { continue };
            let worst = worst_pairs.entry((key, contact(finding))).or_insert(finding);
            if margin(finding) < margin(worst) {
                *worst = finding;
            }
        }
        Self { findings, by_key, worst_pairs }
    }

    /// How it was before; none of what is new.
    pub fn of(&self, finding: &Finding) -> Option<&'a Finding> {
        let of_group = || match finding.key_of_group() {
            Some(key) => self.by_key.get(&(&key, contact(finding))).copied(),
            None => self.worst_pairs.get(&(finding.key.clone(), contact(finding))).copied(),
        };
        self.by_key.get(&identity(finding)).copied().or_else(of_group)
    }

    /// How it was before, in words; none of what is as it was.
    pub fn words(&self, finding: &Finding) -> Option<String> {
        let Some(was) = self.of(finding) else { return Some("new".to_owned()) };
        if was.status == finding.status && was.margin == finding.margin {
            return None;
        }
        // That of a group is of another pair, for all but one.
        let is_own = self.by_key.contains_key(&identity(finding));
        let margin = was.margin.filter(|_| is_own).map(|margin| format!(", {}", chosen::margin(margin, was.unit)));
        Some(format!("was {}{}", was.status.word(), margin.unwrap_or_default()))
    }

    /// How it is worse than before; none where it is not.
    pub fn worse(&self, finding: &Finding) -> Option<Worse> {
        let was = self.of(finding);
        let rank_before = was.map(|was| rank(&was.status));
        match &finding.status {
            Status::Violation(_) => match was.filter(|was| was.status.is_violation()) {
                None => Some(Worse::Broken),
                Some(was) if margin(finding) < margin(was) - 1e-6 => Some(Worse::Farther),
                Some(_) => None,
            },
            Status::Tight => rank_before.is_none_or(|rank| rank >= 2).then_some(Worse::Tight),
            Status::NotChecked(_) => (rank_before != Some(rank(&finding.status))).then_some(Worse::Unchecked),
            Status::Ok => None,
        }
    }

    /// Whether a limit that was violated is kept now, with little to spare.
    pub fn is_left_tight(&self, finding: &Finding) -> bool {
        finding.status == Status::Tight && self.of(finding).is_some_and(|was| was.status.is_violation())
    }

    /// The violations that are no more.
    pub fn mended(&self, now: &[Finding]) -> Vec<&'a Finding> {
        let violated = |finding: &&Finding| finding.status.is_violation();
        let now: HashSet<Identity<&Key>> = now.iter().filter(violated).map(identity).collect();
        self.findings.iter().filter(violated).filter(|was| !now.contains(&identity(was))).collect()
    }
}

/// A violation without a value has no margin at all.
fn margin(finding: &Finding) -> f64 {
    finding.margin.unwrap_or(f64::NEG_INFINITY)
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::AtomicBool;

    use super::*;
    use crate::check::{self, Silent};
    use crate::files;
    use crate::model::AtLeast;
    use crate::viewer::chosen::counts;
    use crate::viewer::testing::copy_of;

    /// The findings of a scene with the least clearance on the way at these values, m.
    fn findings_at<const N: usize>(scene: &str, limits: [f64; N]) -> [Vec<Finding>; N] {
        let folder = copy_of(scene);
        let loaded = files::read_project(folder.path()).expect("a sound plan");
        limits.map(|limit| {
            let mut project = loaded.project.clone();
            project.plan.limits.moving.clearance_m.insert("default".to_owned(), AtLeast::new(limit));
            check::run(&project, &loaded.meshes, &Silent, &AtomicBool::new(false)).expect("nobody stops it").findings
        })
    }

    #[test]
    fn as_many_violations_are_broken_and_no_more_as_the_list_counts_more_and_fewer() {
        for scene in ["starter", "demo"] {
            let states = findings_at(scene, [0.2, 0.6, 0.9]);
            for (before, now) in states.iter().flat_map(|before| states.iter().map(move |now| (before, now))) {
                let compared = Before::new(before);
                let broken = now.iter().filter(|finding| compared.worse(finding) == Some(Worse::Broken)).count();
                let mended = compared.mended(now).len();
                assert_eq!(counts(now)[0] + mended, counts(before)[0] + broken, "{scene}");
            }
        }
    }

    #[test]
    fn no_two_findings_are_told_by_the_same() {
        for scene in ["starter", "demo"] {
            for findings in findings_at(scene, [0.2, 0.9]) {
                let told: HashSet<Identity<&Key>> = findings.iter().map(identity).collect();
                assert_eq!(told.len(), findings.len(), "{scene}");
            }
        }
    }

    #[test]
    fn a_group_that_keeps_its_limit_was_its_worst_pair_and_such_a_pair_was_the_group() {
        let [kept, broken] = findings_at("starter", [0.2, 0.9]);
        let (before_pairs, before_group) = (Before::new(&broken), Before::new(&kept));
        let pairs: Vec<&Finding> = broken.iter().filter(|finding| finding.key_of_group().is_some()).collect();
        let mut groups = HashSet::new();
        for pair in pairs.iter().filter(|pair| pair.status.is_violation()) {
            let group = before_group.of(pair).expect("its group kept the limit");
            assert!(
                !group.status.is_violation()
                    && group.pair.as_ref().map(|of| of.classes) == pair.pair.as_ref().map(|of| of.classes)
            );
            assert_eq!(before_group.worse(pair), Some(Worse::Broken));
            let was = before_pairs.of(group).expect("its pairs broke the limit");
            assert!(was.status.is_violation() && was.margin <= pair.margin);
            assert_eq!(before_pairs.worse(group), None, "it is better than it was");
            groups.insert(&group.key);
        }
        assert!(pairs.len() > groups.len() && !groups.is_empty(), "{} pairs of {} groups", pairs.len(), groups.len());
    }

    #[test]
    fn what_the_list_says_of_a_finding_is_nothing_where_it_is_as_it_was() {
        let [kept, broken] = findings_at("starter", [0.2, 0.9]);
        let same = Before::new(&kept);
        assert!(kept.iter().all(|finding| same.words(finding).is_none() && same.worse(finding).is_none()));
        for finding in &broken {
            if same.worse(finding).is_some() {
                assert!(same.words(finding).is_some(), "what is worse is marked: {:?}", finding.key);
            }
        }
    }
}
