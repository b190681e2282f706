//! What is being looked for, and what was found?
//!
//! Mends of a violation, or a proposal for a worksite or a transit, on a thread of their own. What was found is kept as
//! offers for the plan as it then is; a plan that becomes another one drops them.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::sync::{Arc, Mutex};
use std::thread;

use bevy::prelude::*;

use crate::check::{Checked, Stopped};
use crate::files::Loaded;
use crate::model::{Deed, PlanEdit};
use crate::propose::mend::{self, Cause};
use crate::propose::{self, Judged, Memory, Proposal, anew};
use crate::report;

use super::chosen::Chosen;
use super::clock::Clock;
use super::engine::{Engine, Shown};
use super::session::{Ask, Session, SessionSystems};
use super::theme::Action;

/// A change that may be made.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    /// What kind of change it is.
    pub title: String,
    /// What it does, line by line.
    pub told: Vec<String>,
    pub edits: Vec<PlanEdit>,
}

/// What a search came to.
#[derive(Clone, Debug, Default)]
struct Outcome {
    offers: Vec<Offer>,
    /// What was not found, line by line.
    told: Vec<String>,
}

/// What is looked for.
enum Question {
    Mends { checked: Arc<Checked>, cause: Cause },
    Settings { worksite: String },
    Waypoints { step: String },
}

struct Running {
    answer: Mutex<Receiver<Result<Outcome, Stopped>>>,
    stop: Arc<AtomicBool>,
    progress: Arc<Shown>,
}

/// The search that is under way, or what the last one found.
#[derive(Resource, Default)]
pub struct Search {
    /// What is, or was, looked for; empty where there is nothing to show.
    pub title: String,
    pub offers: Vec<Offer>,
    pub told: Vec<String>,
    /// The offer that is looked at.
    pub at: usize,
    /// Whether the plan shows the offer that is looked at until it is taken or left.
    pub is_preview: bool,
    previews: bool,
    /// The plan's text that the offers, or the preview, belong to.
    text: String,
    running: Option<Running>,
}

impl Search {
    /// How far the search is, 0 to 1, and what it is doing; none where there is none.
    pub fn progress(&self) -> Option<(f32, String)> {
        self.running.as_ref().map(|running| running.progress.read())
    }

    fn start(&mut self, session: &mut Session, title: String, question: Question) {
        let Some(loaded) = session.loaded.clone() else { return };
        let (told, answer) = channel();
        let (stop, progress) = (Arc::new(AtomicBool::new(false)), Arc::new(Shown::default()));
        let (up, shown) = (Arc::clone(&stop), Arc::clone(&progress));
        let previews = !matches!(question, Question::Mends { .. });
        let started = thread::Builder::new().name("search".to_owned()).spawn(move || {
            // Nobody hears it where the viewer has turned to something else.
            let _ = told.send(question.answer(&loaded, &shown, &up));
        });
        if let Err(why) = started {
            session.tell(format!("not looked for: {why}"));
            return;
        }
        let running = Some(Running { answer: Mutex::new(answer), stop, progress });
        *self = Self { title, previews, text: session.draft.text().to_owned(), running, ..Self::default() };
    }

    /// Looks whether the search is over.
    fn hear(&mut self, session: &mut Session, engine: &mut Engine) {
        let Some(running) = &self.running else { return };
        let answer = running.answer.lock().expect("nobody panics while holding it").try_recv();
        match answer {
            Err(TryRecvError::Empty) => {}
            Ok(Ok(found)) => {
                self.running = None;
                (self.offers, self.told) = (found.offers, found.told);
                self.look_at(0, session, engine);
            }
            Ok(Err(Stopped)) => *self = Self::default(),
            Err(TryRecvError::Disconnected) => {
                *self = Self::default();
                session.tell("the search failed: this is a mistake of the program");
            }
        }
    }

    /// Looks at an offer; where it is shown before it is taken, it takes the place of the one before.
    fn look_at(&mut self, number: usize, session: &mut Session, engine: &mut Engine) {
        let Some(offer) = self.offers.get(number) else { return };
        self.at = number;
        if !self.previews {
            return;
        }
        if std::mem::take(&mut self.is_preview) {
            session.take_back(engine);
        }
        self.is_preview = session.edit_all(&offer.edits, engine);
        session.draft.text().clone_into(&mut self.text);
    }

