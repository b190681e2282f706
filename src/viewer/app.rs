//! How is the viewer put together?

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};

use anyhow::{Context, Result, bail};
use bevy::asset::AssetPlugin;
use bevy::camera::RenderTarget;
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::light::{CascadeShadowConfigBuilder, DirectionalLightShadowMap, GlobalAmbientLight};
use bevy::log::LogPlugin;
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::window::{ExitCondition, Monitor, PrimaryMonitor, PrimaryWindow, WindowResolution};
use bevy::winit::WinitPlugin;
use bevy_egui::{EguiGlobalSettings, EguiPlugin, PrimaryEguiContext};

use crate::files::{Draft, Found};

use super::bodies::BodiesPlugin;
use super::cameras::{CamerasPlugin, MainCamera};
use super::chosen::ChosenPlugin;
use super::clock::ClockPlugin;
use super::engine::Engine;
use super::frames::FramesPlugin;
use super::handle::HandlePlugin;
use super::keys::KeysPlugin;
use super::labels::LabelsPlugin;
use super::leaving::LeavingPlugin;
use super::news;
use super::overlay::OverlayPlugin;
use super::panels::PanelsPlugin;
use super::pick::PickPlugin;
use super::pointer::PointerPlugin;
use super::search::SearchPlugin;
use super::session::{Session, SessionPlugin};
use super::theme;
use super::typing::{self, TypingPlugin};

/// How a window starts.
#[derive(Clone, Debug, PartialEq)]
pub struct Start {
    /// Width and height of the window, pixels.
    pub size: [u32; 2],
    /// Where pictures that the user asks for are put.
    pub pictures: PathBuf,
}

/// How the viewer ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Opened {
    Closed,
    Failed,
}

/// Opens a window on a plan and returns when it is closed.
///
/// # Errors
/// There is no graphics driver or no display.
pub fn open((draft, found): (Draft, Found), start: &Start) -> Result<Opened> {
    let engine = Engine::start().context("starting the engine's thread")?;
    let window = Window {
        title: "Trusswalk".to_owned(),
        resolution: WindowResolution::new(start.size[0], start.size[1]),
        ..default()
    };
    let plugins = DefaultPlugins
        .set(WindowPlugin { primary_window: Some(window), close_when_requested: false, ..default() })
        .set(AssetPlugin { watch_for_changes_override: Some(false), ..default() })
        .set(log());
    let pictures = super::picture::Folder(start.pictures.clone());
    let exit = guarded(move || {
        let mut app = App::new();
        app.add_plugins(plugins);
        app.insert_resource(pictures);
        add_viewer(&mut app, (draft, found), engine, None);
        app.add_plugins((FramesPlugin, LeavingPlugin))
            .add_systems(Update, (fit, super::picture::take_when_asked, news::fade));
        app.run()
    })?;
    Ok(if exit.is_success() { Opened::Closed } else { Opened::Failed })
}

/// An app without a window that draws into an image of so many pixels.
pub(super) fn offscreen(draft: Draft, size: [u32; 2]) -> Result<App> {
    let engine = Engine::start().context("starting the engine's thread")?;
    let plugins = DefaultPlugins
        .set(WindowPlugin { primary_window: None, exit_condition: ExitCondition::DontExit, ..default() })
        // Without it nothing is drawn until all pipelines are compiled, some frames later.
        .set(RenderPlugin { synchronous_pipeline_compilation: true, ..default() })
        .disable::<WinitPlugin>();
    guarded(move || {
        let mut app = App::new();
        // A process has one log, whichever app comes first.
        let first = !LOGGED.swap(true, Ordering::Relaxed);
        app.add_plugins(if first { plugins.set(log()) } else { plugins.disable::<LogPlugin>() });
        add_viewer(&mut app, (draft, Found::Nothing), engine, Some(size));
        app
    })
}

/// Graphics that are not there end in a panic of the library: it is turned into an error that says what to do.
fn guarded<T>(build: impl FnOnce() -> T) -> Result<T> {
    let hook = std::panic::take_hook();
    std::panic::set_hook(Box::new(|_| {}));
    let built = catch_unwind(AssertUnwindSafe(build));
    std::panic::set_hook(hook);
    match built {
        Ok(built) => Ok(built),
        Err(cause) => {
            let said = cause.downcast_ref::<String>().cloned();
            let said = said.or_else(|| cause.downcast_ref::<&str>().map(|&text| text.to_owned())).unwrap_or_default();
            bail!(
                "nothing can be drawn here: {}\nexpected a graphics driver for Vulkan (a software one will do: Debian's \
                 mesa-vulkan-drivers) and, for a window, a display; `trusswalk check` needs neither",
                missing(&said)
            )
        }
    }
}

