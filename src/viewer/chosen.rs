//! Which finding is looked at?

use bevy::prelude::*;

use crate::check::{Finding, Key, Kind, Status, Unit};
use crate::report::number::{self, Rounding};
use crate::report::words;

use super::clock::Clock;
use super::session::{Ask, Session, SessionSystems};
use super::theme::Action;

/// The finding that is looked at; it stays the same from check to check.
#[derive(Resource, Clone, Debug, Default, PartialEq)]
pub struct Chosen {
    pub key: Option<Key>,
    /// Whether the camera is still to be turned to it.
    pub to_be_framed: bool,
}

impl Chosen {
    /// The finding, if the last check has it.
    pub fn finding<'a>(&self, session: &'a Session) -> Option<&'a Finding> {
        let key = self.key.as_ref()?;
        session.findings().iter().find(|finding| finding.key == *key)
    }
}

/// One status of each kind, in the order in which findings are listed.
pub const STATUSES: [Status; 4] =
    [Status::Violation(Kind::Nominal), Status::Tight, Status::Ok, Status::NotChecked(String::new())];

/// The place of a status among [`STATUSES`].
pub const fn rank(status: &Status) -> usize {
    match status {
        Status::Violation(_) => 0,
        Status::Tight => 1,
        Status::Ok => 2,
        Status::NotChecked(_) => 3,
    }
}

/// How many findings have each of [`STATUSES`].
pub fn counts(findings: &[Finding]) -> [usize; 4] {
    let mut counts = [0; 4];
    findings.iter().for_each(|finding| counts[rank(&finding.status)] += 1);
    counts
}

/// Numbers of the findings that are wanted, from the tightest to the widest: violations first, what was not checked last.
pub fn by_margin(findings: &[Finding], wanted: impl Fn(&Finding) -> bool) -> Vec<usize> {
    let mut numbers: Vec<usize> = (0..findings.len()).filter(|number| wanted(&findings[*number])).collect();
    numbers.sort_by(|a, b| {
        let (a, b) = (&findings[*a], &findings[*b]);
        let margin = |finding: &Finding| finding.margin.unwrap_or(f64::NEG_INFINITY);
        rank(&a.status).cmp(&rank(&b.status)).then(margin(a).total_cmp(&margin(b))).then_with(|| a.key.cmp(&b.key))
    });
    numbers
}

/// A margin, rounded so that it never looks better than it is.
pub fn margin(margin: f64, unit: Unit) -> String {
    number::value(margin, unit, Rounding::Down)
}

/// A finding in a few words: what is wrong, and by how much.
pub fn sentence(finding: &Finding) -> String {
    let what = format!("{}: {}", finding.key.check, words::subject(finding));
    let word = finding.status.word();
    let by = match (&finding.status, finding.margin) {
        (Status::NotChecked(reason), _) => format!("not checked, because {reason}"),
        (_, Some(short)) if short < 0.0 => {
            format!("{word}, short of the limit by {}", number::value(-short, finding.unit, Rounding::Up))
        }
        (_, Some(spare)) => format!("{word}, {} to spare", margin(spare, finding.unit)),
        (_, None) => word.to_owned(),
    };
    format!("{what}: {by}")
}

/// Follows what is chosen.
pub struct ChosenPlugin;

impl Plugin for ChosenPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Chosen>().add_systems(Update, choose.after(SessionSystems));
    }
}

fn choose(mut asks: MessageReader<Ask>, session: Res<Session>, mut chosen: ResMut<Chosen>, mut clock: ResMut<Clock>) {
    let Some(checked) = &session.checked else { return };
    let findings = &checked.outcome.findings;
    for ask in asks.read() {
        let number = match ask {
            Ask::Choose(number) => Some(*number),
            Ask::Do(Action::Tightest) => by_margin(findings, |finding| finding.margin.is_some()).first().copied(),
            Ask::Do(Action::FindingAfter) => beside(findings, &chosen, 1),
            Ask::Do(Action::FindingBefore) => beside(findings, &chosen, -1),
            _ => None,
        };
        let Some(finding) = number.and_then(|number| findings.get(number)) else { continue };
        *chosen = Chosen { key: Some(finding.key.clone()), to_be_framed: true };
        if let Some((_, at)) = checked.playback.moment_of(finding) {
            clock.at = at;
            clock.playing = false;
        }
    }
}

/// The next of the findings that are not plainly well, by margin, so many places on.
fn beside(findings: &[Finding], chosen: &Chosen, by: isize) -> Option<usize> {
    let worth = by_margin(findings, |finding| !matches!(finding.status, Status::Ok));
    let at = chosen.key.as_ref().and_then(|key| worth.iter().position(|k| findings[*k].key == *key));
    let count = isize::try_from(worth.len()).ok().filter(|count| *count > 0)?;
    let next = at.map_or(0, |at| (at as isize + by).rem_euclid(count));
    worth.get(next as usize).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::viewer::testing::{Opened, clearance};

    #[test]
    fn the_keys_go_through_all_that_is_not_plainly_well_the_least_margin_first_and_begin_anew() {
        let mut opened = Opened::starter();
        opened.change(Ask::Edit(clearance(0.7)));
        let findings = opened.session().findings().to_vec();
        let wrong = findings.iter().filter(|finding| finding.status != Status::Ok).count();
        let violated = findings.iter().filter(|finding| matches!(finding.status, Status::Violation(_))).count();
        assert!(violated >= 2 && wrong < findings.len(), "{violated} of {wrong}");
        let mut seen: Vec<Finding> = Vec::new();
        for _ in 0..wrong {
            opened.press(Action::FindingAfter);
            let chosen = opened.get::<Chosen>();
            assert!(chosen.to_be_framed);
            let finding = chosen.finding(opened.session()).expect("one is chosen").clone();
            let checked = opened.session().checked.as_ref().expect("it is checked");
            if let Some((_, at)) = checked.playback.moment_of(&finding) {
                assert_eq!(opened.get::<Clock>().at, at, "the clock goes to its moment");
            }
            assert!(finding.status != Status::Ok && !seen.contains(&finding));
            seen.push(finding);
        }
        let violations = &seen[..violated];
        assert!(violations.iter().all(|finding| matches!(finding.status, Status::Violation(_))), "they come first");
        assert!(violations.windows(2).all(|pair| pair[0].margin <= pair[1].margin));
        opened.press(Action::FindingAfter);
        assert_eq!(opened.get::<Chosen>().key.as_ref(), Some(&seen[0].key), "after the last comes the first");
        opened.press(Action::FindingBefore);
        assert_eq!(opened.get::<Chosen>().key.as_ref(), Some(&seen[wrong - 1].key));
        opened.press(Action::Tightest);
        assert_eq!(opened.get::<Chosen>().key.as_ref(), Some(&seen[0].key));
    }

    #[test]
    fn what_is_chosen_stays_so_after_an_edit() {
        let mut opened = Opened::starter();
        opened.press(Action::Tightest);
        let before = opened.get::<Chosen>().finding(opened.session()).expect("one is chosen").clone();
        opened.change(Ask::Edit(clearance(0.6)));
        let after = opened.get::<Chosen>().finding(opened.session()).expect("it is still there");
        assert_eq!(after.key, before.key);
    }
}
