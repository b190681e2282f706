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
mod tests {
    use std::fs::File;
    use std::process::Command;
    use std::time::{Duration, SystemTime};

    use tempfile::TempDir;

    use super::*;
    use crate::model::{Hands, Regime};

    const FILES: [&str; 5] = ["plan.toml", "structure.toml", "arm.toml", "restraint.toml", "suit.toml"];
    static STARTER: Embedded<'static> = Embedded {
        files: &[
            ("plan.toml", include_bytes!("../../scenes/starter/plan.toml")),
            ("structure.toml", include_bytes!("../../scenes/starter/structure.toml")),
            ("arm.toml", include_bytes!("../../scenes/starter/arm.toml")),
            ("restraint.toml", include_bytes!("../../scenes/starter/restraint.toml")),
            ("suit.toml", include_bytes!("../../scenes/starter/suit.toml")),
        ],
    };

    /// The starter plan in a folder of its own.
    fn starter() -> TempDir {
        let folder = tempfile::tempdir().expect("a temporary folder");
        for (name, bytes) in STARTER.files {
            fs::write(folder.path().join(name), bytes).expect("a file of it");
        }
        folder
    }

    fn open(folder: &TempDir) -> (Draft, Found) {
        Draft::open(folder.path()).expect("it has a plan")
    }

    fn hands(hands: Hands) -> PlanEdit {
        PlanEdit::SetHands { worksite: "near-panel".to_owned(), target: "latch".to_owned(), hands }
    }

    fn clearance(at_least: f64) -> PlanEdit {
        PlanEdit::SetClearance { regime: Regime::Moving, pair: "default".to_owned(), at_least }
    }

    fn on_disk(folder: &TempDir) -> String {
        fs::read_to_string(folder.path().join("plan.toml")).expect("the plan is there")
    }

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).expect("a folder");
        let mut names: Vec<String> =
            entries.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    fn journal(folder: &TempDir) -> PathBuf {
        folder.path().join(".plan.toml.unsaved")
    }

    #[test]
    fn an_edit_is_read_undone_and_redone() {
        let folder = starter();
        let (mut draft, found) = open(&folder);
        assert_eq!(found, Found::Nothing);
        let before = draft.text().to_owned();
        let edited = || Change::Edit(Box::new(hands(Hands::Either)));
        let loaded = draft.apply(&hands(Hands::Either)).expect("it is a sound edit");
        assert_eq!(loaded.project.plan.worksite[0].target[0].hands, Hands::Either);
        assert_eq!(draft.read().expect("it reads").project, loaded.project);
        assert!(draft.is_changed());
        let after = draft.text().to_owned();
        assert_eq!(draft.undo(), Some(edited()));
        assert_eq!((draft.undo(), draft.text(), draft.is_changed()), (None, before.as_str(), false));
        assert_eq!(draft.redo(), Some(edited()));
        assert_eq!((draft.redo(), draft.text()), (None, after.as_str()));
        assert_eq!(draft.changes().collect::<Vec<_>>(), [&edited()]);
    }

    #[test]
    fn an_edit_after_which_the_plan_does_not_read_is_refused_with_its_problems() {
        let folder = starter();
        let (mut draft, _) = open(&folder);
        let before = draft.text().to_owned();
        let edit = PlanEdit::SetConfiguration { worksite: "near-panel".to_owned(), joints: vec![1.0; 3] };
        let problems = draft.apply(&edit).expect_err("the arm has seven joints").to_string();
        assert!(problems.contains("3 joint values for the 7 joints"), "{problems}");
        assert_eq!((draft.text(), draft.is_changed()), (before.as_str(), false));
        assert!(!journal(&folder).exists());
    }

    #[test]
    fn a_drag_goes_back_as_one_and_the_next_drag_is_another() {
        let folder = starter();
        let (mut draft, _) = open(&folder);
        draft.apply(&clearance(0.21)).expect("a first drag");
        for step in 0..50 {
            draft.apply_continuing(&clearance(0.22 + f64::from(step) * 1e-3)).expect("it goes on");
        }
        draft.apply(&clearance(0.4)).expect("a second drag");
        draft.apply_continuing(&hands(Hands::Both)).expect("another thing");
        assert_eq!(draft.changes().count(), 3);
        draft.undo();
        draft.undo();
        assert!(draft.text().contains("default = 0.269\n"), "{}", draft.text());
        draft.undo();
        assert!(!draft.is_changed());
    }

    #[test]
    fn saving_writes_what_is_shown_and_only_over_what_was_read() {
        let folder = starter();
        let (mut draft, _) = open(&folder);
        draft.apply(&clearance(0.21)).expect("a sound edit");
        assert!(journal(&folder).exists());
        draft.save().expect("nothing is in the way");
        assert_eq!((on_disk(&folder).as_str(), draft.is_changed()), (draft.text(), false));
        assert_eq!(names(folder.path()), {
            let mut names = FILES;
            names.sort();
            names
        });
        assert!(draft.undo().is_some() && draft.is_changed(), "undo goes back beyond a save");

        let theirs = format!("{}# theirs\n", on_disk(&folder));
        fs::write(folder.path().join("plan.toml"), &theirs).expect("somebody else saves");
        assert_eq!(draft.disk_state(), DiskState::Changed);
        assert!(matches!(draft.save(), Err(NotSaved::ChangedOnDisk(_))));
        assert_eq!((on_disk(&folder), draft.is_changed()), (theirs.clone(), true));

        let mine = draft.text().to_owned();
        draft.reload().expect("it is there");
        assert_eq!((draft.text(), draft.is_changed()), (theirs.as_str(), false));
        assert_eq!((draft.undo(), draft.text()), (Some(Change::Reloaded), mine.as_str()));
        draft.save().expect("theirs was read since");
        assert_eq!(on_disk(&folder), mine);
    }

    #[test]
    fn what_changed_on_disk_can_be_written_over_on_request() {
        let folder = starter();
        let (mut draft, _) = open(&folder);
        draft.apply(&clearance(0.21)).expect("a sound edit");
        fs::write(folder.path().join("plan.toml"), "theirs").expect("somebody else saves");
        draft.save_over().expect("nothing is in the way");
        assert_eq!((on_disk(&folder).as_str(), draft.is_changed()), (draft.text(), false));
        fs::remove_file(folder.path().join("plan.toml")).expect("somebody removes it");
        assert_eq!(draft.disk_state(), DiskState::Deleted);
        assert!(matches!(draft.save(), Err(NotSaved::DeletedOnDisk(_))));
        draft.save_over().expect("nothing is in the way");
        assert_eq!((on_disk(&folder).as_str(), draft.disk_state()), (draft.text(), DiskState::Same));
    }

    #[test]
    fn a_write_protected_plan_is_told_and_left() {
        let folder = starter();
        let plan = folder.path().join("plan.toml");
        let before = on_disk(&folder);
        let (mut draft, _) = open(&folder);
        draft.apply(&clearance(0.21)).expect("a sound edit");
        let mut rights = fs::metadata(&plan).expect("it is there").permissions();
        rights.set_readonly(true);
        fs::set_permissions(&plan, rights).expect("its owner may");
        let told = draft.save().expect_err("it is protected").to_string();
        assert!(told.contains("plan.toml` is write-protected"), "{told}");
        assert_eq!((on_disk(&folder), draft.is_changed()), (before, true));
        assert!(journal(&folder).exists());
    }

    #[test]
    fn a_folder_that_is_gone_loses_nothing() {
        let folder = starter();
        let (mut draft, _) = open(&folder);
        fs::remove_dir_all(folder.path()).expect("somebody removes it");
        draft.replace_text("# kept");
        assert!(matches!(draft.save(), Err(NotSaved::DeletedOnDisk(_))));
        let told = draft.save_over().expect_err("there is no folder").to_string();
        assert!(told.contains("plan.toml"), "{told}");
        assert_eq!((draft.text(), draft.is_changed()), ("# kept", true));
    }

    /// Runs itself again in a process whose files may not grow beyond half a kibibyte, as on a full disk.
    #[cfg(unix)]
    #[test]
    fn a_full_disk_loses_nothing() {
        const FOLDER: &str = "TRUSSWALK_TEST_FULL_DISK";
        if let Some(path) = std::env::var_os(FOLDER) {
            let (mut draft, _) = Draft::open(Path::new(&path)).expect("it has a plan");
            let before = draft.text().to_owned();
            draft.apply(&clearance(0.21)).expect("the edit itself needs no disk");
            let warning = draft.warning().expect("the journal does not fit").to_owned();
            assert!(warning.contains(".plan.toml.unsaved"), "{warning}");
            let told = draft.save().expect_err("the plan does not fit").to_string();
            assert!(told.contains("plan.toml"), "{told}");
            assert!(draft.is_changed() && draft.text() != before);
            return;
        }
        let folder = starter();
        let before = on_disk(&folder);
        let own = std::env::current_exe().expect("this test");
        let run = Command::new("sh")
            .args([
                "-c",
                "trap '' XFSZ; ulimit -f 1; exec \"$0\" --exact files::draft::tests::a_full_disk_loses_nothing",
            ])
            .arg(own)
            .env(FOLDER, folder.path())
            .output()
            .expect("a shell");
        let told = String::from_utf8_lossy(&run.stdout);
        assert!(run.status.success() && told.contains("1 passed"), "{told}");
        assert_eq!(on_disk(&folder), before);
        let mut left = FILES;
        left.sort();
        assert_eq!(names(folder.path()), left, "nothing half written is left");
    }

    #[test]
    fn edits_that_were_not_saved_come_back_as_one_step() {
        let folder = starter();
        let before = on_disk(&folder);
        let (mut draft, _) = open(&folder);
        draft.apply(&clearance(0.21)).expect("a sound edit");
        draft.apply(&hands(Hands::Both)).expect("a sound edit");
        let text = draft.text().to_owned();
        drop(draft);
        assert_eq!(on_disk(&folder), before);
        let (mut draft, found) = open(&folder);
        assert_eq!((found, draft.text()), (Found::Restored, text.as_str()));
        assert_eq!((draft.undo(), draft.text()), (Some(Change::Restored), before.as_str()));
        assert!(!journal(&folder).exists(), "all is undone");
        draft.redo();
        assert!(journal(&folder).exists());
        draft.save().expect("nothing is in the way");
        assert!(!journal(&folder).exists(), "all is saved");
    }

    #[test]
    fn edits_that_are_forgotten_are_not_there_again() {
        let folder = starter();
        let before = on_disk(&folder);
        let (mut draft, _) = open(&folder);
        draft.apply(&clearance(0.21)).expect("a sound edit");
        assert!(journal(&folder).exists());
        draft.forget().expect("nothing is in the way");
        drop(draft);
        let (draft, found) = open(&folder);
        assert_eq!((found, draft.text()), (Found::Nothing, before.as_str()));
    }

    #[test]
    fn edits_of_another_plan_are_told_and_never_applied_nor_lost() {
        let folder = starter();
        let (mut draft, _) = open(&folder);
        draft.apply(&clearance(0.21)).expect("a sound edit");
        let text = draft.text().to_owned();
        drop(draft);
        fs::write(folder.path().join("plan.toml"), format!("{}# theirs\n", on_disk(&folder))).expect("somebody saves");
        let kept = fs::read(journal(&folder)).expect("the journal");
        let (mut draft, found) = open(&folder);
        assert_eq!(found, Found::Stale { file: fs::canonicalize(journal(&folder)).expect("it is there"), text });
        assert!(!draft.is_changed());
        draft.apply(&hands(Hands::Both)).expect("a sound edit");
        draft.save().expect("nothing is in the way");
        assert_eq!(fs::read(folder.path().join(".plan.toml.unsaved-1")).expect("moved aside"), kept);
    }

    #[test]
    fn a_corrupt_journal_is_told_and_left() {
        let folder = starter();
        fs::write(journal(&folder), "scribble").expect("a file");
        let (draft, found) = open(&folder);
        assert!(matches!(found, Found::Corrupt { .. }), "{found:?}");
        assert!(!draft.is_changed());
        assert_eq!(fs::read(journal(&folder)).expect("it is left"), b"scribble");
    }

    #[test]
    fn a_journal_that_cannot_be_written_is_a_warning() {
        let (mut draft, _) = Draft::built_in(STARTER, None).expect("it has a plan");
        draft.apply(&clearance(0.21)).expect("a sound edit");
        assert!(draft.is_changed() && draft.warning().is_some());
        draft.undo();
        assert_eq!(draft.warning(), None, "there is nothing to keep");
    }

    #[test]
    fn edits_of_the_built_in_plan_come_back_and_can_be_saved_into_a_folder() {
        let state = tempfile::tempdir().expect("a temporary folder");
        let state = state.path().join("nested");
        let (mut draft, _) = Draft::built_in(STARTER, Some(&state)).expect("it has a plan");
        draft.apply(&clearance(0.21)).expect("a sound edit");
        drop(draft);
        let (mut draft, found) = Draft::built_in(STARTER, Some(&state)).expect("it has a plan");
        assert_eq!((found, draft.is_changed()), (Found::Restored, true));
        assert!(matches!(draft.save(), Err(NotSaved::BuiltIn)));

        let full = starter();
        let told = draft.save_as(full.path()).expect_err("there is something in it").to_string();
        assert!(told.contains("there is something in"), "{told}");
        assert!(draft.is_changed());

        let above = tempfile::tempdir().expect("a temporary folder");
        let folder = above.path().join("a/b");
        draft.save_as(&folder).expect("it is new");
        assert_eq!(names(&folder), {
            let mut names = FILES;
            names.sort();
            names
        });
        assert_eq!(fs::read_to_string(folder.join("plan.toml")).expect("it is there"), draft.text());
        assert!(!draft.is_changed() && names(&state).is_empty());
        assert_eq!(draft.file(), Some(fs::canonicalize(&folder).expect("it is there").join("plan.toml")));
        draft.apply(&clearance(0.22)).expect("a sound edit");
        draft.save().expect("it has a folder now");
    }

    #[test]
    fn a_copy_takes_shared_files_along_and_leaves_others_of_their_name() {
        let above = tempfile::tempdir().expect("a temporary folder");
        let (own, shared) = (above.path().join("mine/plans/one"), above.path().join("mine/plans/arms"));
        fs::create_dir_all(&own).expect("a folder");
        fs::create_dir_all(&shared).expect("a folder");
        for (name, bytes) in STARTER.files {
            let folder = if *name == "arm.toml" { &shared } else { &own };
            fs::write(folder.join(name), bytes).expect("a file");
        }
        let (mut draft, _) = Draft::open(&own).expect("it has a plan");
        let text = draft.text().replace("\"arm.toml\"", "\"../arms/arm.toml\"");
        draft.replace_text(&text);
        draft.read().expect("it reads");

        let copy = above.path().join("copies/one");
        let arm = above.path().join("copies/arms/arm.toml");
        fs::create_dir_all(arm.parent().expect("a folder")).expect("a folder");
        fs::write(&arm, "another").expect("a file");
        let told = draft.save_as(&copy).expect_err("another arm is there").to_string();
        assert!(told.contains("arm.toml` is there already"), "{told}");
        assert!(!copy.exists() && draft.is_changed());
        assert_eq!(fs::read(&arm).expect("it is left"), b"another");

        fs::remove_file(&arm).expect("a file");
        draft.save_as(&copy).expect("nothing is in the way");
        let (mut copied, _) = Draft::open(&copy).expect("a plan");
        copied.read().expect("the copy reads");
        assert_eq!(fs::read(&arm).expect("it was written"), STARTER.files[2].1);
        assert_ne!(fs::read_to_string(own.join("plan.toml")).expect("the first one"), text, "the first one is left");
    }

    #[test]
    fn a_broken_plan_opens_and_is_mended() {
        let folder = starter();
        let whole = on_disk(&folder);
        fs::write(folder.path().join("plan.toml"), "title = \n").expect("a broken plan");
        let (mut draft, _) = open(&folder);
        assert!(draft.read().is_err() && draft.apply(&clearance(0.2)).is_err());
        fs::write(folder.path().join("plan.toml"), &whole).expect("somebody mends it");
        assert_eq!(draft.disk_state(), DiskState::Changed);
        draft.reload().expect("it is there");
        draft.read().expect("it is mended");
        assert!(!draft.is_changed());
    }

    #[test]
    fn a_file_that_somebody_breaks_stops_no_edit_and_is_read_anew_when_it_is_asked_for() {
        let folder = starter();
        let arm = folder.path().join("arm.toml");
        let whole = fs::read_to_string(&arm).expect("the arm");
        let (mut draft, _) = open(&folder);
        let first = draft.read().expect("it reads").project;
        assert_eq!(draft.files().len(), FILES.len());
        assert_eq!((draft.changed_parts(), draft.is_behind()), (Vec::new(), false));
        fs::write(&arm, "joint = \n").expect("somebody breaks it");
        assert_eq!((draft.changed_parts(), draft.is_behind()), (vec!["arm.toml".to_owned()], true));
        assert!(draft.read_anew().expect_err("it is broken").to_string().contains("arm.toml"));
        assert_eq!(draft.changed_parts(), Vec::<String>::new(), "that is known");
        let edited = draft.apply(&clearance(0.21)).expect("a sound edit");
        assert_eq!(edited.project.arm, first.arm);
        fs::write(&arm, format!("{whole}\n# mended\n")).expect("somebody mends it");
        assert_eq!(draft.changed_parts(), ["arm.toml"]);
        assert_eq!(draft.read_anew().expect("it is mended").project, edited.project);
        assert!(!draft.is_behind());
        assert!(draft.is_changed(), "the edit is still there");
    }

    #[test]
    fn a_copy_holds_the_files_as_they_were_read() {
        let folder = starter();
        let (mut draft, _) = open(&folder);
        draft.read().expect("it reads");
        fs::write(folder.path().join("arm.toml"), "joint = \n").expect("somebody breaks it");
        let other = tempfile::tempdir().expect("a temporary folder");
        draft.save_as(other.path()).expect("nothing is in the way");
        assert_eq!(fs::read(other.path().join("arm.toml")).expect("it was written"), STARTER.files[2].1);
        assert_eq!((draft.changed_parts(), draft.is_behind()), (Vec::new(), false));
    }

    #[test]
    fn a_broken_text_that_was_read_meanwhile_is_no_state_to_go_back_to() {
        let folder = starter();
        let whole = on_disk(&folder);
        let (mut draft, _) = open(&folder);
        draft.apply(&clearance(0.21)).expect("a sound edit");
        draft.save().expect("nothing is in the way");
        let saved = draft.text().to_owned();
        for text in ["title = \n", &format!("{saved}# theirs\n")] {
            fs::write(folder.path().join("plan.toml"), text).expect("somebody saves");
            draft.reload().expect("it is there");
        }
        draft.undo();
        assert_eq!(draft.text(), saved, "the broken text is left out");
        draft.undo();
        assert_eq!(draft.text(), whole);
    }

    #[test]
    fn a_file_of_the_same_length_and_time_is_seen_to_have_changed() {
        let folder = starter();
        let plan = folder.path().join("plan.toml");
        let age = |seconds| {
            let time = SystemTime::now() - Duration::from_secs(seconds);
            File::options().write(true).open(&plan).and_then(|file| file.set_modified(time)).expect("its owner may");
            time
        };
        let first = age(100);
        let (mut draft, _) = open(&folder);
        assert_eq!((draft.disk_state(), draft.looked.is_some()), (DiskState::Same, true));
        assert_eq!(draft.disk_state(), DiskState::Same);
        fs::write(&plan, on_disk(&folder).replace("0.20", "0.21")).expect("somebody saves");
        let file = File::options().write(true).open(&plan).expect("it is there");
        file.set_modified(first).expect("its owner may");
        assert_eq!(draft.disk_state(), DiskState::Changed);
    }
}