/// What is missing, in plain words: the libraries' own hold places in their source.
fn missing(said: &str) -> String {
    if ["EventLoop", "DISPLAY"].iter().any(|word| said.contains(word)) {
        return "there is no display".to_owned();
    }
    if ["GPU", "adapter"].iter().any(|word| said.contains(word)) {
        return "there is no graphics driver for Vulkan".to_owned();
    }
    let words = said.split_whitespace().filter(|word| !word.contains(".rs:"));
    words.collect::<Vec<_>>().join(" ")
}

static LOGGED: AtomicBool = AtomicBool::new(false);

/// Errors of the drawing libraries are told; what they merely notice is not the user's.
fn log() -> LogPlugin {
    LogPlugin { filter: "error,wgpu_core=error,naga=error".to_owned(), level: bevy::log::Level::ERROR, ..default() }
}

/// Where an offscreen app draws.
#[derive(Resource, Clone)]
pub(super) struct Canvas(pub Handle<Image>);

fn add_viewer(app: &mut App, (draft, found): (Draft, Found), engine: Engine, canvas: Option<[u32; 2]>) {
    app.add_plugins((EguiPlugin::default(), SessionPlugin, KeysPlugin, ClockPlugin, ChosenPlugin, SearchPlugin))
        .add_plugins((BodiesPlugin, CamerasPlugin, HandlePlugin, PickPlugin, OverlayPlugin, LabelsPlugin))
        .add_plugins((PanelsPlugin, TypingPlugin, PointerPlugin))
        .insert_resource(Session::new(draft, &found))
        .insert_resource(engine)
        .insert_resource(ClearColor(theme::SKY))
        .insert_resource(DirectionalLightShadowMap { size: 2048 })
        .insert_resource(GlobalAmbientLight { color: Color::srgb(0.80, 0.85, 0.95), brightness: 240.0, ..default() });
    app.world_mut().resource_mut::<EguiGlobalSettings>().auto_create_primary_context = false;
    let target = canvas.map(|[width, height]| {
        let format = bevy::render::render_resource::TextureFormat::Rgba8UnormSrgb;
        let image = Image::new_target_texture(width, height, format, None);
        let handle = app.world_mut().resource_mut::<Assets<Image>>().add(image);
        app.insert_resource(Canvas(handle.clone()));
        RenderTarget::Image(handle.into())
    });
    app.add_systems(Startup, move |mut commands: Commands| spawn(&mut commands, target.clone()));
}

/// The camera of the scene, one for the panels over it, and the lights.
fn spawn(commands: &mut Commands, target: Option<RenderTarget>) {
    let lens = PerspectiveProjection { near: 0.05, far: 2000.0, ..default() };
    let mut scene = commands.spawn((
        MainCamera,
        Camera3d::default(),
        Projection::Perspective(lens),
        Tonemapping::AgX,
        Msaa::Sample4,
        Transform::default(),
    ));
    if let Some(target) = &target {
        scene.insert(target.clone());
    }
    let over = Camera { order: 1, clear_color: ClearColorConfig::None, ..default() };
    let mut panels = commands.spawn((Camera2d, over, PrimaryEguiContext, typing::settings()));
    if let Some(target) = target {
        panels.insert(target);
    }
    let sun = DirectionalLight {
        illuminance: 8_500.0,
        color: Color::srgb(1.0, 0.97, 0.92),
        shadow_maps_enabled: true,
        ..default()
    };
    let cascades = CascadeShadowConfigBuilder {
        num_cascades: 3,
        maximum_distance: 60.0,
        first_cascade_far_bound: 10.0,
        ..default()
    };
    let from = |x, y, z| Transform::from_xyz(x, y, z).looking_at(Vec3::ZERO, Vec3::Z);
    commands.spawn((sun, cascades.build(), from(-8.0, 14.0, 18.0)));
    // Light thrown back from below, so that shaded sides keep their shape.
    let fill = DirectionalLight { illuminance: 1_100.0, color: Color::srgb(0.78, 0.86, 1.0), ..default() };
    commands.spawn((fill, from(10.0, -6.0, -12.0)));
}

/// A window that is larger than its display becomes as large as that.
fn fit(
    displays: Query<(&Monitor, Has<PrimaryMonitor>)>,
    mut window: Single<&mut Window, With<PrimaryWindow>>,
    mut is_done: Local<bool>,
) {
    let Some((display, _)) = displays.iter().max_by_key(|(_, is_primary)| *is_primary).filter(|_| !*is_done) else {
        return;
    };
    *is_done = true;
    let size = window.physical_size();
    let fitting = size.min(UVec2::new(display.physical_width, display.physical_height));
    if fitting != size && fitting.min_element() > 0 {
        window.resolution.set_physical_resolution(fitting.x, fitting.y);
    }
}
