//! What does a plan look like with edits that are not saved yet, and how do they get to the disk?
//!
//! A [`Draft`] holds the text of a plan, what was done to it, and the text that it came from. Every edit goes through
//! [`Draft::apply`]; an edit after which the plan does not read any more is refused. Edits that are not saved are kept
//! in a journal beside the plan, so that they outlive the program. Nothing on disk is written over unless it is still
//! what was read or saved last, or the caller says so.

use std::fmt;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use anyhow::anyhow;

use crate::model::PlanEdit;

use super::history::History;
use super::journal::{Content, Journal};
use super::parts::{Keeping, Parts, Stamp};
use super::plan_path::PlanPath;
use super::problem::Problems;
use super::project::{Loaded, TEXT_CAP, plan_at, plan_text, read_from, sha256};
use super::source::{Disk, Embedded, NotRead, Source};
use super::{atomic, copy, edit};

/// A plan with edits that are not saved yet.
#[derive(Debug)]
pub struct Draft {
    home: Home,
    /// The text as it was read or saved last.
    base: String,
    history: History<Change>,
    journal: Journal,
    warning: Option<String>,
    /// How the file looked when its bytes were compared last.
    looked: Option<Stamp>,
    /// The other files that the plan draws on.
    parts: Parts,
}

#[derive(Debug)]
enum Home {
    Folder { disk: Disk, plan: PlanPath },
    Program { files: Embedded<'static>, plan: PlanPath },
}

impl Home {
    fn source(&self) -> &dyn Source {
        match self {
            Self::Folder { disk, .. } => disk,
            Self::Program { files, .. } => files,
        }
    }

    fn plan(&self) -> &PlanPath {
        match self {
            Self::Folder { plan, .. } | Self::Program { plan, .. } => plan,
        }
    }
}

/// One step of what was done to a plan.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// An edit; of several that were taken as one, the last.
    Edit(Box<PlanEdit>),
    /// Edits that were made as one.
    Edits(Vec<PlanEdit>),
    /// The text was written anew elsewhere.
    Replaced,
    /// Edits came back that were not saved when the program ended.
    Restored,
    /// The file on disk was read again, and own edits were dropped.
    Reloaded,
}

/// What was found of edits that were not saved when the program ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    /// There were none.
    Nothing,
    /// They are in the draft again, as one step.
    Restored,
    /// The plan has changed since, so they are not in the draft: their file, and the whole text with them. The file
    /// stays; it is moved aside (`-1` at the end of its name) when there are new edits to keep.
    Stale { file: PathBuf, text: String },
    /// The file cannot be read, and why; it stays as [`Found::Stale`] does.
    Corrupt { file: PathBuf, why: String },
}

/// Whether the file on disk is still what was read or saved last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DiskState {
    Same,
    Changed,
    Deleted,
}

/// Why a draft was not saved; nothing of it is lost.
#[derive(Debug)]
pub enum NotSaved {
    /// The file on disk is not what was read or saved last: [`Draft::reload`] or [`Draft::save_over`].
    ChangedOnDisk(PathBuf),
    /// The file on disk is gone: [`Draft::save_over`] or [`Draft::save_as`].
    DeletedOnDisk(PathBuf),
    /// The plan is the program's own: [`Draft::save_as`].
    BuiltIn,
    /// The system, or what lies in the way, does not let it.
    Trouble(anyhow::Error),
}

impl fmt::Display for NotSaved {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::ChangedOnDisk(file) => write!(f, "`{}` has changed on disk meanwhile", file.display()),
            Self::DeletedOnDisk(file) => write!(f, "`{}` is no longer on disk", file.display()),
            Self::BuiltIn => f.write_str("the built-in plan can only be saved into a folder"),
            Self::Trouble(error) => write!(f, "not saved: {error:#}"),
        }
    }
}

impl std::error::Error for NotSaved {}

impl From<anyhow::Error> for NotSaved {
    fn from(error: anyhow::Error) -> Self {
        Self::Trouble(error)
    }
}

impl Draft {
    /// A plan on disk, also one with mistakes; `path` is its folder or the plan file in it. Edits that were not saved
    /// when the program ended come back where the plan is still the one that they were made on.
    ///
    /// # Errors
    /// There is no text of a plan.
    pub fn open(path: &Path) -> Result<(Self, Found), Problems> {
        let (disk, plan) = plan_at(path)?;
        let journal = Journal::beside(&disk.place(&plan));
        Self::begin(Home::Folder { disk, plan }, journal)
    }

    /// A plan on disk as it is there, whatever an earlier run has left; edits would not outlive the program.
    ///
    /// # Errors
    /// There is no text of a plan.
    pub fn as_on_disk(path: &Path) -> Result<Self, Problems> {
        let (disk, plan) = plan_at(path)?;
        Self::begin(Home::Folder { disk, plan }, Journal::in_folder(None)).map(|(draft, _)| draft)
    }

