//! What may be looked for beside the drawing, and what is offered for it?
//!
//! The least changes by which a violation goes; settings of a worksite with the ways to it and from it; waypoints of a
//! transit. Each offer is told as soon as it is found.

use std::ops::ControlFlow;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::sync::mpsc::Sender;

use crate::check::{Checked, Progress, Stopped};
use crate::files::{Loaded, OpenSite};
use crate::model::{PlanEdit, Project};
use crate::propose::mend::{self, Cause, Sought};
use crate::propose::{self, Judged, Memory, Proposal, anew};
use crate::report;

/// Settings of a worksite for which ways are looked for.
const SETTINGS: usize = 6;

/// A change that may be made.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    /// What kind of change it is.
    pub title: String,
    /// What it does, line by line.
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
                    None => asked.offer("waypoints".to_owned(), ways(&proposal), [without, proposal.edits].concat()),
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
        self.tell(Told::Offer(Offer { title, told, edits }));
    }

    fn nothing(&self, lines: Vec<String>) {
        lines.into_iter().for_each(|line| self.tell(Told::Nothing(line)));
    }

    fn propose(&self, project: &Project, open: &[OpenSite]) -> Result<Proposal, Stopped> {
        propose::propose((project, &self.loaded.meshes), open, &Memory::default(), self.progress, self.stop)
    }

    fn mends(&self, checked: &Checked, cause: &Cause) -> Result<(), Stopped> {
        let project = &self.loaded.project;
        let mut any = false;
        let plan = (project, &self.loaded.meshes);
        mend::each(plan, (checked, cause), (self.progress, self.stop), |Sought { way, tried, mend }| {
            any = true;
            match mend {
                Some(mend) => self.offer(way.to_string(), vec![report::mend(project, (&way, &mend))], mend.edits),
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
            let (title, parts) = self.words(judged);
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
                    self.tell(Told::Nothing(format!("{}: {why}", self.words(good).0)));
                }
                None => offer(good, &with_ways),
            }
        }
        Ok(())
    }

    /// A setting by its score and values, and what its score is made of.
    fn words(&self, judged: &Judged) -> (String, Vec<String>) {
        let [score, parts @ ..] = report::parts(judged);
        let title = format!("score {}: {}", score.1, report::setting(&self.loaded.project, judged));
        let parts: Vec<String> = parts
            .iter()
            .filter(|(_, value)| !value.is_empty())
            .map(|(name, value)| format!("{name} {value}"))
            .collect();
        (title, vec![parts.join(", ")])
    }
}

fn ways(proposal: &Proposal) -> Vec<String> {
    proposal.ways.iter().map(report::way).collect()
}
