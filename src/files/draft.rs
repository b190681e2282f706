//! What is a plan with changes that are not saved yet?
//!
//! A draft holds the plan's text, and every text that it had before, so that each change can be undone and done again.
//! All other files are read from where they are. What is not saved is kept in a journal, so that it outlives the program.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use crate::model::PlanEdit;

use super::atomic;
use super::edit::{CannotEdit, edited};
use super::journal::{Found, Journal};
use super::plan_path::PlanPath;
use super::problem::Problems;
use super::project::{Loaded, TEXT_CAP, read_from};
use super::source::{Disk, Embedded, NotRead, Source};

/// The files of a plan that the program carries inside: path and bytes.
pub type BuiltIn = &'static [(&'static str, &'static [u8])];

/// A plan with changes that are not saved yet.
#[derive(Debug)]
pub struct Draft {
    home: Home,
    /// Name of the plan's file.
    plan: PlanPath,
    /// The text as it is on disk, as far as known.
    saved: String,
    now: String,
    undone: Vec<Change>,
    done: Vec<Change>,
    journal: Option<Journal>,
    told: Option<String>,
    /// Whether the last change may be joined by the next of its kind.
    open: bool,
}

#[derive(Debug)]
enum Home {
    Folder(Disk),
    BuiltIn(BuiltIn),
}

/// A change, and the text before it; after it was undone, the text that it led to.
#[derive(Clone, Debug)]
struct Change {
    what: String,
    edit: Option<PlanEdit>,
    text: String,
}

/// What came of saving.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Saved {
    Written,
    /// Somebody else has changed the file; nothing was written.
    ChangedOnDisk,
    /// A plan that the program carries inside.
    HasNoFile,
}

/// How the file on disk stands to what was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DiskState {
    Same,
    Changed,
    Deleted,
}

impl Draft {
    /// Opens a plan's folder, or the plan file in it; finds what an earlier run could not save.
    ///
    /// # Errors
    /// There is no such file, or it is no text.
    pub fn open(path: &Path) -> Result<Self> {
        let (folder, name) = if path.is_dir() {
            (path, "plan.toml".into())
        } else {
            let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
            (folder, path.file_name().unwrap_or_default().to_string_lossy().into_owned())
        };
        let disk = Disk::new(folder).with_context(|| format!("there is no plan at `{}`", path.display()))?;
        let Ok(plan) = PlanPath::new(&name) else { bail!("`{}` is no plan file", path.display()) };
        let journal = Journal::beside(&disk.path_of(&plan));
        Self::begin(Home::Folder(disk), plan, Some(journal))
    }

    /// Opens a plan that the program carries inside.
    ///
    /// # Errors
    /// It carries no plan.
    pub fn built_in(files: BuiltIn) -> Result<Self> {
        Self::begin(Home::BuiltIn(files), PlanPath::plan(), Journal::of_built_in())
    }

    fn begin(home: Home, plan: PlanPath, journal: Option<Journal>) -> Result<Self> {
        let saved = match read_text(home.source(), &plan) {
            Ok(text) => text,
            Err(why) => bail!("{}", why.words(&plan).0),
        };
        let now = saved.clone();
        let mut draft =
            Self { home, plan, saved, now, undone: Vec::new(), done: Vec::new(), journal, told: None, open: false };
        match draft.journal.as_ref().map(|journal| journal.find(&draft.saved)) {
            Some(Found::Edits(text)) => {
                draft.push("the edits of an earlier run".to_owned(), None, text);
                draft.told =
                    Some("edits that were not saved in an earlier run are here again; undo drops them".to_owned());
            }
            Some(Found::Aside(path)) => {
                let path = path.display();
                draft.told = Some(format!("edits of an earlier run do not fit the file any more; they are in {path}"));
            }
            Some(Found::Unreadable(why)) => draft.told = Some(why),
            Some(Found::Nothing) | None => {}
        }
        Ok(draft)
    }

    /// What there is to be told about the opening.
    pub fn told(&self) -> Option<String> {
        self.told.clone()
    }

    /// The plan's text as it is now.
    pub fn text(&self) -> &str {
        &self.now
    }

    /// Whether there is something to be saved.
    pub fn is_changed(&self) -> bool {
        self.now != self.saved
    }

