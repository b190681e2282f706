//! Which edits of a plan were never saved, because the program ended before?
//!
//! After each edit the edited text is written to a file of its own, with the SHA-256 of the text that it is based on.
//! What lies there from elsewhere is never written over: it is moved aside.

use std::ffi::OsString;
use std::fs::{self, File};
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};

use super::atomic;
use super::project::{TEXT_CAP, sha256};

/// How a journal begins; behind it the SHA-256 of the text that it is based on, and of its own text.
const MARK: &str = "trusswalk-unsaved-1";

/// The place of a draft's edits that are not saved.
#[derive(Clone, Debug)]
pub(super) struct Journal {
    /// None where the user has no folder for it.
    file: Option<PathBuf>,
    /// Whether its folder is made where it is missing; a plan's own never is.
    makes_folder: bool,
    /// Whether what lies there is the draft's.
    is_ours: bool,
}

/// What lies in the place of a journal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Content {
    Nothing,
    /// Edits of a text.
    Edits {
        base_sha256: String,
        text: String,
    },
    /// Something else, and why it is none.
    Corrupt(String),
}

impl Journal {
    /// The journal of a plan on disk: beside it.
    pub fn beside(plan: &Path) -> Self {
        let name = plan.file_name().unwrap_or_default().to_string_lossy();
        Self { file: Some(plan.with_file_name(format!(".{name}.unsaved"))), makes_folder: false, is_ours: false }
    }

    /// The journal of the built-in plan, in a folder for what programs keep.
    pub fn in_folder(folder: Option<&Path>) -> Self {
        let file = folder.map(|folder| folder.join("built-in-plan.toml.unsaved"));
        Self { file, makes_folder: true, is_ours: false }
    }

    /// Where it is.
    pub fn file(&self) -> Option<&Path> {
        self.file.as_deref()
    }

    /// What lies there.
    pub fn read(&self) -> Content {
        let Some(file) = &self.file else { return Content::Nothing };
        match bytes(file) {
            Ok(bytes) => parsed(&bytes).unwrap_or_else(|| Content::Corrupt("it is cut off or was changed".to_owned())),
            Err(error) if error.kind() == ErrorKind::NotFound => Content::Nothing,
            Err(error) => Content::Corrupt(error.to_string()),
        }
    }

    /// What lies there belongs to the draft.
    pub fn adopt(&mut self) {
        self.is_ours = true;
    }

    /// Writes the edited text; what lies there from elsewhere is moved aside.
    ///
    /// # Errors
    /// Why it cannot be written, in words.
    pub fn write(&mut self, base: &str, text: &str) -> Result<(), String> {
        let Some(file) = &self.file else { return Err("there is no folder to keep unsaved edits in".to_owned()) };
        let content = format!("{MARK} {} {}\n{text}", sha256(base.as_bytes()), sha256(text.as_bytes()));
        let write = || -> std::io::Result<()> {
            file.parent().filter(|_| self.makes_folder).map_or(Ok(()), fs::create_dir_all)?;
            if !self.is_ours && fs::symlink_metadata(file).is_ok() {
                move_aside(file)?;
            }
            atomic::replace(file, content.as_bytes())
        };
        write().map_err(|error| format!("unsaved edits cannot be kept in `{}`: {error}", file.display()))?;
        self.is_ours = true;
        Ok(())
    }

    /// Removes what the draft wrote.
    ///
    /// # Errors
    /// Why it is still there, in words.
    pub fn remove(&mut self) -> Result<(), String> {
        let Some(file) = self.file.as_ref().filter(|_| self.is_ours) else { return Ok(()) };
        match fs::remove_file(file) {
            Err(error) if error.kind() != ErrorKind::NotFound => {
                Err(format!("`{}` cannot be removed: {error}", file.display()))
            }
            _ => {
                self.is_ours = false;
                Ok(())
            }
        }
    }
}

