//! How is a file written so that there is always either the old one or the whole new one?

use std::fs::{File, Permissions};
use std::io::Write;
use std::path::Path;

use anyhow::Context;
use tempfile::NamedTempFile;

/// Writes a file: into a temporary one in the same folder, onto the disk, then under its name. What was there before
/// passes on its rights. A device or pipe is written to as it is.
///
/// # Errors
/// The folder is missing or cannot be written to; what was there before is then still there.
pub fn write(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let write = || -> std::io::Result<()> {
        let before = std::fs::metadata(path).ok();
        if before.as_ref().is_some_and(|about| !about.is_file()) {
            return std::fs::write(path, bytes);
        }
        let file = temporary(path, bytes)?;
        give_rights(file.as_file(), before.map(|about| about.permissions()))?;
        file.as_file().sync_all()?;
        file.persist(path).map_err(|error| error.error)?;
        Ok(())
    };
    write().with_context(|| format!("writing `{}`", path.display()))
}

/// Writes a file that is not there yet, as [`write`] does.
///
/// # Errors
/// It is there, or the folder is missing or cannot be written to.
pub fn create(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let create = || -> std::io::Result<()> {
        let file = temporary(path, bytes)?;
        give_rights(file.as_file(), None)?;
        file.as_file().sync_all()?;
        file.persist_noclobber(path).map_err(|error| error.error)?;
        Ok(())
    };
    create().with_context(|| format!("writing `{}`", path.display()))
}

/// Writes a file for its owner alone without waiting for the disk: it outlives the program, but perhaps not the power.
///
/// # Errors
/// The folder is missing or cannot be written to; what was there before is then still there.
pub fn replace(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    temporary(path, bytes)?.persist(path).map_err(|error| error.error)?;
    Ok(())
}

fn temporary(path: &Path, bytes: &[u8]) -> std::io::Result<NamedTempFile> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut file = NamedTempFile::new_in(folder)?;
    file.write_all(bytes)?;
    Ok(file)
}

/// Temporary files are for their owner alone; what is kept has the rights that it had before, or those of a usual file.
#[cfg(unix)]
fn give_rights(file: &File, before: Option<Permissions>) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    file.set_permissions(before.unwrap_or(Permissions::from_mode(0o644)))
}

#[cfg(not(unix))]
fn give_rights(_: &File, _: Option<Permissions>) -> std::io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    #[test]
    fn a_file_is_replaced_and_nothing_else_is_left() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("a.txt");
        write(&path, b"old").expect("a first write");
        write(&path, b"new").expect("a second write");
        assert_eq!(fs::read(&path).expect("the file"), b"new");
        assert_eq!(fs::read_dir(folder.path()).expect("the folder").count(), 1);
    }

    #[test]
    fn a_missing_folder_is_named() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let error = write(&folder.path().join("no/a.txt"), b"x").expect_err("no such folder");
        assert!(format!("{error:#}").contains("no/a.txt"), "{error:#}");
    }

    #[test]
    fn what_is_there_is_never_created_anew() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("a.txt");
        create(&path, b"old").expect("a first write");
        create(&path, b"new").expect_err("it is there");
        assert_eq!(fs::read(&path).expect("the file"), b"old");
        assert_eq!(fs::read_dir(folder.path()).expect("the folder").count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn the_rights_of_a_file_stay() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("a.txt");
        let rights = || fs::metadata(&path).expect("the file").permissions().mode() & 0o777;
        write(&path, b"old").expect("a first write");
        assert_eq!(rights(), 0o644);
        fs::set_permissions(&path, Permissions::from_mode(0o600)).expect("its owner may");
        write(&path, b"new").expect("a second write");
        assert_eq!(rights(), 0o600);
    }
}