    /// Where the plan's file is; none of a plan that the program carries inside.
    pub fn path(&self) -> Option<PathBuf> {
        match &self.home {
            Home::Folder(disk) => Some(disk.path_of(&self.plan)),
            Home::BuiltIn(_) => None,
        }
    }

    /// The plan as it stands now.
    ///
    /// # Errors
    /// All mistakes of all files.
    pub fn read(&self) -> Result<Loaded, Problems> {
        self.read_as(&self.now)
    }

    fn read_as(&self, text: &str) -> Result<Loaded, Problems> {
        read_from(&Overlaid { below: self.home.source(), path: &self.plan, text }, &self.plan)
    }

    /// Makes a change. One after which the plan has mistakes that it did not have is refused.
    ///
    /// # Errors
    /// What is to be changed isn't there, or the plan would not be sound.
    pub fn apply(&mut self, edit: &PlanEdit) -> Result<()> {
        self.change(edit, false)
    }

    /// Makes a change that is undone together with the one before, if that was of the same thing.
    ///
    /// # Errors
    /// As [`Self::apply`].
    pub fn apply_continuing(&mut self, edit: &PlanEdit) -> Result<()> {
        let joins = self.open
            && self.done.last().and_then(|change| change.edit.as_ref()).is_some_and(|last| last.same_thing(edit));
        self.change(edit, joins)?;
        self.open = true;
        Ok(())
    }

    fn change(&mut self, edit: &PlanEdit, joins: bool) -> Result<()> {
        let text = edited(&self.now, edit).map_err(|why: CannotEdit| anyhow::anyhow!(why))?;
        if text == self.now {
            return Ok(());
        }
        self.read_as(&text)?;
        if joins {
            self.now = text;
            self.undone.clear();
            self.write_journal();
        } else {
            self.push(edit.to_string(), Some(edit.clone()), text);
        }
        Ok(())
    }

    fn push(&mut self, what: String, edit: Option<PlanEdit>, text: String) {
        let before = std::mem::replace(&mut self.now, text);
        self.done.push(Change { what, edit, text: before });
        self.undone.clear();
        self.open = false;
        self.write_journal();
    }

    /// Takes the last change back; says which.
    pub fn undo(&mut self) -> Option<String> {
        let change = self.done.pop()?;
        let after = std::mem::replace(&mut self.now, change.text);
        self.undone.push(Change { what: change.what.clone(), edit: change.edit, text: after });
        self.open = false;
        self.write_journal();
        Some(change.what)
    }

    /// Makes the change again that was taken back last; says which.
    pub fn redo(&mut self) -> Option<String> {
        let change = self.undone.pop()?;
        let before = std::mem::replace(&mut self.now, change.text);
        self.done.push(Change { what: change.what.clone(), edit: change.edit, text: before });
        self.open = false;
        self.write_journal();
        Some(change.what)
    }

    /// The changes so far, the first first.
    pub fn changes(&self) -> impl Iterator<Item = &str> {
        self.done.iter().map(|change| change.what.as_str())
    }

    /// Writes the plan's file, unless somebody else has changed it meanwhile.
    ///
    /// # Errors
    /// The file cannot be written; the draft stays as it is.
    pub fn save(&mut self) -> Result<Saved> {
        match &self.home {
            Home::BuiltIn(_) => Ok(Saved::HasNoFile),
            Home::Folder(_) if self.disk_state() == DiskState::Changed => Ok(Saved::ChangedOnDisk),
            Home::Folder(_) => self.save_over().map(|()| Saved::Written),
        }
    }

    /// Writes the plan's file, whatever is there.
    ///
    /// # Errors
    /// The file cannot be written; the draft stays as it is.
    pub fn save_over(&mut self) -> Result<()> {
        let Some(path) = self.path() else { bail!("the built-in plan has no file") };
        atomic::write(&path, self.now.as_bytes())?;
        self.saved.clone_from(&self.now);
        self.write_journal();
        Ok(())
    }

