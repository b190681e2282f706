//! What does a change make better, and what worse?
//!
//! Counted and told as the list of findings marks it: see [`super::difference`].

use crate::check::{Finding, Kind, Status};
use crate::report::words;

use super::difference::{Before, Worse};
use super::theme::{self, Mark};

/// So many of a kind are told in full.
const TOLD: usize = 3;

/// Whether something is better or worse for a change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    Better,
    /// A limit is violated that was kept, or by more.
    Broken,
    /// Little is to spare where there was enough, or it is not known any more.
    Tighter,
}

impl Turn {
    /// Its mark: that of the status that it leads to.
    pub fn mark(self) -> Mark {
        theme::mark(&match self {
            Self::Better => Status::Ok,
            Self::Broken => Status::Violation(Kind::Nominal),
            Self::Tighter => Status::Tight,
        })
    }
}

/// What a change does.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Effect {
    /// Violations that are no more.
    pub mended: usize,
    /// What is worse, in what way, the least margin first.
    pub worse: Vec<(Worse, String)>,
    /// What was violated and is no more, with little to spare; the least margin first.
    pub left_tight: Vec<String>,
}

impl Effect {
    /// Compares the findings of a plan with those that it had before.
    pub fn new(before: &[Finding], now: &[Finding]) -> Self {
        Self::beside(&Before::new(before), now)
    }

    /// The same, of what is ready to be compared with.
    pub fn beside(compared: &Before, now: &[Finding]) -> Self {
        let mut worse: Vec<(Worse, &Finding)> =
            now.iter().filter_map(|finding| Some((compared.worse(finding)?, finding))).collect();
        let margin = |finding: &Finding| finding.margin.unwrap_or(f64::NEG_INFINITY);
        worse.sort_by(|(_, a), (_, b)| margin(a).total_cmp(&margin(b)));
        let worse = worse.into_iter().map(|(how, finding)| (how, said(finding))).collect();
        let mut left_tight: Vec<&Finding> = now.iter().filter(|finding| compared.is_left_tight(finding)).collect();
        left_tight.sort_by(|a, b| margin(a).total_cmp(&margin(b)));
        let left_tight = left_tight.into_iter().map(said).collect();
        Self { mended: compared.mended(now).len(), worse, left_tight }
    }

    /// How many things are worse in a way.
    pub fn count(&self, how: Worse) -> usize {
        self.worse.iter().filter(|(of, _)| *of == how).count()
    }

    /// How much is better and worse, in a few words each; nothing where all is as it was.
    pub fn counts(&self) -> Vec<(Turn, String)> {
        let of_violations = |number: usize| if number == 1 { "violation" } else { "violations" };
        let [broken, farther, tight, unchecked] =
            [Worse::Broken, Worse::Farther, Worse::Tight, Worse::Unchecked].map(|how| self.count(how));
        let counts = [
            (Turn::Better, self.mended, format!("{} no more", of_violations(self.mended))),
            (Turn::Broken, broken, format!("new {}", of_violations(broken))),
            (Turn::Broken, farther, format!("{} by more", of_violations(farther))),
            (Turn::Tighter, tight, "made tight".to_owned()),
            (Turn::Tighter, unchecked, "not checked any more".to_owned()),
        ];
        let told = |(turn, number, words): (Turn, usize, String)| (turn, format!("{number} {words}"));
        counts.into_iter().filter(|(_, number, _)| *number > 0).map(told).collect()
    }