    fn take(&mut self, session: &mut Session, engine: &mut Engine) {
        let Some(offer) = self.offers.get(self.at) else { return };
        if self.is_preview || (!self.previews && session.edit_all(&offer.edits, engine)) {
            session.tell(format!("taken: {}; Ctrl Z takes it back", offer.title));
            *self = Self::default();
        }
    }

    /// Stops looking, and lets the plan be as it was.
    fn leave(&mut self, session: &mut Session, engine: &mut Engine) {
        if self.is_preview {
            session.take_back(engine);
        }
        *self = Self::default();
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

impl Question {
    fn answer(&self, loaded: &Loaded, progress: &Shown, stop: &AtomicBool) -> Result<Outcome, Stopped> {
        let mut project = loaded.project.clone();
        let (open, edits) = match self {
            Self::Mends { checked, cause } => return mends(loaded, (checked, cause), progress, stop),
            Self::Settings { worksite } => anew::worksite(&mut project, worksite),
            Self::Waypoints { step } => (Vec::new(), anew::step(&mut project, step)),
        };
        let proposal = propose::propose((&project, &loaded.meshes), &open, &Memory::default(), progress, stop)?;
        Ok(proposed(loaded, &edits, &proposal))
    }
}

fn mends(
    loaded: &Loaded,
    (checked, cause): (&Checked, &Cause),
    progress: &Shown,
    stop: &AtomicBool,
) -> Result<Outcome, Stopped> {
    let causes = std::slice::from_ref(cause);
    let mended = mend::mend((&loaded.project, &loaded.meshes), (checked, causes), None, progress, stop)?;
    let mut found = Outcome::default();
    for sought in mended.iter().flat_map(|mended| &mended.sought) {
        let title = sought.way.to_string();
        match &sought.mend {
            Some(mend) => found.offers.push(Offer {
                title,
                told: vec![report::mend(&loaded.project, mend)],
                edits: mend.edits.clone(),
            }),
            None => found.told.push(format!("{title}: none found of {} tried", sought.tried)),
        }
    }
    if found.offers.is_empty() && found.told.is_empty() {
        found.told.push("nothing was tried: no kind of change bears on it".to_owned());
    }
    Ok(found)
}

/// The proposal first, then the other settings that keep every limit, best first.
fn proposed(loaded: &Loaded, anew: &[PlanEdit], proposal: &Proposal) -> Outcome {
    if proposal.unsettled.is_some() {
        let told = report::proposal(&loaded.project, proposal, report::Ink::Plain);
        return Outcome { offers: Vec::new(), told: vec![told] };
    }
    let whole = |edits: &[PlanEdit]| [anew, edits].concat();
    let ways = proposal.ways.iter().map(|way| {
        let seconds = way.way.seconds.map_or_else(String::new, |seconds| format!(", {seconds:.0} s"));
        format!("{}: {} waypoints{seconds}", way.step, way.way.waypoints.len())
    });
    let told = proposal.sites.iter().flat_map(|site| setting(loaded, &site.chosen)).chain(ways).collect();
    let chosen = Offer { title: "the proposal, with its ways".to_owned(), told, edits: whole(&proposal.edits) };
    let mut offers = vec![chosen];
    for site in &proposal.sites {
        let others = site.candidates.good.iter().filter(|good| good.setting != site.chosen.setting);
        offers.extend(others.map(|good| Offer {
            title: "another setting, no way looked for".to_owned(),
            told: setting(loaded, good),
            edits: whole(&good.setting.edits(&loaded.project, &site.worksite)),
        }));
    }
    Outcome { offers, told: Vec::new() }
}

fn setting(loaded: &Loaded, judged: &Judged) -> Vec<String> {
    let parts = report::parts(judged).into_iter().filter(|(_, value)| !value.is_empty());
    let parts: Vec<String> = parts.map(|(name, value)| format!("{name} {value}")).collect();
    vec![parts.join(", "), report::setting(&loaded.project, judged)]
}

/// Looks for what is asked for.
pub struct SearchPlugin;

impl Plugin for SearchPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Search>().add_systems(Update, search.after(SessionSystems));
    }
}