    /// Writes the plan with all its files into a new or empty folder, which is then its home.
    ///
    /// # Errors
    /// There is something in the folder already, a file lies outside the plan's folder, or nothing can be written.
    pub fn save_as(&mut self, folder: &Path) -> Result<()> {
        let loaded = self.read()?;
        fs::create_dir_all(folder).with_context(|| format!("making the folder `{}`", folder.display()))?;
        let mut entries = fs::read_dir(folder).with_context(|| format!("looking into `{}`", folder.display()))?;
        if entries.next().is_some() {
            bail!("there is something in `{}` already; expected a new or empty folder", folder.display());
        }
        let inputs: Vec<PlanPath> = loaded.inputs.iter().filter_map(|input| PlanPath::new(&input.path).ok()).collect();
        if let Some(outside) = inputs.iter().find(|path| path.folder_beside_the_plan().is_some()) {
            bail!("`{outside}` lies outside the plan's folder, so a copy would not find it");
        }
        for path in inputs.iter().filter(|path| **path != self.plan) {
            let bytes = self.home.source().read(path, u64::MAX - 1);
            let bytes = bytes.map_err(|why| anyhow::anyhow!(why.words(path).0))?;
            let to = folder.join(path.as_str());
            if let Some(parent) = to.parent() {
                fs::create_dir_all(parent).with_context(|| format!("making the folder `{}`", parent.display()))?;
            }
            atomic::write(&to, &bytes)?;
        }
        atomic::write(&folder.join(self.plan.as_str()), self.now.as_bytes())?;
        self.drop_journal();
        let disk = Disk::new(folder).with_context(|| format!("looking into `{}`", folder.display()))?;
        self.journal = Some(Journal::beside(&disk.path_of(&self.plan)));
        self.home = Home::Folder(disk);
        self.saved.clone_from(&self.now);
        Ok(())
    }

    /// Takes what is on disk; own changes can be brought back with [`Self::undo`].
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn reload(&mut self) -> Result<()> {
        let text = read_text(self.home.source(), &self.plan);
        let text = text.map_err(|why| anyhow::anyhow!(why.words(&self.plan).0))?;
        self.saved.clone_from(&text);
        if text != self.now {
            self.push("reading the file again".to_owned(), None, text);
        }
        Ok(())
    }

    /// How the file on disk stands to what was last read or written.
    pub fn disk_state(&self) -> DiskState {
        match (&self.home, read_text(self.home.source(), &self.plan)) {
            (Home::BuiltIn(_), _) => DiskState::Same,
            (_, Ok(text)) if text == self.saved => DiskState::Same,
            (_, Err(NotRead::Missing)) => DiskState::Deleted,
            _ => DiskState::Changed,
        }
    }

    /// Keeps what is not saved, or drops the journal where all is; one that cannot be written is told.
    fn write_journal(&mut self) {
        let Some(journal) = &self.journal else { return };
        let written = if self.is_changed() { journal.keep(&self.saved, &self.now) } else { journal.forget() };
        self.told = written.err().map(|why| format!("what is not saved would not outlive a crash: {why:#}"));
    }

    fn drop_journal(&mut self) {
        if let Some(Err(why)) = self.journal.as_ref().map(Journal::forget) {
            self.told = Some(format!("{why:#}"));
        }
    }
}

impl Home {
    fn source(&self) -> &dyn Source {
        match self {
            Self::Folder(disk) => disk,
            Self::BuiltIn(files) => files,
        }
    }
}

impl Source for BuiltIn {
    fn read(&self, path: &PlanPath, cap: u64) -> Result<Vec<u8>, NotRead> {
        Embedded { files: self }.read(path, cap)
    }

    fn neighbours(&self, path: &PlanPath) -> Vec<String> {
        Embedded { files: self }.neighbours(path)
    }
}

/// The files of a plan, with another text of one of them.
struct Overlaid<'a> {
    below: &'a dyn Source,
    path: &'a PlanPath,
    text: &'a str,
}

impl Source for Overlaid<'_> {
    fn read(&self, path: &PlanPath, cap: u64) -> Result<Vec<u8>, NotRead> {
        if path == self.path { Ok(self.text.as_bytes().to_vec()) } else { self.below.read(path, cap) }
    }

    fn neighbours(&self, path: &PlanPath) -> Vec<String> {
        self.below.neighbours(path)
    }
}

fn read_text(source: &dyn Source, path: &PlanPath) -> Result<String, NotRead> {
    let bytes = source.read(path, TEXT_CAP)?;
    String::from_utf8(bytes).map_err(|_| NotRead::System("it is no text".to_owned()))
}
