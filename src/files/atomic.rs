//! How is a file written so that there is always either the old one or the whole new one?

use std::fs::File;
use std::io::Write;
use std::path::Path;

use anyhow::Context;
use tempfile::NamedTempFile;

/// Writes a file: into a temporary one in the same folder, onto the disk, then under its name. A device or pipe is
/// written to as it is.
///
/// # Errors
/// The folder is missing or cannot be written to; what was there before is then still there.
pub fn write(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let write = || -> std::io::Result<()> {
        if std::fs::metadata(path).is_ok_and(|about| !about.is_file()) {
            return std::fs::write(path, bytes);
        }
        let mut file = NamedTempFile::new_in(folder)?;
        file.write_all(bytes)?;
        readable_by_others(file.as_file())?;
        file.as_file().sync_all()?;
        file.persist(path).map_err(|error| error.error)?;
        Ok(())
    };
    write().with_context(|| format!("writing `{}`", path.display()))
}

/// Temporary files are for their owner alone; what is kept has the rights of a usual file, as it was there before.
#[cfg(unix)]
fn readable_by_others(file: &File) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    file.set_permissions(std::fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn readable_by_others(_: &File) -> std::io::Result<()> {
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
}
