//! How is a picture of a moment taken, with or without a window?

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};
use bevy::prelude::*;
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};

use crate::check::{Place, Playback};
use crate::files::{Draft, atomic, unknown_name};
use crate::model::Who;

use super::app::{self, Canvas};
use super::cameras::{Standpoint, View};
use super::clock::Clock;
use super::overlay::Overlays;
use super::panels::Look;
use super::session::{self, Ask, Session};
use super::theme::Action;

/// The first check of a large plan may take this long.
const PATIENCE: Duration = Duration::from_secs(600);
/// Frames after the moment is set until everything that follows it is drawn.
const SETTLES: usize = 4;

/// A picture to be taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// A worksite, a motion, or a motion's id and the seconds into it; the beginning where it is missing.
    pub at: Option<String>,
    pub camera: Camera,
    /// Width and height, pixels.
    pub size: [u32; 2],
    /// Whether the panels are in it.
    pub panels: bool,
    pub scale: bool,
}

/// From where a picture is taken.
#[derive(Clone, Debug, PartialEq)]
pub enum Camera {
    /// About the whole.
    Orbit,
    /// About the arm's tip.
    Tip,
    /// Through a helmet's visor.
    Visor(Who),
    /// A worksite or a camera of the plan, by its id.
    Named(String),
}

/// Takes a picture without a window; PNG.
///
/// # Errors
/// No graphics driver; an unknown moment or camera; a plan with mistakes.
pub fn take(draft: Draft, picture: &Picture) -> Result<Vec<u8>> {
    let mut app = app::offscreen(draft, picture.size)?;
    app.finish();
    app.cleanup();
    until_checked(&mut app, picture.panels)?;
    aim(&mut app, picture)?;
    for _ in 0..SETTLES {
        app.update();
    }
    captured(&mut app)
}

/// Waits until the plan is checked, and what must be known of it to be drawn; nothing is drawn meanwhile.
pub(super) fn until_checked(app: &mut App, whole: bool) -> Result<()> {
    app.update();
    let began = Instant::now();
    loop {
        app.world_mut().run_system_cached(session::hear_engine).map_err(|error| anyhow::anyhow!("{error}"))?;
        let session = app.world().resource::<Session>();
        if let Some(problems) = &session.problems {
            return Err(problems.clone().into());
        }
        if session.checked.is_some() && (!whole || session.is_profiled()) {
            return Ok(());
        }
        if began.elapsed() > PATIENCE {
            bail!("the check was not done within {} s", PATIENCE.as_secs());
        }
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// Sets moment and camera.
fn aim(app: &mut App, picture: &Picture) -> Result<()> {
    let world = app.world_mut();
    let session = world.resource::<Session>();
    let checked = session.checked.clone().expect("the plan is checked");
    let at = match &picture.at {
        Some(at) => moment(&checked.playback, at)?,
        None => 0.0,
    };
    let plan = session.loaded.as_ref().map(|loaded| &loaded.project.plan);
    let standpoint = match &picture.camera {
        Camera::Orbit | Camera::Tip => Standpoint::Orbit,
        Camera::Visor(who) => Standpoint::Visor(*who),
        Camera::Named(id) => {
            let plan = plan.expect("the plan is read");
            let site = plan.worksite.iter().position(|site| site.id == *id).map(Standpoint::Worksite);
            let camera = || plan.camera.iter().position(|camera| camera.id == *id).map(Standpoint::OfPlan);
            let names = plan.worksite.iter().map(|site| site.id.as_str());
            let names = names.chain(plan.camera.iter().map(|camera| camera.id.as_str())).chain(WORDS);
            site.or_else(camera).ok_or_else(|| unknown_name(id, "camera", names))?
        }
    };
    let mut look = world.resource_mut::<Look>();
    (look.panels, look.hint) = (picture.panels, false);
    world.resource_mut::<Overlays>().scale = picture.scale;
    world.resource_mut::<Clock>().at = at;
    world.resource_mut::<View>().standpoint = standpoint;
    app.update();
    if picture.camera == Camera::Tip {
        app.world_mut().write_message(Ask::Do(Action::Frame));
    }
    Ok(())
}

/// Words that name a camera.
pub const WORDS: [&str; 4] = ["orbit", "tip", "visor", "second-visor"];

/// The moment that a word names: `worksite`, `motion`, or `motion@seconds`.
fn moment(playback: &Playback, word: &str) -> Result<f64> {
    let (name, seconds) = match word.rsplit_once('@') {
        Some((name, seconds)) => {
            let parsed: Result<f64, _> = seconds.parse();
            let seconds = parsed.ok().filter(|s: &f64| s.is_finite() && *s >= 0.0);
            let seconds = seconds.with_context(|| format!("`{word}`: expected seconds after the @, such as @12.5"))?;
            (name, Some(seconds))
        }
        None => (word, None),
    };
    let mut spans = playback.spans.iter().filter(|span| span.place.name() == name);
    let Some(span) = spans.next() else {
        return Err(unknown_name(name, "worksite or motion", playback.spans.iter().map(|span| span.place.name())));
    };
    let within = match (&span.place, seconds) {
        (_, Some(seconds)) => seconds.min(span.seconds),
        (Place::Motion { .. }, None) => 0.5 * span.seconds,
        _ => span.seconds,
    };
    Ok(span.start + within.min(span.seconds - 1e-6))
}

/// The picture that was caught.
#[derive(Resource, Default)]
struct Caught(Option<Image>);

/// Catches what the canvas shows.
fn captured(app: &mut App) -> Result<Vec<u8>> {
    app.init_resource::<Caught>();
    let canvas = app.world().resource::<Canvas>().0.clone();
    app.world_mut()
        .spawn(Screenshot::image(canvas))
        .observe(|caught: On<ScreenshotCaptured>, mut kept: ResMut<Caught>| kept.0 = Some(caught.image.clone()));
    for _ in 0..200 {
        app.update();
        if let Some(image) = app.world_mut().resource_mut::<Caught>().0.take() {
            return png(image);
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    bail!("the graphics driver gave no picture")
}

fn png(image: Image) -> Result<Vec<u8>> {
    let picture = image.try_into_dynamic().context("reading the picture that was drawn")?.to_rgb8();
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture
        .write_to(&mut bytes, bevy::image::ImageFormat::Png.as_image_crate_format().expect("PNG is one"))
        .context("writing a PNG")?;
    Ok(bytes.into_inner())
}

/// Where pictures that the user asks for go.
#[derive(Resource, Clone, Debug, PartialEq)]
pub(super) struct Folder(pub PathBuf);

/// Takes a picture of the window when a key asks for it.
pub(super) fn take_when_asked(mut asks: MessageReader<Ask>, folder: Res<Folder>, mut commands: Commands) {
    if !asks.read().any(|ask| *ask == Ask::Do(Action::Picture)) {
        return;
    }
    let folder = folder.0.clone();
    commands.spawn(Screenshot::primary_window()).observe(
        move |caught: On<ScreenshotCaptured>, mut session: ResMut<Session>| {
            let said = match save(&folder, caught.image.clone()) {
                Ok(path) => format!("picture saved: {}", path.display()),
                Err(error) => format!("no picture: {error:#}"),
            };
            session.tell(said);
        },
    );
}

/// Saves under the first free name.
fn save(folder: &Path, image: Image) -> Result<PathBuf> {
    let bytes = png(image)?;
    let free = (1..10_000).map(|k| folder.join(format!("trusswalk-{k}.png"))).find(|path| !path.exists());
    let path = free.context("no free name for a picture")?;
    atomic::write(&path, &bytes)?;
    Ok(path)
}