    /// The plan that the program carries inside; edits that are not saved are kept in the folder of
    /// [`super::state_folder`], where there is one.
    ///
    /// # Errors
    /// There is no text of a plan.
    pub fn built_in(files: Embedded<'static>, state_folder: Option<&Path>) -> Result<(Self, Found), Problems> {
        Self::begin(Home::Program { files, plan: PlanPath::plan() }, Journal::in_folder(state_folder))
    }

    fn begin(home: Home, mut journal: Journal) -> Result<(Self, Found), Problems> {
        let base = plan_text(home.source(), home.plan())?;
        let mut history = History::new(base.clone());
        let file = journal.file().map(Path::to_path_buf).unwrap_or_default();
        let found = match journal.read() {
            Content::Nothing => Found::Nothing,
            Content::Corrupt(why) => Found::Corrupt { file, why },
            Content::Edits { text, .. } if text == base => {
                journal.adopt();
                Found::Nothing
            }
            Content::Edits { base_sha256, text } if base_sha256 == sha256(base.as_bytes()) => {
                journal.adopt();
                history.push(Change::Restored, &text);
                history.close();
                Found::Restored
            }
            Content::Edits { text, .. } => Found::Stale { file, text },
        };
        let parts = Parts::default();
        Ok((Self { home, base, history, journal, warning: None, looked: None, parts }, found))
    }

    /// The text of the plan, edits included.
    pub fn text(&self) -> &str {
        self.history.text()
    }

    /// The plan's file on disk; none of the built-in plan.
    pub fn file(&self) -> Option<PathBuf> {
        match &self.home {
            Home::Folder { disk, plan } => Some(disk.place(plan)),
            Home::Program { .. } => None,
        }
    }

    /// All files on disk that the plan was read from, itself first; none of the built-in plan.
    pub fn files(&self) -> Vec<PathBuf> {
        match &self.home {
            Home::Folder { disk, plan } => {
                std::iter::once(plan).chain(self.parts.paths()).map(|path| disk.place(path)).collect()
            }
            Home::Program { .. } => Vec::new(),
        }
    }

    /// Reads the plan, edits included, with all that it draws on. Other files than the plan stay what they were when they
    /// were read first.
    ///
    /// # Errors
    /// All mistakes of all files.
    pub fn read(&mut self) -> Result<Loaded, Problems> {
        let text = self.text().to_owned();
        self.read_with(&text)
    }

    /// The same with all other files as they are now, and from now on; where that makes no plan, and what was read of them
    /// before does, the draft goes on with that.
    ///
    /// # Errors
    /// All mistakes of all files as they are now.
    pub fn read_anew(&mut self) -> Result<Loaded, Problems> {
        let before = std::mem::take(&mut self.parts);
        let read = self.read();
        if read.is_err() {
            let anew = std::mem::replace(&mut self.parts, before);
            if self.read().is_ok() {
                self.parts.look_as(anew);
            } else {
                self.parts = anew;
            }
        }
        read
    }

    fn read_with(&mut self, text: &str) -> Result<Loaded, Problems> {
        let plan = self.home.plan();
        let keeping = Keeping::new(self.home.source(), &self.parts);
        let read = read_from(&Overlaid { below: &keeping, plan, text }, plan);
        let new = keeping.into_new();
        self.parts.add(new);
        read
    }

    /// Looks at the other files that the plan draws on: names of those that somebody has changed since they were looked at
    /// last. Cheap enough to be asked all the time.
    pub fn changed_parts(&mut self) -> Vec<String> {
        match &self.home {
            Home::Folder { disk, .. } => self.parts.look(disk).iter().map(ToString::to_string).collect(),
            Home::Program { .. } => Vec::new(),
        }
    }

    /// Whether other files than the plan are not what they were when they were read.
    pub fn is_behind(&self) -> bool {
        self.parts.are_behind()
    }

    /// Makes an edit, as a step of its own, and gives the plan after it.
    ///
    /// # Errors
    /// What the edit names is not there, or the plan would have mistakes; the draft is then as it was.
    pub fn apply(&mut self, edit: &PlanEdit) -> Result<Loaded, Problems> {
        self.history.close();
        self.apply_continuing(edit)
    }

    /// Makes an edit, as one step with the last one where that set the same thing: begin a drag with [`Draft::apply`],
    /// and go on with this.
    ///
    /// # Errors
    /// As [`Draft::apply`].
    pub fn apply_continuing(&mut self, edit: &PlanEdit) -> Result<Loaded, Problems> {
        let text = edit::apply(self.text(), self.home.plan(), edit)?;
        let loaded = self.read_with(&text)?;
        let continues = matches!(self.history.open(), Some(Change::Edit(last)) if sets_the_same(last, edit));
        if continues {
            self.history.extend(Change::Edit(Box::new(edit.clone())), &text);
        } else {
            self.history.push(Change::Edit(Box::new(edit.clone())), &text);
        }
        self.keep();
        Ok(loaded)
    }

