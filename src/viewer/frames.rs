//! When is another frame drawn?
//!
//! One after the other while anything goes on, and none while nothing does: then events of the window wake it, and a thread
//! of its own that looks at the files that the plan was read from.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, SystemTime};

use bevy::prelude::*;
use bevy::render::view::screenshot::Screenshot;
use bevy::window::{RequestRedraw, WindowEvent};
use bevy::winit::{EventLoopProxyWrapper, UpdateMode, WinitSettings, WinitUserEvent};

use super::clock::Clock;
use super::news::News;
use super::search::Search;
use super::session::{LOOK_EVERY, Session};

/// Time between two frames while nothing happens: whatever may happen wakes the window.
const IDLE: Duration = Duration::from_secs(3600);
/// The same while news are told that go away.
const SOON: Duration = Duration::from_secs(1);
/// Frames that follow the last thing that happened: panels find their size in the second one, the camera follows in the
/// next, and the picture shows it after that.
const SETTLES: usize = 8;

/// Frames that follow a pointer that only moves: what it is over is known in the first.
const POINTED: usize = 2;

/// Draws a window's frames when they are wanted.
pub struct FramesPlugin;

impl Plugin for FramesPlugin {
    fn build(&self, app: &mut App) {
        app.insert_resource(waiting(IDLE))
            .init_resource::<Watched>()
            .add_systems(Startup, watch)
            .add_systems(Last, (go_on_drawing, wait, follow));
    }
}

/// What does not move is not drawn again for so long, unless something happens.
fn waiting(wait: Duration) -> WinitSettings {
    let (focused_mode, unfocused_mode) = (UpdateMode::reactive(wait), UpdateMode::reactive_low_power(wait));
    WinitSettings { focused_mode, unfocused_mode }
}

fn wait(session: Res<Session>, mut settings: ResMut<WinitSettings>) {
    if session.is_changed() {
        let is_soon = session.news.as_ref().is_some_and(News::fades);
        *settings = waiting(if is_soon { SOON } else { IDLE });
    }
}

/// Frames are asked for while the clock runs, the engine works, a profile or a picture is still to come, and for a few
/// after anything has happened.
fn go_on_drawing(
    clock: Res<Clock>,
    session: Res<Session>,
    search: Res<Search>,
    pictures: Query<(), With<Screenshot>>,
    mut events: MessageReader<WindowEvent>,
    mut left: Local<usize>,
    mut redraw: MessageWriter<RequestRedraw>,
) {
    let is_busy = clock.playing
        || session.checking
        || search.progress().is_some()
        || !session.is_profiled()
        || !pictures.is_empty();
    let (mut pointed, mut happened) = (false, session.is_changed());
    for event in events.read() {
        match event {
            WindowEvent::CursorMoved(_) | WindowEvent::MouseMotion(_) => pointed = true,
            _ => happened = true,
        }
    }
    if is_busy || happened {
        *left = SETTLES;
    } else if pointed {
        *left = (*left).max(POINTED);
    }
    if *left > 0 {
        *left -= 1;
        redraw.write(RequestRedraw);
    }
}

/// The files that are looked at.
#[derive(Resource, Clone, Default)]
struct Watched(Arc<Mutex<Vec<PathBuf>>>);

/// Starts the thread; it ends with the window.
fn watch(watched: Res<Watched>, window: Res<EventLoopProxyWrapper>, mut session: ResMut<Session>) {
    let (files, window) = (Arc::clone(&watched.0), (*window).clone());
    let look = move || {
        let (mut last, mut wakes) = (Vec::new(), 0);
        loop {
            thread::sleep(LOOK_EVERY);
            let files = files.lock().expect("nobody panics while holding it").clone();
            let now: Vec<_> = files.iter().map(|file| stamp(file)).collect();
            if now != last {
                // A session that has just looked does so once more.
                (last, wakes) = (now, 2);
            }
            if wakes > 0 {
                wakes -= 1;
                if window.send_event(WinitUserEvent::WakeUp).is_err() {
                    return;
                }
            }
        }
    };
    if let Err(why) = thread::Builder::new().name("watch".to_owned()).spawn(look) {
        session.tell(format!("changes of the plan on disk are noticed late: {why}"));
    }
}

/// When the file was changed and how long it is; none where there is none.
fn stamp(file: &Path) -> Option<(Option<SystemTime>, u64)> {
    let about = fs::metadata(file).ok()?;
    Some((about.modified().ok(), about.len()))
}

/// Other files are looked at once the plan is read from others.
fn follow(watched: Res<Watched>, session: Res<Session>) {
    if session.is_changed() {
        *watched.0.lock().expect("nobody panics while holding it") = session.draft.files();
    }
}