fn search(
    mut asks: MessageReader<Ask>,
    mut session: ResMut<Session>,
    mut engine: ResMut<Engine>,
    (chosen, clock): (Res<Chosen>, Res<Clock>),
    mut search: ResMut<Search>,
) {
    // Looking alone changes nothing.
    let quiet = session.bypass_change_detection();
    if !search.title.is_empty() && search.text != quiet.draft.text() {
        *search = Search::default();
    }
    if search.running.is_some() {
        search.hear(quiet, &mut engine);
        if search.running.is_none() {
            session.set_changed();
        }
    }
    for ask in asks.read() {
        match ask {
            Ask::Do(Action::Mend) => match cause(&chosen, &session) {
                Ok((title, question)) => {
                    search.leave(&mut session, &mut engine);
                    search.start(&mut session, title, question);
                }
                Err(why) => session.tell(why),
            },
            Ask::Do(Action::Propose) => match here(&clock, &session) {
                Some(name) => propose_for(&name, &mut search, &mut session, &mut engine),
                None => session.tell("there is no worksite or transit at this moment"),
            },
            Ask::Propose(name) => propose_for(name, &mut search, &mut session, &mut engine),
            Ask::Offer(number) => search.look_at(*number, &mut session, &mut engine),
            Ask::Do(Action::OfferAfter) => {
                let next = search.at + 1;
                search.look_at(next, &mut session, &mut engine);
            }
            Ask::Do(Action::OfferBefore) => {
                if let Some(before) = search.at.checked_sub(1) {
                    search.look_at(before, &mut session, &mut engine);
                }
            }
            Ask::Do(Action::Take) => search.take(&mut session, &mut engine),
            Ask::Do(Action::Leave) => search.leave(&mut session, &mut engine),
            _ => {}
        }
    }
}

/// The cause that the chosen finding belongs to, of a plan that is checked.
fn cause(chosen: &Chosen, session: &Session) -> Result<(String, Question), &'static str> {
    let checked = session.checked.as_ref().filter(|_| !session.checking && session.problems.is_none());
    let checked = checked.ok_or("the plan is still to be checked")?;
    let finding = chosen.finding(session).filter(|finding| finding.status.is_violation());
    let key = &finding.ok_or("choose a violation first (N)")?.key;
    let cause = report::causes(&checked.outcome).into_iter().find(|cause| cause.holds(key));
    let cause = cause.ok_or("choose a violation first (N)")?;
    let title = format!("Mends of {} at {}", cause.check, cause.place.name());
    Ok((title, Question::Mends { checked: Arc::clone(checked), cause }))
}

/// The worksite or transit that the clock is at.
fn here(clock: &Clock, session: &Session) -> Option<String> {
    let (_, span) = session.checked.as_ref()?.playback.span_at(clock.at)?;
    let plan = &session.loaded.as_ref()?.project.plan;
    let Some(motion) = span.motion() else { return Some(span.place.name().to_owned()) };
    let step = plan.step.get(plan.step_number(&motion.moved.step)?)?;
    if step.deed == Deed::Transit { Some(motion.moved.step.clone()) } else { step.to.clone() }
}

fn propose_for(name: &str, search: &mut Search, session: &mut Session, engine: &mut Engine) {
    search.leave(session, engine);
    let Some(loaded) = session.loaded.clone().filter(|_| session.problems.is_none()) else { return };
    let plan = &loaded.project.plan;
    let is_transit = |step: usize| plan.step[step].deed == Deed::Transit;
    let question = if plan.worksite.iter().any(|site| site.id == name) {
        Question::Settings { worksite: name.to_owned() }
    } else if plan.step_number(name).is_some_and(is_transit) {
        Question::Waypoints { step: name.to_owned() }
    } else {
        return session.tell(format!("{name} is no worksite or transit"));
    };
    search.start(session, format!("Proposal for {name}"), question);
}

#[cfg(test)]
mod tests;
