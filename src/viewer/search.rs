//! What is being looked for, and what was found?
//!
//! A [`Question`] is answered on a thread of its own. What was found is kept as offers for the plan as it then is; the one
//! that is looked at is shown in the plan until it is taken or left. A plan that becomes another one drops them all.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::sync::{Arc, Mutex};
use std::thread;

use bevy::prelude::*;

use crate::check::{Checked, Finding, Place, Playback};
use crate::model::Deed;
use crate::report;

use super::cameras::CamerasSystems;
use super::change::Changing;
use super::chosen::{self, Chosen, by_margin};
use super::clock::Clock;
use super::edit_moment;
use super::effect::Effect;
use super::engine::{Engine, Shown};
use super::question::{Offer, Question, Told};
use super::session::{Ask, Session, SessionSystems};
use super::theme::Action;

struct Running {
    told: Mutex<Receiver<Told>>,
    stop: Arc<AtomicBool>,
    progress: Arc<Shown>,
}

impl Drop for Running {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

/// An offer, and what is known of it.
pub struct Seen {
    pub offer: Offer,
    /// What it does to the findings; known once it was looked at.
    pub effect: Option<Effect>,
}

/// The search that is under way, or what the last one found.
#[derive(Resource, Default)]
pub struct Search {
    /// What is, or was, looked for; empty where there is nothing to show.
    pub title: String,
    /// The best first.
    pub offers: Vec<Seen>,
    /// What was not found, line by line.
    pub told: Vec<String>,
    /// The offer that is looked at.
    pub at: usize,
    /// Where in its span what is to be mended is violated, as a share of it.
    violated: Option<(Place, f64)>,
    /// Whether the moment is still to be gone to at which the offer is to be seen.
    to_be_seen: bool,
    /// The plan's text that the offers belong to.
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
        let (tell, told) = channel();
        let (stop, progress) = (Arc::new(AtomicBool::new(false)), Arc::new(Shown::default()));
        let (up, shown) = (Arc::clone(&stop), Arc::clone(&progress));
        let started = thread::Builder::new().name("search".to_owned()).spawn(move || {
            // Stopped only where nobody listens any more.
            let _ = question.answer(&loaded, &tell, shown.as_ref(), &up);
        });
        if let Err(why) = started {
            session.tell(format!("not looked for: {why}"));
            return;
        }
        let running = Some(Running { told: Mutex::new(told), stop, progress });
        *self = Self { title, text: session.draft.text().to_owned(), running, ..Self::default() };
    }

    /// Takes in what the search has told; whether there was anything. The first offer is shown.
    fn hear(&mut self, session: &mut Session, engine: &mut Engine) -> bool {
        let mut heard = false;
        while let Some(running) = &self.running {
            let told = running.told.lock().expect("nobody panics while holding it").try_recv();
            match told {
                Err(TryRecvError::Empty) => break,
                Ok(Told::Offer(offer)) => {
                    self.add(offer);
                    if self.offers.len() == 1 {
                        self.look_at(0, session, engine);
                    }
                }
                Ok(Told::Nothing(line)) => self.told.push(line),
                Ok(Told::Done) => self.running = None,
                Err(TryRecvError::Disconnected) => {
                    self.running = None;
                    session.tell("the search failed: this is a mistake of the program");
                }
            }
            heard = true;
        }
        heard
    }

    /// Puts an offer behind those that are as good; the one that is looked at stays so.
    fn add(&mut self, offer: Offer) {
        let place = self.offers.partition_point(|seen| seen.offer.worth >= offer.worth);
        if place <= self.at && !self.offers.is_empty() {
            self.at += 1;
        }
        self.offers.insert(place, Seen { offer, effect: None });
    }

    /// Shows an offer in the plan; whether that could be.
    fn look_at(&mut self, number: usize, session: &mut Session, engine: &mut Engine) -> bool {
        let is_shown = self.offers.get(number).is_some_and(|seen| session.show(&seen.offer.edits, engine));
        if is_shown {
            self.at = number;
            self.to_be_seen = true;
        }
        is_shown
    }

    /// Makes the offer that is shown a part of the plan, and looks no further.
    fn take(&mut self, session: &mut Session, engine: &mut Engine) {
        if session.take_preview(engine) {
            let taken = self.offers.get(self.at).map_or("", |seen| seen.offer.title.as_str());
            session.tell(format!("taken: {taken}; Ctrl Z takes it back"));
            *self = Self::default();
        }
    }

    /// Stops looking, and lets the plan be as it was.
    fn leave(&mut self, session: &mut Session, engine: &mut Engine) {
        session.leave_preview(engine);
        *self = Self::default();
    }

    /// Whether what was found belongs to another plan than the session has now, or was left otherwise.
    fn is_stale(&self, session: &Session) -> bool {
        let was_left = !self.offers.is_empty() && session.preview.is_none();
        !self.title.is_empty() && (was_left || self.text != session.draft.text())
    }
}

/// Looks for what is asked for.
pub struct SearchPlugin;

impl Plugin for SearchPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Search>().init_resource::<Changing>().add_systems(
            Update,
            // The camera turns to what is shown then, which is seen in the next frame.
            (search.after(SessionSystems), judge.after(CamerasSystems)).chain(),
        );
    }
}

