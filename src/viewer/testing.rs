//! How is the viewer tried without a window?
//!
//! A session on a copy of the starter plan, with the engine's thread, in an app that draws nothing.

use std::fs;
use std::path::{Path, PathBuf};
use std::thread;
use std::time::{Duration, Instant};

use bevy::prelude::*;
use tempfile::TempDir;

use crate::files::Draft;
use crate::model::{PlanEdit, Regime};

use super::chosen::ChosenPlugin;
use super::clock::ClockPlugin;
use super::engine::Engine;
use super::search::SearchPlugin;
use super::session::{Ask, Session, SessionPlugin};
use super::theme::Action;

/// What is waited for comes within this time, or does not come.
const PATIENCE: Duration = Duration::from_secs(60);

/// A plan that is open in an app without a window.
pub struct Opened {
    pub app: App,
    pub folder: TempDir,
}

impl Opened {
    /// The starter plan in a folder of its own, checked.
    pub fn starter() -> Self {
        let mut opened = Self::in_folder(copy_of_starter());
        opened.until("the plan is checked", |session| session.checked.is_some() && !session.checking);
        opened
    }

    /// A plan in a folder, still to be read.
    pub fn in_folder(folder: TempDir) -> Self {
        let (draft, found) = Draft::open(folder.path()).expect("it has a plan");
        let mut app = App::new();
        app.add_plugins((MinimalPlugins, SessionPlugin, ClockPlugin, ChosenPlugin, SearchPlugin))
            .insert_resource(Session::new(draft, &found))
            .insert_resource(Engine::start().expect("a thread"));
        Self { app, folder }
    }

    pub fn session(&self) -> &Session {
        self.app.world().resource()
    }

    pub fn get<R: Resource>(&self) -> &R {
        self.app.world().resource()
    }

    /// Asks for something, and lets one frame pass.
    pub fn ask(&mut self, ask: Ask) {
        self.app.world_mut().write_message(ask);
        self.app.update();
    }

    pub fn press(&mut self, action: Action) {
        self.ask(Ask::Do(action));
    }

    /// Asks for something that changes the plan, and waits until it is checked.
    pub fn change(&mut self, ask: Ask) {
        self.ask(ask);
        self.until("the change is checked", |session| !session.checking);
    }

    /// Lets frames pass until something holds.
    pub fn until(&mut self, what: &str, holds: impl Fn(&Session) -> bool) {
        let began = Instant::now();
        while !holds(self.session()) {
            assert!(began.elapsed() < PATIENCE, "{what}: not so within {PATIENCE:?}");
            self.app.update();
            thread::sleep(Duration::from_millis(2));
        }
    }

    pub fn plan(&self) -> PathBuf {
        self.folder.path().join("plan.toml")
    }

    pub fn on_disk(&self) -> String {
        fs::read_to_string(self.plan()).expect("the plan is there")
    }

    pub fn write(&self, text: &str) {
        fs::write(self.plan(), text).expect("its owner may");
    }
}

/// The starter plan in a folder of its own.
pub fn copy_of_starter() -> TempDir {
    copy_of("starter")
}

/// A plan of `scenes/` in a folder of its own.
pub fn copy_of(scene: &str) -> TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let scene = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes").join(scene);
    for entry in fs::read_dir(scene).expect("the scene") {
        let from = entry.expect("the scene").path();
        fs::copy(&from, folder.path().join(from.file_name().expect("a file"))).expect("a copy");
    }
    folder
}

/// The least clearance of all that is not named becomes this, m.
pub fn clearance(at_least: f64) -> PlanEdit {
    PlanEdit::SetClearance { regime: Regime::Moving, pair: "default".to_owned(), at_least }
}

/// The arm's elbow at the far panel becomes this, degrees; its wrist follows, so that the plate stays upright.
pub fn elbow(degrees: f64) -> PlanEdit {
    let joints = vec![0.0, -0.5 * degrees, 0.0, degrees, -0.5 * degrees, 0.0, 0.0];
    PlanEdit::SetConfiguration { worksite: "far-panel".to_owned(), joints }
}