    /// Makes edits one after the other, as one step, and gives the plan after them all.
    ///
    /// # Errors
    /// As [`Draft::apply`], for any of them.
    pub fn apply_all(&mut self, edits: &[PlanEdit]) -> Result<Loaded, Problems> {
        let text = edit::apply_all(self.text(), self.home.plan(), edits)?;
        let loaded = self.read_with(&text)?;
        self.history.close();
        self.history.push(Change::Edits(edits.to_vec()), &text);
        self.history.close();
        self.keep();
        Ok(loaded)
    }

    /// The plan as it would be after edits, which are not made.
    ///
    /// # Errors
    /// As [`Draft::apply`], for any of them.
    pub fn read_after(&mut self, edits: &[PlanEdit]) -> Result<Loaded, Problems> {
        let text = edit::apply_all(self.text(), self.home.plan(), edits)?;
        self.read_with(&text)
    }

    /// The text becomes this one, sound or not, as it was written elsewhere.
    pub fn replace_text(&mut self, text: &str) {
        self.history.push(Change::Replaced, text);
        self.history.close();
        self.keep();
    }

    /// Takes back the last step, and says which it was.
    pub fn undo(&mut self) -> Option<Change> {
        let undone = self.history.undo();
        self.keep();
        undone
    }

    /// Does again what was undone last, and says which step it was.
    pub fn redo(&mut self) -> Option<Change> {
        let redone = self.history.redo();
        self.keep();
        redone
    }

    /// What was done and is not undone, the oldest first; saving leaves it as it is.
    pub fn changes(&self) -> impl DoubleEndedIterator<Item = &Change> {
        self.history.done()
    }

    /// What was undone last, and would be done again by [`Draft::redo`].
    pub fn undone(&self) -> Option<&Change> {
        self.history.undone()
    }

    /// Whether the text differs from what was read or saved last.
    pub fn is_changed(&self) -> bool {
        self.text() != self.base
    }

    /// Why the edits would not outlive the program now; none where they would.
    pub fn warning(&self) -> Option<&str> {
        self.warning.as_deref()
    }

    /// Where edits that are not saved are kept; none where they would not outlive the program.
    pub fn kept_in(&self) -> Option<&Path> {
        self.journal.file().filter(|_| self.warning.is_none())
    }

    /// Leaves nothing of the edits beside the plan: unless there are more, they end with the program.
    ///
    /// # Errors
    /// The file cannot be removed.
    pub fn forget(&mut self) -> Result<(), String> {
        self.journal.remove()
    }

    /// Keeps the journal as the text is.
    fn keep(&mut self) {
        let kept =
            if self.is_changed() { self.journal.write(&self.base, self.history.text()) } else { self.journal.remove() };
        self.warning = kept.err();
    }

