//! Which plan is open, what is known of it, and what has the user asked for?
//!
//! Everything that is asked for comes as an [`Ask`], and this is the one place where asks change the plan. The engine
//! checks what has changed; what it finds arrives here.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use bevy::prelude::*;

use crate::check::{self, Checked, Finding, Known, Place, Profile};
use crate::files::{Change, DiskState, Draft, Found, Loaded, NotSaved, Problems};
use crate::model::PlanEdit;

use super::clock::{Clock, ClockSystems};
use super::engine::{Answer, Engine};
use super::news::{Choice, News};
use super::theme::Action;

/// The files on disk are looked at so often, at most.
pub(super) const LOOK_EVERY: Duration = Duration::from_millis(500);

/// Something that the user asks for.
#[derive(Message, Clone, Debug, PartialEq)]
pub enum Ask {
    /// A change of the plan.
    Edit(PlanEdit),
    /// One of a run of changes of the same thing, which are undone together.
    EditOn(PlanEdit),
    /// The run of changes is over.
    LetGo,
    /// What keys and buttons ask for.
    Do(Action),
    /// To look at a finding, by its number in the outcome.
    Choose(usize),
    /// To look for what serves a worksite or a transit, by its name.
    Propose(String),
    /// To look at what a search has found, by its number.
    Offer(usize),
    /// To look at a body, by its name.
    Pick(String),
    /// To be at a moment, s from the beginning of the playback.
    Jump(f64),
    /// To save under another name.
    SaveAs(PathBuf),
    /// The file has changed on disk: take it.
    TakeFromDisk,
    /// The file has changed on disk: go on with what is shown, which the next saving writes over it.
    KeepMine,
    /// To take what is being typed as it stands.
    EndTyping,
    /// The message has been read.
    Heard,
}

/// The open plan.
#[derive(Resource)]
pub struct Session {
    pub draft: Draft,
    /// The plan as it was last read well.
    pub loaded: Option<Arc<Loaded>>,
    /// What is wrong with it now, if anything is.
    pub problems: Option<Problems>,
    pub checked: Option<Arc<Checked>>,
    /// What was found before the last edit.
    pub before: Option<Arc<Checked>>,
    /// How the clearance of the playback's spans runs, as far as known.
    pub profiles: BTreeMap<usize, Arc<Profile>>,
    /// How many of them have come since the viewer began.
    pub profile_count: usize,
    /// How long the last check took.
    pub took: Option<Duration>,
    /// Whether a check is under way.
    pub checking: bool,
    /// The place of which that check has told its findings already.
    pub first: Option<Place>,
    pub news: Option<News>,
    /// Edits that are shown, and are not made until they are taken.
    pub preview: Option<Vec<PlanEdit>>,
    /// How the plan's file was when it was looked at last.
    disk: DiskState,
    /// Whether there were edits then.
    was_edited: bool,
    /// Whether the next change of a run goes on with one.
    goes_on: bool,
    looked: f32,
}

impl Session {
    /// A session with a plan that is still to be read, and what was found of edits that were not saved.
    pub fn new(draft: Draft, found: &Found) -> Self {
        let news = told(found).map(|text| News { text, choice: Choice::Read });
        Self {
            draft,
            loaded: None,
            problems: None,
            checked: None,
            before: None,
            profiles: BTreeMap::new(),
            profile_count: 0,
            took: None,
            checking: false,
            first: None,
            news,
            preview: None,
            disk: DiskState::Same,
            was_edited: false,
            goes_on: false,
            looked: 0.0,
        }
    }

    /// What undoing would take back, in words; none where there is nothing.
    pub fn to_undo(&self) -> Option<String> {
        match &self.preview {
            Some(_) => Some("what is shown as a preview".to_owned()),
            None => self.draft.changes().next_back().map(words),
        }
    }

    /// What would be done again, in words; none where there is nothing.
    pub fn to_redo(&self) -> Option<String> {
        self.draft.undone().map(words)
    }

    /// The findings of the last check.
    pub fn findings(&self) -> &[Finding] {
        self.checked.as_ref().map_or(&[], |checked| &checked.outcome.findings)
    }

    /// Whether a finding is of the plan as it was before the check that is under way.
    pub fn is_to_be_checked(&self, finding: &Finding) -> bool {
        self.checking && self.first.as_ref() != Some(&finding.key.place)
    }

