//! Where do the bytes of a plan's files come from?
//!
//! From a folder on disk, or from files that the program carries inside; everything else reads through [`Source`] and
//! cannot tell which.

use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};

use super::plan_path::PlanPath;

/// Gives bytes for paths in the plan's tree.
pub trait Source {
    /// The bytes of a file of at most `cap` bytes.
    ///
    /// # Errors
    /// Says why there are none.
    fn read(&self, path: &PlanPath, cap: u64) -> Result<Vec<u8>, NotRead>;

    /// Names of the files in the folder of `path`, as they would be written there; for suggestions.
    fn neighbours(&self, path: &PlanPath) -> Vec<String>;
}

/// Why a file was not read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NotRead {
    /// There is no such file.
    Missing,
    /// It is a folder, device or pipe.
    NotAFile,
    /// A link leads out of the plan's tree.
    LeavesTree,
    /// It is larger than the cap, in bytes.
    TooLarge { cap: u64 },
    /// The system says why.
    System(String),
}

impl NotRead {
    /// What is wrong with the file, and what was expected.
    pub(super) fn words(&self, path: &PlanPath) -> (String, String) {
        match self {
            Self::Missing => (format!("there is no file `{path}`"), "expected the path of a file".to_owned()),
            Self::NotAFile => (format!("`{path}` is no file"), "expected the path of a file".to_owned()),
            Self::LeavesTree => (
                format!("`{path}` is a link that leaves the plan's tree"),
                "expected a file inside the plan's folder, or the folder beside it that the path names".to_owned(),
            ),
            Self::TooLarge { cap } => {
                (format!("`{path}` is larger than {}", size(*cap)), format!("expected at most {cap} bytes"))
            }
            Self::System(why) => (format!("`{path}` cannot be read: {why}"), String::new()),
        }
    }
}

fn size(bytes: u64) -> String {
    const MEBI: u64 = 1 << 20;
    if bytes.is_multiple_of(MEBI) { format!("{} MiB", bytes / MEBI) } else { format!("{bytes} bytes") }
}

/// A plan's folder on disk.
#[derive(Clone, Debug)]
pub struct Disk {
    /// The plan's folder, with all links followed.
    folder: PathBuf,
}

impl Disk {
    /// The folder of a plan.
    ///
    /// # Errors
    /// The folder is missing or cannot be looked at.
    pub fn new(folder: &Path) -> std::io::Result<Self> {
        Ok(Self { folder: fs::canonicalize(folder)? })
    }

    /// Where a file lies or would lie, links not followed.
    pub(super) fn place(&self, path: &PlanPath) -> PathBuf {
        self.folder.join(path.as_str())
    }

    /// The place on disk, with all links followed; it lies in the tree that the path names.
    pub(super) fn locate(&self, path: &PlanPath) -> Result<PathBuf, NotRead> {
        let found = fs::canonicalize(self.place(path)).map_err(|error| not_read(&error))?;
        let tree = match path.folder_beside_the_plan() {
            None => Some(self.folder.clone()),
            // The root of the file system is nobody's plan tree.
            Some(folder) => self.folder.parent().filter(|parent| parent.parent().is_some()).map(|p| p.join(folder)),
        };
        if tree.is_some_and(|tree| found.starts_with(tree)) { Ok(found) } else { Err(NotRead::LeavesTree) }
    }
}

fn not_read(error: &std::io::Error) -> NotRead {
    match error.kind() {
        std::io::ErrorKind::NotFound | std::io::ErrorKind::NotADirectory => NotRead::Missing,
        _ => NotRead::System(error.to_string()),
    }
}

impl Source for Disk {
    fn read(&self, path: &PlanPath, cap: u64) -> Result<Vec<u8>, NotRead> {
        let found = self.locate(path)?;
        // A pipe or device would block or never end, so it is not even opened.
        let about = fs::metadata(&found).map_err(|error| not_read(&error))?;
        if !about.is_file() {
            return Err(NotRead::NotAFile);
        }
        if about.len() > cap {
            return Err(NotRead::TooLarge { cap });
        }
        let mut bytes = Vec::new();
        let file = File::open(&found).map_err(|error| not_read(&error))?;
        file.take(cap + 1).read_to_end(&mut bytes).map_err(|error| not_read(&error))?;
        if bytes.len() as u64 > cap { Err(NotRead::TooLarge { cap }) } else { Ok(bytes) }
    }

    fn neighbours(&self, path: &PlanPath) -> Vec<String> {
        const LOOKED_AT: usize = 1000;
        let folder = self.place(path);
        let Some(entries) = folder.parent().and_then(|folder| fs::read_dir(folder).ok()) else {
            return Vec::new();
        };
        let mut names: Vec<String> =
            entries.take(LOOKED_AT).filter_map(|entry| entry.ok()?.file_name().into_string().ok()).collect();
        names.sort();
        names
    }
}

/// Files that the program carries inside.
#[derive(Clone, Copy, Debug)]
pub struct Embedded<'a> {
    /// Path as seen from the plan's folder, and bytes.
    pub files: &'a [(&'a str, &'a [u8])],
}

impl Source for Embedded<'_> {
    fn read(&self, path: &PlanPath, cap: u64) -> Result<Vec<u8>, NotRead> {
        let (_, bytes) = self.files.iter().find(|(name, _)| *name == path.as_str()).ok_or(NotRead::Missing)?;
        if bytes.len() as u64 > cap { Err(NotRead::TooLarge { cap }) } else { Ok(bytes.to_vec()) }
    }

    fn neighbours(&self, _: &PlanPath) -> Vec<String> {
        self.files.iter().map(|(name, _)| (*name).to_owned()).collect()
    }
}
