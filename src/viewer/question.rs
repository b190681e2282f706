//! What may be looked for beside the drawing, and what is offered for it?
//!
//! The least changes by which a violation goes; settings of a worksite with the ways to it and from it; waypoints of a
//! transit. Each offer is told as soon as it is found.

use std::ops::ControlFlow;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::sync::mpsc::Sender;

use crate::check::{Checked, Progress, Stopped, Unit};
use crate::files::{Loaded, OpenSite};
use crate::model::{PlanEdit, Project};
use crate::propose::mend::{self, Cause, Mend, Sought, Way};
use crate::propose::{self, Judged, Memory, Proposal, WayProposal, anew};
use crate::report;
use crate::report::number::{self, Rounding};

/// Settings of a worksite for which ways are looked for.
const SETTINGS: usize = 6;

/// A change that may be made.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    /// What kind of change it is, in a few words.
    pub title: String,
    /// What tells it from others of its kind, in a line.
    pub brief: String,
    /// What it changes, from which value to which, line by line.
    pub changes: Vec<String>,
    /// What that costs, or is worth.
    pub told: Vec<String>,
    pub edits: Vec<PlanEdit>,
    /// The better of two offers has the greater, the first number first.
    pub worth: [f64; 3],
}

/// What a search has to say.
pub enum Told {
    Offer(Offer),
    /// What was looked for and not found.
    Nothing(String),
    Done,
}

/// What is looked for.
pub enum Question {
    Mends { checked: Arc<Checked>, cause: Cause },
    Settings { worksite: String },
    Waypoints { step: String },
}

impl Question {
    /// Looks for it in a plan, and tells what is found; nobody may be listening any more.
    ///
    /// # Errors
    /// [`Stopped`] when the flag goes up.
    pub fn answer(
        &self,
        loaded: &Loaded,
        tell: &Sender<Told>,
        progress: &dyn Progress,
        stop: &AtomicBool,
    ) -> Result<(), Stopped> {
        let asked = Asked { loaded, tell, progress, stop };
        match self {
            Self::Mends { checked, cause } => asked.mends(checked, cause)?,
            Self::Settings { worksite } => asked.settings(worksite)?,
            Self::Waypoints { step } => {
                let mut project = loaded.project.clone();
                let without = anew::step(&mut project, step);
                let proposal = asked.propose(&project, &[])?;
                match &proposal.unsettled {
                    Some(unsettled) => asked.nothing(report::unsettled(unsettled)),
                    None => {
                        let edits = [without, proposal.edits.clone()].concat();
                        let told = ways(&proposal);
                        let title = format!("other waypoints of {step}");
                        asked.offer(title, told.join("; "), told, (edits, [0.0; 3]));
                    }
                }
            }
        }
        asked.tell(Told::Done);
        Ok(())
    }
}

/// A question that is being answered.
struct Asked<'a> {
    loaded: &'a Loaded,
    tell: &'a Sender<Told>,
    progress: &'a dyn Progress,
    stop: &'a AtomicBool,
}

impl Asked<'_> {
    fn tell(&self, told: Told) {
        // The viewer may have turned to something else; the flag is then up.
        let _ = self.tell.send(told);
    }

    fn offer(&self, title: String, brief: String, told: Vec<String>, (edits, worth): (Vec<PlanEdit>, [f64; 3])) {
        let changes = report::edits(&self.loaded.project, &edits);
        self.tell(Told::Offer(Offer { title, brief, changes, told, edits, worth }));
    }

    fn nothing(&self, lines: Vec<String>) {
        lines.into_iter().for_each(|line| self.tell(Told::Nothing(line)));
    }

    fn propose(&self, project: &Project, open: &[OpenSite]) -> Result<Proposal, Stopped> {
        let asked = propose::Asked { open, sizes: &[] };
        propose::propose((project, &self.loaded.meshes), asked, &Memory::default(), self.progress, self.stop)
    }

    fn mends(&self, checked: &Checked, cause: &Cause) -> Result<(), Stopped> {
        let project = &self.loaded.project;
        let mut any = false;
        let plan = (project, &self.loaded.meshes);
        mend::each(plan, (checked, cause), (self.progress, self.stop), |Sought { way, tried, mend }| {
            any = true;
            match mend {
                Some(mend) => {
                    let brief = report::edits(project, &mend.edits).join("; ");
                    let worth = worth(&way, &mend);
                    self.offer(way.to_string(), brief, cost(&way, &mend), (mend.edits, worth));
                }
                None => self.tell(Told::Nothing(format!("{way}: none found of {tried} tried"))),
            }
            ControlFlow::Continue(())
        })?;
        if !any {
            self.tell(Told::Nothing("nothing was tried: no kind of change bears on it".to_owned()));
        }
        Ok(())
    }

    /// The proposal first; then the other settings that keep every limit, best first, each with its own ways. By their
    /// scores the proposal need not be the best: it is settled together with all other visits.
    fn settings(&self, worksite: &str) -> Result<(), Stopped> {
        let mut project = self.loaded.project.clone();
        let (open, without) = anew::worksite(&mut project, worksite);
        let proposal = self.propose(&project, &open)?;
        if let Some(unsettled) = &proposal.unsettled {
            self.nothing(report::unsettled(unsettled));
            return Ok(());
        }
        let Some(site) = proposal.sites.first() else {
            self.tell(Told::Nothing("the arm takes nobody there".to_owned()));
            return Ok(());
        };
        let offer = |judged: &Judged, proposal: &Proposal| {
            let title = score(judged);
            let brief = report::setting(&project, judged);
            let served = judged.setting.edits(&project, worksite);
            let ways_edits = proposal.edits.iter().filter(|edit| matches!(edit, PlanEdit::AddWaypoint { .. }));
            let edits = without.iter().chain(&served).chain(ways_edits).cloned().collect();
            let told = [to_spare(judged), ways(proposal)].concat();
            self.offer(title, brief, told, (edits, [judged.score, 0.0, 0.0]));
        };
        offer(&site.chosen, &proposal);
        let is_other = |good: &&Judged| good.setting != site.chosen.setting;
        for good in site.candidates.good.iter().filter(is_other).take(SETTINGS - 1) {
            let served = mend::edited(&project, &good.setting.edits(&project, worksite));
            let with_ways = self.propose(&served, &[])?;
            match &with_ways.unsettled {
                Some(unsettled) => {
                    let why = report::unsettled(unsettled).join("; ");
                    self.tell(Told::Nothing(format!("{}: {why}", score(good))));
                }
                None => offer(good, &with_ways),
            }
        }
        Ok(())
    }
}