    /// Takes in what a check found in one place before it goes on.
    fn take_first(&mut self, place: Place, findings: Vec<Finding>) {
        let Some(checked) = &self.checked else { return };
        let mut known = Checked::clone(checked);
        known.outcome.findings = check::with_first(&known.outcome.findings, &place, findings);
        self.checked = Some(Arc::new(known));
        self.first = Some(place);
    }

    /// Whether the run of the clearance is known of every motion.
    pub fn is_profiled(&self) -> bool {
        let spans = self.checked.iter().flat_map(|checked| &checked.playback.spans);
        self.profiles.len() == spans.filter(|span| span.motion().is_some()).count()
    }

    pub(super) fn tell(&mut self, text: impl Into<String>) {
        self.news = Some(News { text: text.into(), choice: Choice::None });
    }

    /// Reads the plan as it stands now and has it checked.
    fn read(&mut self, engine: &mut Engine) {
        match self.draft.read() {
            Ok(loaded) => self.check(loaded, engine),
            Err(problems) => self.problems = Some(problems),
        }
    }

    fn check(&mut self, loaded: Loaded, engine: &mut Engine) {
        let loaded = Arc::new(loaded);
        let known = self.checked.as_ref().map_or_else(Known::default, |checked| checked.known.clone());
        engine.ask(Arc::clone(&loaded), known);
        self.loaded = Some(loaded);
        self.problems = None;
        self.checking = true;
        self.first = None;
    }

    /// What is known now is what new findings are compared with; during a run of edits or previews, what was known before
    /// it.
    fn keep_as_before(&mut self) {
        if self.checked.is_some() && !self.checking && self.preview.is_none() {
            self.before.clone_from(&self.checked);
        }
    }

    fn changed(&mut self, engine: &mut Engine) {
        self.keep_as_before();
        self.preview = None;
        self.read(engine);
    }

    /// Something has changed on disk: all other files than the plan are read as they are there now.
    fn changed_on_disk(&mut self, engine: &mut Engine) {
        self.keep_as_before();
        self.preview = None;
        match self.draft.read_anew() {
            Ok(loaded) => self.check(loaded, engine),
            Err(problems) => self.problems = Some(problems),
        }
    }

    fn answer(&mut self, ask: &Ask, engine: &mut Engine) {
        match ask {
            Ask::Edit(edit) => {
                self.goes_on = false;
                self.edit(edit, engine);
            }
            Ask::EditOn(edit) => {
                self.edit(edit, engine);
                self.goes_on = true;
            }
            Ask::LetGo => self.goes_on = false,
            Ask::Do(Action::Undo) if self.preview.is_some() => self.leave_preview(engine),
            Ask::Do(Action::Undo) => {
                let undone = self.draft.undo();
                self.went("undone", "nothing to undo", undone.as_ref(), engine);
            }
            Ask::Do(Action::Redo) => {
                let redone = self.draft.redo();
                self.went("done again", "nothing to do again", redone.as_ref(), engine);
            }
            // A plan that does not read would be lost to every other command.
            Ask::Do(Action::Save) if self.problems.is_some() && self.draft.read().is_err() => {
                self.tell("not saved: the plan does not read as it is; undo, or reload it from disk");
            }
            Ask::Do(Action::Save) => match self.draft.save() {
                Ok(()) if self.preview.is_some() => self.tell("saved without the preview, which is still to be taken"),
                Ok(()) => self.tell("saved"),
                Err(NotSaved::ChangedOnDisk(_)) => self.ask_disk_or_mine(),
                // There is nothing that could be lost by it.
                Err(NotSaved::DeletedOnDisk(_)) => self.save_over("saved; the plan was no longer on disk"),
                Err(error) => self.ask_elsewhere(&error),
            },
            Ask::SaveAs(folder) => match self.draft.save_as(folder) {
                Ok(()) => self.tell(format!("saved into {}", folder.display())),
                Err(error) => self.ask_elsewhere(&error),
            },
            Ask::TakeFromDisk if self.draft.disk_state() == DiskState::Same => {
                self.tell("read again from disk; your edits are as they were");
                self.changed_on_disk(engine);
            }
            Ask::TakeFromDisk => match self.draft.reload() {
                Ok(()) => {
                    self.tell("read again from disk; your edits can be brought back with undo");
                    self.changed_on_disk(engine);
                }
                Err(why) => self.tell_unreadable(&why),
            },
            Ask::KeepMine if self.draft.disk_state() == DiskState::Same => {
                self.tell("what was read is kept until your edits are saved");
            }
            Ask::KeepMine => {
                self.draft.take_as_seen();
                self.tell("yours is kept, and not saved yet: saving writes it over what is on disk");
            }
            Ask::Heard => self.news = None,
            Ask::EndTyping => {}
            Ask::Do(_) | Ask::Choose(_) | Ask::Propose(_) | Ask::Offer(_) => {}
            Ask::Pick(_) | Ask::Jump(_) => {}
        }
    }

