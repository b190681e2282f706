//! Is every bad input answered with file and place, what was expected, and the nearest valid name?
//!
//! Each test takes a sound plan, makes one thing wrong, and looks at the message.

mod broken_bytes;
mod contacts;
mod gltf;
mod plan;
mod urdf;

use std::fs;
use std::path::Path;

use tempfile::TempDir;
use trusswalk::files::{Loaded, Problems, read_embedded, read_project};

/// The files of the sound plan.
const SOUND: [(&str, &[u8]); 5] = [
    ("plan.toml", include_bytes!("sound/plan.toml")),
    ("structure.toml", include_bytes!("sound/structure.toml")),
    ("arm.toml", include_bytes!("sound/arm.toml")),
    ("restraint.toml", include_bytes!("sound/restraint.toml")),
    ("suit.toml", include_bytes!("sound/suit.toml")),
];

/// A sound plan, in a folder of its own inside a temporary one.
pub struct Scene {
    whole: TempDir,
}

impl Scene {
    pub fn new() -> Self {
        let whole = TempDir::new().expect("a temporary folder");
        let scene = Self { whole };
        fs::create_dir(scene.folder()).expect("a new folder");
        for (name, bytes) in SOUND {
            scene.write(name, bytes);
        }
        scene
    }

    pub fn folder(&self) -> std::path::PathBuf {
        self.whole.path().join("plan")
    }

    /// Writes a file; `name` as seen from the plan's folder.
    pub fn write(&self, name: &str, bytes: &[u8]) {
        let path = self.folder().join(name);
        fs::create_dir_all(path.parent().unwrap_or(Path::new("/"))).expect("a folder for the file");
        fs::write(path, bytes).expect("a file in a temporary folder");
    }

    /// Replaces the first occurrence of a text that must be there.
    pub fn edit(&self, name: &str, from: &str, to: &str) {
        let path = self.folder().join(name);
        let text = fs::read_to_string(&path).expect("a file of the scene");
        assert!(text.contains(from), "{name} holds {from:?}");
        fs::write(path, text.replacen(from, to, 1)).expect("a file in a temporary folder");
    }

    pub fn append(&self, name: &str, more: &str) {
        let path = self.folder().join(name);
        let text = fs::read_to_string(&path).expect("a file of the scene");
        fs::write(path, text + more).expect("a file in a temporary folder");
    }

    pub fn read(&self) -> Result<Loaded, Problems> {
        read_project(&self.folder())
    }

    /// The message, which must be there.
    pub fn message(&self) -> String {
        match self.read() {
            Err(problems) => problems.to_string(),
            Ok(_) => panic!("the bad input was read as if it were sound"),
        }
    }
}

/// The message of the sound plan with one edit.
pub fn message_after(name: &str, from: &str, to: &str) -> String {
    let scene = Scene::new();
    scene.edit(name, from, to);
    scene.message()
}

/// Asserts that a message says all of some things.
#[track_caller]
pub fn says(message: &str, wanted: &[&str]) {
    for part in wanted {
        assert!(message.contains(part), "{part:?} is not in:\n{message}");
    }
}

/// Asserts that a message is about one problem that says all of some things.
#[track_caller]
pub fn says_alone(message: &str, wanted: &[&str]) {
    says(message, wanted);
    assert_eq!(message.matches("error: ").count(), 1, "{message}");
}

#[test]
fn the_sound_plan_is_read() {
    let loaded = Scene::new().read().unwrap_or_else(|problems| panic!("{problems}"));
    assert_eq!(loaded.project.arm.joint.len(), 7);
    let paths: Vec<&str> = loaded.inputs.iter().map(|input| input.path.as_str()).collect();
    assert_eq!(paths, ["arm.toml", "plan.toml", "restraint.toml", "structure.toml", "suit.toml"]);
    let from_memory = read_embedded(&SOUND).unwrap_or_else(|problems| panic!("{problems}"));
    assert_eq!((loaded.project, loaded.inputs), (from_memory.project, from_memory.inputs));
}

#[test]
fn inputs_carry_the_sum_of_their_bytes() {
    let scene = Scene::new();
    scene.write("suit.toml", b"");
    let loaded = scene.read().unwrap_or_else(|problems| panic!("{problems}"));
    let suit = loaded.inputs.iter().find(|input| input.path == "suit.toml").expect("the suit is an input");
    // SHA-256 of no bytes at all, from the Secure Hash Standard's example values (from memory).
    assert_eq!(suit.sha256, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}