/// A setting by its score.
fn score(judged: &Judged) -> String {
    let [(_, score), ..] = report::parts(judged);
    format!("score {score} of 1")
}

/// What the score of a setting is made of. A joint of the body may be at the end of its range, as of a straight knee: such a
/// margin of nothing is allowed, and said so.
fn to_spare(judged: &Judged) -> Vec<String> {
    let [_, reach, body, neutral, sight, arm, singular, clear] = report::parts(judged).map(|(_, value)| value);
    let parts = [
        ("reach", reach),
        ("the body's joints", body),
        ("nearness to a relaxed posture", neutral),
        ("view", sight),
        ("the arm's joints", arm),
        ("distance from where the arm cannot move every way", singular),
        ("clearance", clear),
    ];
    let parts = parts.into_iter().filter(|(_, value)| !value.is_empty());
    let is_nothing = |value: &str| !value.contains(|letter: char| ('1'..='9').contains(&letter));
    let (at_limit, spare): (Vec<_>, Vec<_>) = parts.partition(|(_, value)| is_nothing(value));
    let spare: Vec<String> = spare.into_iter().map(|(name, value)| format!("{name} {value}")).collect();
    let at_limit: Vec<&str> = at_limit.into_iter().map(|(name, _)| name).collect();
    let spare = (!spare.is_empty()).then(|| format!("to spare at the least: {}", spare.join(", ")));
    let at_limit = (!at_limit.is_empty()).then(|| format!("at the limit, as is allowed: {}", at_limit.join(", ")));
    spare.into_iter().chain(at_limit).collect()
}

/// The fewer violations a mend leaves the better; then one that leaves the work as it is; then one that takes less time.
fn worth(way: &Way, mend: &Mend) -> [f64; 3] {
    [-(mend.left as f64), -f64::from(u8::from(way.changes_task())), -mend.longer.unwrap_or(0.0)]
}

/// What a mend costs beside what it changes.
fn cost(way: &Way, mend: &Mend) -> Vec<String> {
    let seconds = |value: f64| number::value(value, Unit::Second, Rounding::Nearest);
    let time = match mend.longer {
        None => "how long it takes is not known: the motions are not timed".to_owned(),
        Some(longer) if longer.abs() < 0.05 => "all motions together take as long as now".to_owned(),
        Some(longer) if longer > 0.0 => format!("all motions together take {} longer", seconds(longer)),
        Some(shorter) => format!("all motions together take {} less", seconds(-shorter)),
    };
    let left = (mend.left > 0).then(|| format!("violations of other causes that stay: {}", mend.left));
    let task = way.changes_task().then(|| "this changes the work itself: ask whether it can be done so".to_owned());
    std::iter::once(time).chain(left).chain(task).collect()
}

fn ways(proposal: &Proposal) -> Vec<String> {
    proposal.ways.iter().map(way).collect()
}

/// How long a way takes, and how well it keeps clear.
fn way(way: &WayProposal) -> String {
    let time = way.way.seconds.map(|seconds| format!("takes {} min and ", number::minutes(seconds, 0, Rounding::Up)));
    let spare = number::value(way.way.margin, Unit::Metre, Rounding::Down);
    let (step, time) = (&way.step, time.unwrap_or_default());
    format!("{step}: {time}stays more than {spare} farther from everything than it must")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::propose::Parts;

    #[test]
    fn a_margin_of_nothing_is_told_as_allowed_and_not_as_a_number() {
        let parts = Parts { reach: Some(0.12), body_joints: Some(0.0), sight: Some(0.5), ..Parts::default() };
        let told = to_spare(&Judged { parts, score: 0.5, ..Judged::default() });
        let [spare, at_limit] = &told[..] else { panic!("{told:?}") };
        assert!(spare.contains("reach 0.120 m") && !spare.contains("joints"), "{spare}");
        assert_eq!(at_limit, "at the limit, as is allowed: the body's joints");
    }

    #[test]
    fn a_mend_that_leaves_less_broken_is_better_then_one_that_leaves_the_work_then_a_shorter_one() {
        let mend = |left, longer| Mend { edits: Vec::new(), longer: Some(longer), left };
        let worksite = || "end".to_owned();
        let arm = Way::Configuration { worksite: worksite() };
        let target = Way::TargetPlace { worksite: worksite(), target: "valve".to_owned() };
        let best_first = [
            worth(&arm, &mend(0, -3.0)),
            worth(&arm, &mend(0, 8.0)),
            worth(&target, &mend(0, -9.0)),
            worth(&arm, &mend(1, 0.0)),
        ];
        assert!(best_first.windows(2).all(|pair| pair[0] > pair[1]), "{best_first:?}");
    }
}