    /// Whether the plan's file is still what was read or saved last; cheap enough to be asked all the time.
    pub fn disk_state(&mut self) -> DiskState {
        let Home::Folder { disk, plan } = &self.home else { return DiskState::Same };
        let stamp = match fs::metadata(disk.place(plan)) {
            Ok(about) => Stamp::of(&about),
            Err(error) if matches!(error.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => {
                return DiskState::Deleted;
            }
            Err(_) => return DiskState::Changed,
        };
        if stamp.is_some() && stamp == self.looked {
            return DiskState::Same;
        }
        match disk.read(plan, TEXT_CAP) {
            Ok(bytes) if bytes == self.base.as_bytes() => {
                self.looked = stamp;
                DiskState::Same
            }
            Err(NotRead::Missing) => DiskState::Deleted,
            _ => DiskState::Changed,
        }
    }

    /// Saves the plan where it came from.
    ///
    /// # Errors
    /// The file on disk is another one than was read or saved last, or it cannot be written; the draft stays changed.
    pub fn save(&mut self) -> Result<(), NotSaved> {
        let file = self.file().ok_or(NotSaved::BuiltIn)?;
        match self.disk_state() {
            DiskState::Same if self.is_changed() => self.save_over(),
            DiskState::Same => Ok(()),
            DiskState::Changed => Err(NotSaved::ChangedOnDisk(file)),
            DiskState::Deleted => Err(NotSaved::DeletedOnDisk(file)),
        }
    }

    /// Saves the plan where it came from, whatever is there now.
    ///
    /// # Errors
    /// The file cannot be written; the draft stays changed.
    pub fn save_over(&mut self) -> Result<(), NotSaved> {
        let Home::Folder { disk, plan } = &self.home else { return Err(NotSaved::BuiltIn) };
        let file = match disk.locate(plan) {
            Ok(file) => file,
            Err(NotRead::Missing) => disk.place(plan),
            Err(why) => return Err(anyhow!("{}", why.words(plan).0).into()),
        };
        if let Ok(about) = fs::metadata(&file) {
            if !about.is_file() {
                return Err(anyhow!("`{}` is no file", file.display()).into());
            }
            if about.permissions().readonly() {
                return Err(anyhow!("`{}` is write-protected", file.display()).into());
            }
        }
        atomic::write(&file, self.text().as_bytes())?;
        self.is_saved();
        Ok(())
    }

    fn is_saved(&mut self) {
        self.base = self.text().to_owned();
        self.looked = None;
        self.history.close();
        self.keep();
    }

    /// Goes on with what the draft has, whatever is on disk now: that was seen, and the next saving writes over it.
    pub fn take_as_seen(&mut self) {
        if let Ok(text) = plan_text(self.home.source(), self.home.plan()) {
            self.base = text;
            self.looked = None;
            self.keep();
        }
    }

    /// Whether the plan can be read again from where it came.
    ///
    /// # Errors
    /// There is no text of a plan.
    pub fn readable(&self) -> Result<(), Problems> {
        plan_text(self.home.source(), self.home.plan()).map(drop)
    }

    /// Reads the plan again from where it came; own edits are dropped, and come back by [`Draft::undo`].
    ///
    /// # Errors
    /// There is no text of a plan; the draft is then as it was.
    pub fn reload(&mut self) -> Result<(), Problems> {
        self.base = plan_text(self.home.source(), self.home.plan())?;
        self.looked = None;
        // What did not read is no state to go back to.
        let was_reloaded = matches!(self.history.done().next_back(), Some(Change::Reloaded));
        if was_reloaded && self.read().is_err() {
            self.history.extend(Change::Reloaded, &self.base);
        } else {
            self.history.push(Change::Reloaded, &self.base);
        }
        self.history.close();
        self.keep();
        Ok(())
    }

    /// Saves the plan and all files that it draws on into a folder, which must be new or empty, and goes on there. Files
    /// that it shares with plans beside it go beside the folder, and may lie there already if they are the same.
    ///
    /// # Errors
    /// Something is in the way, or cannot be written; what was written of it is then removed again, and the draft stays
    /// as it was.
    pub fn save_as(&mut self, folder: &Path) -> Result<(), NotSaved> {
        let plan = self.home.plan().clone();
        let keeping = Keeping::new(self.home.source(), &self.parts);
        let overlaid = Overlaid { below: &keeping, plan: &plan, text: self.text() };
        let disk = copy::copy(&overlaid, &plan, folder)?;
        let left_over = self.journal.remove();
        self.journal = Journal::beside(&disk.place(&plan));
        self.home = Home::Folder { disk, plan };
        self.parts.are_written();
        self.is_saved();
        self.warning = left_over.err();
        Ok(())
    }
}

/// Whether two edits set the same thing, so that the later one makes the earlier one void.
fn sets_the_same(a: &PlanEdit, b: &PlanEdit) -> bool {
    use PlanEdit::{SetClearance, SetConfiguration, SetCrew, SetDetents, SetWaypoint};
    match (a, b) {
        (SetWaypoint { step: a, waypoint: i, .. }, SetWaypoint { step: b, waypoint: j, .. }) => (a, i) == (b, j),
        (SetConfiguration { worksite: a, .. }, SetConfiguration { worksite: b, .. }) => a == b,
        (SetDetents { worksite: a, who: p, .. }, SetDetents { worksite: b, who: q, .. }) => (a, p) == (b, q),
        (SetCrew { who: a, .. }, SetCrew { who: b, .. }) => a == b,
        (SetClearance { regime: a, pair: p, .. }, SetClearance { regime: b, pair: q, .. }) => (a, p) == (b, q),
        _ => false,
    }
}

/// A source in which the plan has another text.
struct Overlaid<'a> {
    below: &'a dyn Source,
    plan: &'a PlanPath,
    text: &'a str,
}

impl Source for Overlaid<'_> {
    fn read(&self, path: &PlanPath, cap: u64) -> Result<Vec<u8>, NotRead> {
        if path != self.plan {
            return self.below.read(path, cap);
        }
        if self.text.len() as u64 > cap { Err(NotRead::TooLarge { cap }) } else { Ok(self.text.as_bytes().to_vec()) }
    }

    fn neighbours(&self, path: &PlanPath) -> Vec<String> {
        self.below.neighbours(path)
    }
}

#[cfg(test)]
mod tests;