    /// Something was undone or done again, or there was nothing to be.
    fn went(&mut self, how: &str, nothing: &str, change: Option<&Change>, engine: &mut Engine) {
        match change {
            Some(change) => {
                self.tell(format!("{how}: {}", words(change)));
                self.changed(engine);
            }
            None => self.tell(nothing),
        }
    }

    fn edit(&mut self, edit: &PlanEdit, engine: &mut Engine) {
        // What is shown is what is edited.
        if self.preview.is_some() && !self.take_preview(engine) {
            return;
        }
        let done = if self.goes_on { self.draft.apply_continuing(edit) } else { self.draft.apply(edit) };
        match done {
            Ok(loaded) => self.edited(loaded, engine),
            Err(why) => self.tell(format!("not done: {why}")),
        }
    }

    fn edited(&mut self, loaded: Loaded, engine: &mut Engine) {
        self.keep_as_before();
        self.check(loaded, engine);
        if let Some(warning) = self.draft.warning() {
            let text = format!("not saved yet, and would not outlive a crash: {warning}");
            self.news = Some(News { text, choice: Choice::Read });
        }
    }

    /// Shows what edits would make of the plan, in place of what was shown before; whether that could be.
    pub(super) fn show(&mut self, edits: &[PlanEdit], engine: &mut Engine) -> bool {
        match self.draft.read_after(edits) {
            Ok(loaded) => {
                self.keep_as_before();
                self.preview = Some(edits.to_vec());
                self.check(loaded, engine);
                true
            }
            Err(why) => {
                self.tell(format!("cannot be shown: {why}"));
                false
            }
        }
    }

    /// Makes the edits that are shown, as one step; whether they could be made.
    pub(super) fn take_preview(&mut self, engine: &mut Engine) -> bool {
        let Some(edits) = self.preview.clone() else { return false };
        self.goes_on = false;
        match self.draft.apply_all(&edits) {
            Ok(loaded) => {
                self.edited(loaded, engine);
                self.preview = None;
                true
            }
            Err(why) => {
                self.tell(format!("not done: {why}"));
                false
            }
        }
    }

    /// Shows the plan again as it is.
    pub(super) fn leave_preview(&mut self, engine: &mut Engine) {
        if self.preview.is_some() {
            self.changed(engine);
        }
    }

    /// Other files than the plan have changed on disk. Edits may not go with them, so that it is asked first, unless nothing can
    /// be done as it is.
    fn parts_changed(&mut self, names: &[String], engine: &mut Engine) {
        let names = names.join(", ");
        if self.draft.is_changed() && self.problems.is_none() {
            return self.ask_about(&format!(
                "{names} changed on disk since it was read: reloading keeps your edits; keeping it as it was read lasts until \
                 you save"
            ));
        }
        self.tell(format!("read again: {names} changed on disk"));
        self.changed_on_disk(engine);
    }

    fn save_over(&mut self, done: &str) {
        match self.draft.save_over() {
            Ok(()) => self.tell(done),
            Err(error) => self.ask_elsewhere(&error),
        }
    }

    /// The plan's file has changed, and cannot be read as it is: there is nothing to choose.
    fn tell_unreadable(&mut self, why: &Problems) {
        self.ask_elsewhere(&format!(
            "the plan has changed on disk and cannot be read from there; yours is kept: {why}"
        ));
    }

    fn ask_elsewhere(&mut self, why: &impl ToString) {
        self.news = Some(News { text: why.to_string(), choice: Choice::Elsewhere });
    }

    fn ask_disk_or_mine(&mut self) {
        self.ask_about(
            "the plan has changed on disk since it was read: reloading drops your edits, which undo brings back; keeping yours \
             writes them over what is there once you save",
        );
    }

    /// Asks whether what has changed on disk is to be taken, if it can be.
    fn ask_about(&mut self, what: &str) {
        if let Err(why) = self.draft.readable() {
            return self.tell_unreadable(&why);
        }
        self.news = Some(News { text: what.to_owned(), choice: Choice::DiskOrMine });
    }
}