fn bytes(file: &Path) -> std::io::Result<Vec<u8>> {
    // A header is shorter than this.
    const CAP: u64 = TEXT_CAP + 1024;
    if !fs::symlink_metadata(file)?.is_file() {
        return Err(std::io::Error::new(ErrorKind::InvalidData, "it is no file"));
    }
    let mut bytes = Vec::new();
    File::open(file)?.take(CAP).read_to_end(&mut bytes)?;
    Ok(bytes)
}

fn parsed(bytes: &[u8]) -> Option<Content> {
    let (head, text) = std::str::from_utf8(bytes).ok()?.split_once('\n')?;
    let (base, own) = head.strip_prefix(MARK)?.strip_prefix(' ')?.split_once(' ')?;
    (own == sha256(text.as_bytes())).then(|| Content::Edits { base_sha256: base.to_owned(), text: text.to_owned() })
}

/// Gives a file the first name that is free.
fn move_aside(file: &Path) -> std::io::Result<()> {
    const MOST: u32 = 1000;
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    let names = (1..=MOST).map(|number| file.with_file_name(format!("{name}-{number}")));
    match names.into_iter().find(|name| fs::symlink_metadata(name).is_err()) {
        Some(free) => fs::rename(file, free),
        None => Err(std::io::Error::new(ErrorKind::AlreadyExists, "too many old ones lie there")),
    }
}

/// The user's folder for what this program keeps: below `$XDG_STATE_HOME`, else below `$HOME/.local/state`.
pub fn state_folder() -> Option<PathBuf> {
    folder_of(std::env::var_os("XDG_STATE_HOME"), std::env::var_os("HOME"))
}

fn folder_of(state: Option<OsString>, home: Option<OsString>) -> Option<PathBuf> {
    let absolute = |path: OsString| Some(PathBuf::from(path)).filter(|path| path.is_absolute());
    let state = state.and_then(absolute);
    state.or_else(|| home.and_then(absolute).map(|home| home.join(".local/state"))).map(|state| state.join("trusswalk"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_in_state_lies_where_the_user_says() {
        let folder = |state: &str, home: &str| folder_of(Some(state.into()), Some(home.into()));
        assert_eq!(folder("/s", "/h"), Some("/s/trusswalk".into()));
        assert_eq!(folder("", "/h"), Some("/h/.local/state/trusswalk".into()));
        assert_eq!(folder("relative", "relative"), None);
        assert_eq!(folder_of(None, None), None);
    }

    #[test]
    fn a_journal_is_read_back_and_one_with_a_byte_changed_is_none() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let mut journal = Journal::beside(&folder.path().join("plan.toml"));
        assert_eq!(journal.read(), Content::Nothing);
        journal.write("base", "edited\n# é").expect("it is written");
        let edits = Content::Edits { base_sha256: sha256(b"base"), text: "edited\n# é".to_owned() };
        assert_eq!(journal.read(), edits);
        let file = folder.path().join(".plan.toml.unsaved");
        let whole = fs::read(&file).expect("it is there");
        for at in 0..whole.len() {
            let mut changed = whole.clone();
            changed[at] ^= 1;
            let read = parsed(&changed);
            assert!(
                !matches!(&read, Some(Content::Edits { base_sha256, .. }) if *base_sha256 == sha256(b"base")),
                "{at}"
            );
            assert_eq!(parsed(&whole[..at]), None, "cut off at {at}");
        }
    }

    #[test]
    fn what_lies_there_from_elsewhere_is_moved_aside_and_never_removed() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let file = folder.path().join(".plan.toml.unsaved");
        let text = |name: &str| fs::read_to_string(folder.path().join(name)).ok();
        for (number, theirs) in ["one", "two"].iter().enumerate() {
            fs::write(&file, theirs).expect("a file of theirs");
            let mut journal = Journal::beside(&folder.path().join("plan.toml"));
            journal.remove().expect("nothing to do");
            assert_eq!(text(".plan.toml.unsaved").as_deref(), Some(*theirs));
            journal.write("base", "edited").expect("it is written");
            assert_eq!(text(&format!(".plan.toml.unsaved-{}", number + 1)).as_deref(), Some(*theirs));
            journal.remove().expect("it is ours");
            assert_eq!(text(".plan.toml.unsaved"), None);
        }
    }
}
