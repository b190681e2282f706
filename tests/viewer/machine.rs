//! What does this machine have to draw with?

use std::io::ErrorKind;
use std::process::{Command, Stdio};
use std::sync::OnceLock;

use crate::folder::{program, scene};

/// Why nothing can be drawn here; none where it can.
pub fn no_driver() -> Option<String> {
    static FOUND: OnceLock<Option<String>> = OnceLock::new();
    FOUND.get_or_init(probe).clone()
}

fn probe() -> Option<String> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let out = folder.path().join("probe.png");
    let run = program().arg("render").arg(scene("starter")).args(["--size", "64x64", "--out"]).arg(out).output();
    let run = run.expect("the program");
    let told = String::from_utf8_lossy(&run.stderr).into_owned();
    match run.status.code() {
        Some(0) => None,
        Some(2) if told.contains("nothing can be drawn here") => {
            Some(told.lines().next().unwrap_or_default().to_owned())
        }
        code => panic!("exit code {code:?}: {told}"),
    }
}

/// Why no window can be opened and used here; none where it can.
pub fn no_display() -> Option<String> {
    // Each is asked for something that ends at once.
    [("Xvfb", "-help"), ("xdotool", "version")].into_iter().find_map(|(name, word)| {
        let run = Command::new(name).arg(word).stdout(Stdio::null()).stderr(Stdio::null()).status();
        run.is_err_and(|error| error.kind() == ErrorKind::NotFound).then(|| format!("there is no {name}"))
    })
}