/// What is to be said of edits that an earlier run has left.
fn told(found: &Found) -> Option<String> {
    match found {
        Found::Nothing => None,
        Found::Restored => {
            Some("edits that were not saved in an earlier run are here again; undo drops them".to_owned())
        }
        Found::Stale { file, .. } => {
            Some(format!("edits of an earlier run do not fit the plan any more; they stay in {}", file.display()))
        }
        Found::Corrupt { file, why } => {
            Some(format!("edits of an earlier run cannot be read: {}: {why}", file.display()))
        }
    }
}

fn words(change: &Change) -> String {
    match change {
        Change::Edit(edit) => edit.to_string(),
        Change::Edits(edits) => edits.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "),
        Change::Replaced => "another text".to_owned(),
        Change::Restored => "the edits of an earlier run".to_owned(),
        Change::Reloaded => "reading the file again".to_owned(),
    }
}

/// Holds the open plan and answers what is asked.
pub struct SessionPlugin;

/// When the session changes, within a frame.
#[derive(SystemSet, Debug, Clone, PartialEq, Eq, Hash)]
pub struct SessionSystems;

impl Plugin for SessionPlugin {
    fn build(&self, app: &mut App) {
        app.add_message::<Ask>()
            .add_systems(Startup, first_reading)
            .add_systems(Update, (look_at_disk, answer_asks, hear_engine).chain().in_set(SessionSystems))
            .add_systems(Update, look_where_the_clock_is.after(ClockSystems));
    }
}

fn first_reading(mut session: ResMut<Session>, mut engine: ResMut<Engine>) {
    session.read(&mut engine);
}

fn answer_asks(mut asks: MessageReader<Ask>, mut session: ResMut<Session>, mut engine: ResMut<Engine>) {
    for ask in asks.read() {
        session.answer(ask, &mut engine);
    }
}

/// Takes in what the engine has found.
pub(super) fn hear_engine(mut session: ResMut<Session>, engine: Res<Engine>) {
    for answer in engine.answers() {
        match answer {
            Answer::First { place, findings, .. } => session.take_first(place, findings),
            Answer::Checked { checked, took, .. } => {
                session.checked = Some(checked);
                session.took = Some(took);
                session.checking = false;
                session.profiles.clear();
            }
            Answer::Profile { span, profile, .. } => {
                session.profiles.insert(span, profile);
                session.profile_count += 1;
            }
        }
    }
}

/// What is found at the moment that is shown is told first.
fn look_where_the_clock_is(clock: Res<Clock>, session: Res<Session>, mut engine: ResMut<Engine>) {
    let span = session.checked.as_ref().and_then(|checked| checked.playback.span_at(clock.at));
    engine.looked_at = span.map(|(_, span)| span.place.clone());
}

/// A plan, or a file that it draws on, that was changed or deleted by somebody else is noticed, and told once; one without
/// edits is read again.
fn look_at_disk(time: Res<Time<Real>>, mut session: ResMut<Session>, mut engine: ResMut<Engine>) {
    // Looking alone changes nothing.
    let looking = session.bypass_change_detection();
    looking.looked += time.delta_secs();
    if looking.looked < LOOK_EVERY.as_secs_f32() {
        return;
    }
    looking.looked = 0.0;
    let parts = looking.draft.changed_parts();
    let state = looking.draft.disk_state();
    let is_new = std::mem::replace(&mut looking.disk, state) != state;
    let is_edited = looking.draft.is_changed();
    let was_edited = std::mem::replace(&mut looking.was_edited, is_edited);
    match state {
        DiskState::Changed if is_edited => {
            if is_new {
                session.ask_disk_or_mine();
            }
        }
        DiskState::Changed => match looking.draft.reload() {
            Ok(()) => {
                session.tell("read again: the plan has changed on disk");
                session.changed_on_disk(&mut engine);
            }
            Err(problems) => session.problems = Some(problems),
        },
        DiskState::Deleted => {
            if is_new {
                session.tell("the plan is no longer on disk; saving writes it again");
            }
        }
        DiskState::Same if !parts.is_empty() => session.parts_changed(&parts, &mut engine),
        // What was kept for the edits alone is kept no longer.
        DiskState::Same if was_edited && !is_edited && looking.draft.is_behind() => {
            session.changed_on_disk(&mut engine);
        }
        DiskState::Same => {}
    }
}

#[cfg(test)]
mod tests;
