//! Which plan is open, what is known of it, and what has the user asked for?
//!
//! Everything that is asked for comes as an [`Ask`], and this is the one place where asks change the plan. The engine
//! checks what has changed; what it finds arrives here.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use bevy::prelude::*;

use crate::check::{Checked, Finding, Known, Profile};
use crate::files::{DiskState, Draft, Loaded, Problems, Saved};
use crate::model::PlanEdit;

use super::engine::{Answer, Engine};
use super::theme::Action;

/// The files on disk are looked at so often.
const LOOK_EVERY: Duration = Duration::from_millis(500);

/// Something that the user asks for.
#[derive(Message, Clone, Debug, PartialEq)]
pub enum Ask {
    /// A change of the plan.
    Edit(PlanEdit),
    /// One of a run of changes of the same thing, which are undone together.
    EditOn(PlanEdit),
    /// What keys and buttons ask for.
    Do(Action),
    /// To look at a finding, by its number in the outcome.
    Choose(usize),
    /// To be at a moment, s from the beginning of the playback.
    Jump(f64),
    /// To save under another name.
    SaveAs(PathBuf),
    /// The file has changed on disk: take it.
    TakeFromDisk,
    /// The file has changed on disk: write over it.
    WriteOver,
    /// The message has been read.
    Heard,
}

/// Something to be told to the user.
#[derive(Clone, Debug, PartialEq)]
pub struct News {
    pub text: String,
    /// Whether it needs an answer, and which.
    pub choice: Choice,
}

/// Which answers a message offers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Choice {
    /// None: it goes away.
    None,
    /// The file has changed on disk while there are edits.
    DiskOrMine,
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
    /// How long the last check took.
    pub took: Option<Duration>,
    /// Whether a check is under way.
    pub checking: bool,
    pub news: Option<News>,
    looked: f32,
}

impl Session {
    /// A session with a plan that is still to be read.
    pub fn new(draft: Draft) -> Self {
        let news = draft.told().map(|text| News { text, choice: Choice::None });
        Self {
            draft,
            loaded: None,
            problems: None,
            checked: None,
            before: None,
            profiles: BTreeMap::new(),
            took: None,
            checking: false,
            news,
            looked: 0.0,
        }
    }

    /// The findings of the last check.
    pub fn findings(&self) -> &[Finding] {
        self.checked.as_ref().map_or(&[], |checked| &checked.outcome.findings)
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
            Ok(loaded) => {
                let loaded = Arc::new(loaded);
                let known = self.checked.as_ref().map_or_else(Known::default, |checked| checked.known.clone());
                engine.ask(Arc::clone(&loaded), known);
                self.loaded = Some(loaded);
                self.problems = None;
                self.checking = true;
            }
            Err(problems) => self.problems = Some(problems),
        }
    }

    fn changed(&mut self, engine: &mut Engine) {
        if self.checked.is_some() && !self.checking {
            self.before.clone_from(&self.checked);
        }
        self.read(engine);
    }

    fn answer(&mut self, ask: &Ask, engine: &mut Engine) {
        match ask {
            Ask::Edit(edit) => self.edit(edit, false, engine),
            Ask::EditOn(edit) => self.edit(edit, true, engine),
            Ask::Do(Action::Undo) => match self.draft.undo() {
                Some(what) => {
                    self.tell(format!("undone: {what}"));
                    self.changed(engine);
                }
                None => self.tell("nothing to undo"),
            },
            Ask::Do(Action::Redo) => match self.draft.redo() {
                Some(what) => {
                    self.tell(format!("done again: {what}"));
                    self.changed(engine);
                }
                None => self.tell("nothing to do again"),
            },
            Ask::Do(Action::Save) => match self.draft.save() {
                Ok(Saved::Written) => self.tell("saved"),
                Ok(Saved::ChangedOnDisk) => self.ask_disk_or_mine(),
                Ok(Saved::HasNoFile) => {
                    self.tell("the built-in demo has no file of its own: save it into a folder (Save as)");
                }
                Err(error) => self.tell(format!("not saved: {error:#}")),
            },
            Ask::SaveAs(folder) => match self.draft.save_as(folder) {
                Ok(()) => self.tell(format!("saved into {}", folder.display())),
                Err(error) => self.tell(format!("not saved: {error:#}")),
            },
            Ask::TakeFromDisk => match self.draft.reload() {
                Ok(()) => {
                    self.tell("read again from disk; your edits can be brought back with undo");
                    self.changed(engine);
                }
                Err(error) => self.tell(format!("not read: {error:#}")),
            },
            Ask::WriteOver => match self.draft.save_over() {
                Ok(()) => self.tell("saved over what was on disk"),
                Err(error) => self.tell(format!("not saved: {error:#}")),
            },
            Ask::Heard => self.news = None,
            Ask::Do(_) | Ask::Choose(_) | Ask::Jump(_) => {}
        }
    }

    fn edit(&mut self, edit: &PlanEdit, goes_on: bool, engine: &mut Engine) {
        let done = if goes_on { self.draft.apply_continuing(edit) } else { self.draft.apply(edit) };
        match done {
            Ok(()) => self.changed(engine),
            Err(why) => self.tell(format!("not done: {why}")),
        }
    }

    fn ask_disk_or_mine(&mut self) {
        let text = "the plan has changed on disk since it was read".to_owned();
        self.news = Some(News { text, choice: Choice::DiskOrMine });
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
            .add_systems(Update, (look_at_disk, answer_asks, hear_engine).chain().in_set(SessionSystems));
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
            Answer::Checked { checked, took, .. } => {
                session.checked = Some(checked);
                session.took = Some(took);
                session.checking = false;
                session.profiles.clear();
            }
            Answer::Profile { span, profile, .. } => {
                session.profiles.insert(span, profile);
            }
        }
    }
}

/// A plan that was changed or deleted by somebody else is noticed; one without edits is read again.
fn look_at_disk(time: Res<Time<Real>>, mut session: ResMut<Session>, mut engine: ResMut<Engine>) {
    let looked = session.looked + time.delta_secs();
    if looked < LOOK_EVERY.as_secs_f32() {
        session.bypass_change_detection().looked = looked;
        return;
    }
    session.bypass_change_detection().looked = 0.0;
    match session.draft.disk_state() {
        DiskState::Same => {}
        DiskState::Changed if session.draft.is_changed() => {
            if session.news.is_none() {
                session.ask_disk_or_mine();
            }
        }
        DiskState::Changed => match session.draft.reload() {
            Ok(()) => {
                session.tell("read again: the plan has changed on disk");
                session.changed(&mut engine);
            }
            Err(error) => session.tell(format!("not read: {error:#}")),
        },
        DiskState::Deleted => {
            if session.news.is_none() {
                session.tell("the plan is no longer on disk; saving writes it again");
            }
        }
    }
}
