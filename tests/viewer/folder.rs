//! Plans in folders of their own, and the program that is tried on them.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

use tempfile::TempDir;

/// The program, with a folder of its own for what belongs to a run.
pub fn program() -> Command {
    static RUN: OnceLock<TempDir> = OnceLock::new();
    let run = RUN.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a temporary folder");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o700)).expect("it is ours");
        }
        folder
    });
    let mut program = Command::new(env!("CARGO_BIN_EXE_trusswalk"));
    program.env("XDG_RUNTIME_DIR", run.path()).env("XDG_STATE_HOME", run.path()).env_remove("WAYLAND_DISPLAY");
    program
}

/// A scene of the repository.
pub fn scene(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes").join(name)
}

/// A scene in a folder of its own.
pub fn copy_of(name: &str) -> TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for entry in fs::read_dir(scene(name)).expect("the scene") {
        let from = entry.expect("the scene").path();
        fs::copy(&from, folder.path().join(from.file_name().expect("a file"))).expect("a copy");
    }
    folder
}

/// A file of a copy with one text in place of another.
pub fn replace(file: &Path, old: &str, new: &str) {
    let text = fs::read_to_string(file).expect("the file");
    assert!(text.contains(old), "{} has no `{old}`", file.display());
    fs::write(file, text.replace(old, new)).expect("its owner may");
}

/// The exit code and the messages of a run.
pub fn told(run: &Output) -> (Option<i32>, String) {
    (run.status.code(), String::from_utf8_lossy(&run.stderr).into_owned())
}
