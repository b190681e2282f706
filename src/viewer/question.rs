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
    /// What kind of change it is.
    pub title: String,
    /// What it changes, from which value to which, line by line.
    pub changes: Vec<String>,
    /// What that costs, or is worth.
    pub told: Vec<String>,
    pub edits: Vec<PlanEdit>,
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
                        asked.offer(format!("other waypoints of {step}"), ways(&proposal), edits);
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

    fn offer(&self, title: String, told: Vec<String>, edits: Vec<PlanEdit>) {
        let changes = report::edits(&self.loaded.project, &edits);
        self.tell(Told::Offer(Offer { title, changes, told, edits }));
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
                Some(mend) => self.offer(way.to_string(), cost(&way, &mend), mend.edits),
                None => self.tell(Told::Nothing(format!("{way}: none found of {tried} tried"))),
            }
            ControlFlow::Continue(())
        })?;
        if !any {
            self.tell(Told::Nothing("nothing was tried: no kind of change bears on it".to_owned()));
        }
        Ok(())
    }

    /// The proposal first; then the other settings that keep every limit, best first, each with its own ways.
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
            let (title, parts) = words(judged);
            let served = judged.setting.edits(&project, worksite);
            let ways_edits = proposal.edits.iter().filter(|edit| matches!(edit, PlanEdit::AddWaypoint { .. }));
            let edits = without.iter().chain(&served).chain(ways_edits).cloned().collect();
            self.offer(title, [parts, ways(proposal)].concat(), edits);
        };
        offer(&site.chosen, &proposal);
        let is_other = |good: &&Judged| good.setting != site.chosen.setting;
        for good in site.candidates.good.iter().filter(is_other).take(SETTINGS - 1) {
            let served = mend::edited(&project, &good.setting.edits(&project, worksite));
            let with_ways = self.propose(&served, &[])?;
            match &with_ways.unsettled {
                Some(unsettled) => {
                    let why = report::unsettled(unsettled).join("; ");
                    self.tell(Told::Nothing(format!("{}: {why}", words(good).0)));
                }
                None => offer(good, &with_ways),
            }
        }
        Ok(())
    }
}

/// A setting by its score, and what its score is made of.
fn words(judged: &Judged) -> (String, Vec<String>) {
    let [score, reach, body, neutral, sight, arm, singular, clear] = report::parts(judged).map(|(_, value)| value);
    let parts = [
        ("reach", reach),
        ("the body's joints", body),
        ("nearness to a relaxed posture", neutral),
        ("view", sight),
        ("the arm's joints", arm),
        ("distance from where the arm cannot move every way", singular),
        ("clearance", clear),
    ];
    let parts: Vec<String> = parts
        .into_iter()
        .filter(|(_, value)| !value.is_empty())
        .map(|(name, value)| format!("{name} {value}"))
        .collect();
    let spare = format!("to spare at the least: {}", parts.join(", "));
    (format!("setting with a score of {}, of 1 where all is ample", score), vec![spare])
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
