//! What does a new plan folder hold?

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};

use super::atomic;

/// The files of the small commented plan that newcomers start from.
pub const STARTER: [(&str, &str); 5] = [
    ("plan.toml", include_str!("../../scenes/starter/plan.toml")),
    ("structure.toml", include_str!("../../scenes/starter/structure.toml")),
    ("arm.toml", include_str!("../../scenes/starter/arm.toml")),
    ("restraint.toml", include_str!("../../scenes/starter/restraint.toml")),
    ("suit.toml", include_str!("../../scenes/starter/suit.toml")),
];

/// Writes the starter plan into a folder, which is made where it is missing; the paths that were written.
///
/// # Errors
/// The folder holds something, or cannot be written to.
pub fn write_starter(folder: &Path) -> anyhow::Result<Vec<PathBuf>> {
    fs::create_dir_all(folder).with_context(|| format!("making the folder `{}`", folder.display()))?;
    let mut entries = fs::read_dir(folder).with_context(|| format!("looking into `{}`", folder.display()))?;
    if entries.next().is_some() {
        bail!("`{}` is not empty; a new plan needs an empty or a new folder", folder.display());
    }
    STARTER
        .iter()
        .map(|(name, text)| {
            let path = folder.join(name);
            atomic::write(&path, text.as_bytes())?;
            Ok(path)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::{read_embedded, read_project};

    #[test]
    fn the_starter_plan_is_written_and_read_the_same_from_memory() {
        let whole = tempfile::tempdir().expect("a temporary folder");
        let folder = whole.path().join("new");
        assert_eq!(write_starter(&folder).expect("an empty folder").len(), STARTER.len());
        let from_disk = read_project(&folder).unwrap_or_else(|problems| panic!("{problems}"));
        let files: Vec<(&str, &[u8])> = STARTER.iter().map(|(name, text)| (*name, text.as_bytes())).collect();
        let from_memory = read_embedded(&files).unwrap_or_else(|problems| panic!("{problems}"));
        assert_eq!(from_disk.project, from_memory.project);
        assert_eq!(from_disk.inputs, from_memory.inputs);
    }

    #[test]
    fn a_folder_that_holds_something_is_left_alone() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        fs::write(folder.path().join("mine.txt"), "x").expect("a file");
        let error = write_starter(folder.path()).expect_err("not empty");
        assert!(error.to_string().contains("is not empty"), "{error}");
        assert_eq!(fs::read_dir(folder.path()).expect("the folder").count(), 1);
    }
}