fn search(
    mut asks: MessageReader<Ask>,
    mut session: ResMut<Session>,
    mut engine: ResMut<Engine>,
    (mut chosen, clock): (ResMut<Chosen>, Res<Clock>),
    mut search: ResMut<Search>,
) {
    if search.is_stale(&session) {
        *search = Search::default();
    }
    // What is asked for by its number is meant as it was shown, before anything else came in.
    for ask in asks.read() {
        match ask {
            Ask::Do(Action::Mend) => mend(&clock, &mut chosen, &mut search, &mut session, &mut engine),
            Ask::Do(Action::Propose) => match here(&clock, &session) {
                Some(name) => propose_for(&name, &mut search, &mut session, &mut engine),
                None => session.tell("there is no worksite or transit at this moment"),
            },
            Ask::Propose(name) => propose_for(name, &mut search, &mut session, &mut engine),
            Ask::Offer(number) => {
                search.look_at(*number, &mut session, &mut engine);
            }
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
    // Looking alone changes nothing.
    if search.hear(session.bypass_change_detection(), &mut engine) {
        session.set_changed();
    }
}

/// Once the offer that is looked at is checked: what it does to the findings, and where it is to be seen.
fn judge(
    (session, clock): (Res<Session>, Res<Clock>),
    (mut search, mut changing): (ResMut<Search>, ResMut<Changing>),
    mut asks: MessageWriter<Ask>,
) {
    if !search.to_be_seen || session.checking {
        return;
    }
    search.to_be_seen = false;
    let (at, violated) = (search.at, search.violated.clone());
    let shown = search.offers.get_mut(at).filter(|seen| session.preview.as_ref() == Some(&seen.offer.edits));
    let (Some(seen), Some(loaded)) = (shown, &session.loaded) else { return };
    let (Some(checked), Some(before)) = (&session.checked, &session.before) else { return };
    let there = violated.as_ref().and_then(|violated| moment_in(&checked.playback, violated));
    let changed = || edit_moment::moment((&loaded.project, &checked.playback), &seen.offer.edits, clock.at);
    if let Some(moment) = there.or_else(changed) {
        asks.write(Ask::Jump(moment));
        changing.to_be_seen = true;
    }
    seen.effect = Some(Effect::new(&before.outcome.findings, &checked.outcome.findings));
}

/// The moment in a playback that lies so far along the span of a place.
fn moment_in(playback: &Playback, (place, share): &(Place, f64)) -> Option<f64> {
    let span = playback.spans.iter().find(|span| span.place == *place)?;
    Some(span.start + share * span.seconds)
}

/// Where a finding was found, as a share of its span.
fn share_of(playback: &Playback, finding: &Finding) -> Option<(Place, f64)> {
    let (number, at) = playback.moment_of(finding)?;
    let span = &playback.spans[number];
    Some((span.place.clone(), if span.seconds > 0.0 { (at - span.start) / span.seconds } else { 0.0 }))
}

/// Looks for mends of the chosen violation; where none is chosen, of the worst one, which is then chosen.
fn mend(clock: &Clock, chosen: &mut Chosen, search: &mut Search, session: &mut Session, engine: &mut Engine) {
    let Some(checked) = session.checked.clone().filter(|_| !session.checking && session.problems.is_none()) else {
        return session.tell("the plan is still to be checked");
    };
    let (finding, told) = match chosen.finding(session).filter(|finding| finding.status.is_violation()) {
        Some(finding) => (finding, None),
        None => match worst(&checked, clock.at) {
            Some((finding, place)) => {
                (finding, Some(format!("the worst violation {place}: {}", chosen::sentence(finding))))
            }
            None => return session.tell("nothing is violated"),
        },
    };
    let key = finding.key.clone();
    let Some(cause) = report::causes(&checked.outcome).into_iter().find(|cause| cause.holds(&key)) else {
        return session.tell("what causes this violation is not told, so that nothing can be looked for");
    };
    let violated = share_of(&checked.playback, finding);
    search.leave(session, engine);
    let title = format!("Mends of {} at {}", cause.check, cause.place.name());
    search.start(session, title, Question::Mends { checked, cause });
    search.violated = violated;
    if let Some(told) = told {
        chosen.key = Some(key);
        session.tell(told);
    }
}

/// The worst violation of what is shown at a moment, else of the whole plan, and where that is.
fn worst(checked: &Checked, at: f64) -> Option<(&Finding, &'static str)> {
    let findings = &checked.outcome.findings;
    let here = checked.playback.span_at(at).map(|(_, span)| &span.place);
    let worst = |wanted: &dyn Fn(&Finding) -> bool| {
        let is_wanted = |finding: &Finding| finding.status.is_violation() && wanted(finding);
        by_margin(findings, is_wanted).first().map(|number| &findings[*number])
    };
    let of_here = worst(&|finding| Some(&finding.key.place) == here).map(|finding| (finding, "of what is shown"));
    of_here.or_else(|| worst(&|_| true).map(|finding| (finding, "of the plan")))
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
