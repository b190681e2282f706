//! Which limits rule out what is looked at, and how often?

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::violation::Violation;
use crate::check::CLEARANCE;
use crate::model::ClassPair;

/// A limit that something breaks.
#[derive(Clone, Debug, Deserialize, Eq, Ord, PartialEq, PartialOrd, Serialize)]
pub struct Broken {
    /// Name of the check.
    pub check: String,
    /// Of a clearance the two classes, as the plan's limits name them; else the joint or the target.
    pub of: String,
}

impl Broken {
    /// The limit of a violation.
    pub fn of(violation: &Violation) -> Self {
        let classes = violation.pair().map(|pair| pair.to_string());
        Self { check: violation.check.clone(), of: classes.unwrap_or_else(|| violation.subject.clone()) }
    }

    /// A least clearance.
    pub fn clearance(classes: ClassPair) -> Self {
        Self { check: CLEARANCE.to_owned(), of: classes.to_string() }
    }
}

/// How many were ruled out, and how many of them by which limit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tally {
    pub ruled_out: usize,
    by: BTreeMap<Broken, usize>,
}

impl Tally {
    /// One more is ruled out, by these.
    pub fn add(&mut self, broken: impl IntoIterator<Item = Broken>) {
        self.ruled_out += 1;
        for broken in BTreeSet::from_iter(broken) {
            *self.by.entry(broken).or_insert(0) += 1;
        }
    }

    /// Which limits ruled out how many, the most first.
    pub fn most(&self) -> Vec<(&Broken, usize)> {
        let mut most: Vec<(&Broken, usize)> = self.by.iter().map(|(broken, times)| (broken, *times)).collect();
        most.sort_by_key(|(_, times)| std::cmp::Reverse(*times));
        most
    }

    /// The limit by which all were ruled out, where there is such a one and `enough` of them were.
    pub fn by_one(&self, enough: usize) -> Option<&Broken> {
        let all = |(_, times): &(&Broken, &usize)| **times == self.ruled_out;
        self.by.iter().find(all).map(|(broken, _)| broken).filter(|_| self.ruled_out >= enough)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn broken(of: &str) -> Broken {
        Broken { check: "reach".to_owned(), of: of.to_owned() }
    }

    #[test]
    fn a_limit_that_ruled_out_all_is_told_once_enough_were() {
        let mut tally = Tally::default();
        tally.add([broken("a"), broken("b"), broken("b")]);
        tally.add([broken("b")]);
        assert_eq!(tally.most(), [(&broken("b"), 2), (&broken("a"), 1)]);
        assert_eq!(tally.by_one(2), Some(&broken("b")));
        assert_eq!(tally.by_one(3), None);
        tally.add([broken("a")]);
        assert_eq!(tally.by_one(3), None, "none of them ruled out all");
        assert_eq!(Tally::default().by_one(0), None);
    }
}