    /// What it does, line by line.
    pub fn lines(&self) -> Vec<(Turn, String)> {
        let mut lines: Vec<(Turn, String)> =
            self.counts().into_iter().filter(|(turn, _)| *turn == Turn::Better).collect();
        lines.extend(self.left_tight.iter().take(TOLD).map(|said| (Turn::Tighter, format!("leaves tight: {said}"))));
        for (how, turn, verb) in [
            (Worse::Broken, Turn::Broken, "breaks"),
            (Worse::Farther, Turn::Broken, "breaks by more than before"),
            (Worse::Tight, Turn::Tighter, "makes tight"),
            (Worse::Unchecked, Turn::Tighter, "leaves not checked"),
        ] {
            let of_kind = self.worse.iter().filter(|(of, _)| *of == how);
            lines.extend(of_kind.take(TOLD).map(|(_, said)| (turn, format!("{verb}: {said}"))));
            if let Some(more) = self.count(how).checked_sub(TOLD).filter(|more| *more > 0) {
                lines.push((turn, format!("{verb}: {more} more")));
            }
        }
        if self.worse.is_empty() {
            let told = if self.left_tight.is_empty() {
                "breaks nothing more, and makes nothing tight"
            } else {
                "breaks nothing more"
            };
            lines.push((Turn::Better, told.to_owned()));
        }
        lines
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::viewer::session::Ask;
    use crate::viewer::testing::{Opened, clearance};

    fn turns(effect: &Effect) -> Vec<Turn> {
        effect.lines().iter().map(|(turn, _)| *turn).collect()
    }

    #[test]
    fn what_is_broken_is_told_with_place_value_and_limit_and_what_is_mended_by_its_number() {
        let mut opened = Opened::starter();
        let before = opened.session().findings().to_vec();
        opened.change(Ask::Edit(clearance(0.7)));
        let now = opened.session().findings().to_vec();
        let violated = now.iter().filter(|finding| finding.status.is_violation()).count();
        assert!(violated > 1 && !before.iter().any(|finding| finding.status.is_violation()));

        let worse = Effect::new(&before, &now);
        assert_eq!((worse.mended, worse.count(Worse::Broken)), (0, violated));
        let (turn, first) = &worse.lines()[0];
        assert_eq!(*turn, Turn::Broken);
        assert!(first.starts_with("breaks: ") && first.contains("at least 0.700 m"), "{first}");
        assert!(!turns(&worse).contains(&Turn::Better), "{worse:?}");
        assert_eq!(worse.counts()[0], (Turn::Broken, format!("{violated} new violations")));

        let better = Effect::new(&now, &before);
        assert_eq!(better.lines()[0], (Turn::Better, format!("{violated} violations no more")));
        assert_eq!(better.counts()[0], better.lines()[0]);
        assert!(!turns(&better).contains(&Turn::Broken), "{better:?}");

        let same = Effect::new(&now, &now);
        assert_eq!((turns(&same), same.counts()), (vec![Turn::Better], Vec::new()), "{same:?}");
        assert!(same.lines()[0].1.starts_with("breaks nothing more"), "{same:?}");
    }

    #[test]
    fn what_is_mended_with_little_to_spare_is_told_to_be_left_tight() {
        let mut opened = Opened::starter();
        opened.change(Ask::Edit(clearance(0.7)));
        let before = opened.session().findings().to_vec();
        let short = before.iter().filter(|finding| finding.status.is_violation());
        let least = short.filter_map(|finding| finding.margin).fold(0.0, f64::min);
        opened.change(Ask::Edit(clearance(0.7 + least - 0.001)));
        let effect = Effect::new(&before, opened.session().findings());
        assert!(effect.worse.is_empty() && !effect.left_tight.is_empty(), "{effect:?}");
        let lines = effect.lines();
        assert!(
            lines.iter().any(|(turn, line)| *turn == Turn::Tighter && line.starts_with("leaves tight: ")),
            "{lines:?}"
        );
        assert_eq!(lines[lines.len() - 1].1, "breaks nothing more");
    }

    #[test]
    fn a_limit_that_is_broken_by_more_than_before_is_told() {
        let mut opened = Opened::starter();
        opened.change(Ask::Edit(clearance(0.7)));
        let before = opened.session().findings().to_vec();
        opened.change(Ask::Edit(clearance(0.8)));
        let effect = Effect::new(&before, opened.session().findings());
        assert!(effect.lines().iter().any(|(_, line)| line.starts_with("breaks by more than before: ")), "{effect:?}");
    }

    #[test]
    fn of_many_a_few_are_told_in_full_and_the_others_counted() {
        let mut opened = Opened::starter();
        let before = opened.session().findings().to_vec();
        opened.change(Ask::Edit(clearance(2.0)));
        let effect = Effect::new(&before, opened.session().findings());
        let broken: Vec<String> =
            effect.lines().into_iter().filter(|(turn, _)| *turn == Turn::Broken).map(|(_, line)| line).collect();
        assert_eq!(broken.len(), TOLD + 1, "{broken:?}");
        assert_eq!(broken[TOLD], format!("breaks: {} more", effect.count(Worse::Broken) - TOLD));
    }
}
