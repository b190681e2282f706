//! How is the screen divided between the scene and the panels about it?
//!
//! The caution and the state of the plan above, the findings on the left, the moment and its changes on the right, the
//! band of time below; the scene has what is left.

use std::ops::Range;

use bevy::camera::Viewport;
use bevy::ecs::system::SystemParam;
use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass, egui};

use crate::check::Key;

use super::bodies::Shown;
use super::cameras::{MainCamera, View};
use super::change::Changing;
use super::chosen::Chosen;
use super::clock::Clock;
use super::compared::{Compared, compare};
use super::findings::Filter;
use super::overlay::Overlays;
use super::pick::Picked;
use super::search::Search;
use super::session::{Ask, Session};
use super::theme::{self, Action};
use super::{band, change, findings, help, legend, moment, offers, pick, top};

/// Everything that the panels show, and where they send what is asked.
#[derive(SystemParam)]
pub struct Panels<'w> {
    pub session: Res<'w, Session>,
    pub engine: Res<'w, super::engine::Engine>,
    pub search: Res<'w, Search>,
    pub clock: Res<'w, Clock>,
    pub chosen: Res<'w, Chosen>,
    pub compared: Res<'w, Compared>,
    pub shown: Res<'w, Shown>,
    pub picked: Res<'w, Picked>,
    pub view: Res<'w, View>,
    pub overlays: Res<'w, Overlays>,
    pub filter: ResMut<'w, Filter>,
    pub changing: ResMut<'w, Changing>,
    pub look: ResMut<'w, Look>,
    pub plot: ResMut<'w, band::Plot>,
    pub asks: MessageWriter<'w, Ask>,
}

/// How the panels look.
#[derive(Resource, Clone, Debug, PartialEq)]
pub struct Look {
    /// Size of the text, 1 as it comes.
    pub zoom: f32,
    pub keys_listed: bool,
    /// Whether the panels are drawn at all; pictures may leave them out.
    pub panels: bool,
    /// The hint for those who are here for the first time.
    pub hint: bool,
    pub tab: Tab,
    /// The folder that is being typed for saving under another name.
    pub folder: String,
    /// The offer to which the list of offers was scrolled last: of which search, and its number.
    pub offer: Option<(String, usize)>,
    /// The finding to which their list was scrolled last, and the rows that were seen of it then.
    pub listed: Option<Key>,
    pub rows_listed: Range<usize>,
    /// Whether what is being typed is to be taken as it stands.
    typing_ends: bool,
    styled: bool,
}

/// What the panel on the right shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tab {
    Moment,
    Change,
}

impl Default for Look {
    fn default() -> Self {
        Self {
            zoom: 1.0,
            keys_listed: false,
            panels: true,
            hint: true,
            tab: Tab::Moment,
            folder: String::new(),
            offer: None,
            listed: None,
            rows_listed: 0..0,
            typing_ends: false,
            styled: false,
        }
    }
}

/// A window that is narrower than this has short words in its bars, points.
const NARROW: f32 = 960.0;
/// The greatest share of the window's width that each panel beside the scene takes, and of its height that the band does.
const SIDE: f32 = 0.27;
const BAND: f32 = 0.34;

/// How much of the window there is for what lies about the scene; larger letters leave less.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    /// Whether words must be short.
    pub is_narrow: bool,
    /// The greatest width of a panel beside the scene, points.
    pub side: f32,
    /// The greatest height of the band, points.
    pub band: f32,
}

impl Room {
    /// In a window of so many points.
    fn of(window: egui::Vec2) -> Self {
        Self { is_narrow: window.x < NARROW, side: SIDE * window.x, band: BAND * window.y }
    }
}

/// Draws the panels.
pub struct PanelsPlugin;

/// When the panels are drawn; what lies over the scene is drawn before them.
#[derive(SystemSet, Debug, Clone, PartialEq, Eq, Hash)]
pub struct PanelsSystems;

impl Plugin for PanelsPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Look>()
            .init_resource::<Filter>()
            .init_resource::<Compared>()
            .init_resource::<Changing>()
            .init_resource::<band::Plot>()
            .add_systems(Update, listen.after(super::session::SessionSystems))
            .add_systems(EguiPrimaryContextPass, (compare, panels_ui.in_set(PanelsSystems)).chain());
    }
}

fn listen(mut asks: MessageReader<Ask>, mut look: ResMut<Look>) {
    for ask in asks.read() {
        match ask {
            Ask::Do(Action::LargerText) => look.zoom = (look.zoom * 1.1).min(2.5),
            Ask::Do(Action::SmallerText) => look.zoom = (look.zoom / 1.1).max(0.6),
            Ask::Do(Action::Keys) => look.keys_listed = !look.keys_listed,
            Ask::Do(Action::NoBody) => look.keys_listed = false,
            Ask::EndTyping => look.typing_ends = true,
            Ask::Do(Action::PlayOrPause | Action::Tightest | Action::FindingAfter) | Ask::Choose(_) => {
                look.hint = false
            }
            _ => {}
        }
    }
}

fn panels_ui(
    mut contexts: EguiContexts,
    mut panels: Panels,
    mut camera: Single<&mut Camera, With<MainCamera>>,
) -> Result {
    let context = contexts.ctx_mut()?.clone();
    if !panels.look.styled {
        style(&context);
        panels.look.styled = true;
    }
    if std::mem::take(&mut panels.look.typing_ends) {
        context.memory_mut(egui::Memory::stop_text_input);
    }
    // What is being changed is what the panel of changes shows.
    panels.changing.configuration = None;
    if !panels.look.panels {
        camera.viewport = None;
        return Ok(());
    }
    if context.zoom_factor() != panels.look.zoom {
        context.set_zoom_factor(panels.look.zoom);
    }
    let whole = egui::UiBuilder::new().layer_id(egui::LayerId::background()).max_rect(context.viewport_rect());
    let mut ui = egui::Ui::new(context.clone(), "screen".into(), whole);
    lay_out_letters(&ui);
    let frame = egui::Frame::new().fill(theme::PANEL).inner_margin(8.0);
    let room = Room::of(context.viewport_rect().size());
    egui::Panel::top("top").frame(frame).show(&mut ui, |ui| top::bar_ui(ui, &mut panels, room));
    egui::Panel::bottom("band").frame(frame).show(&mut ui, |ui| band::band_ui(ui, &mut panels, room));
    // Panels have a width for each size of the text, so that they are again as wide as they were when it is again as it was:
    // the size that this frame is drawn with, which one that was just asked for is not yet.
    let of_text = (100.0 * context.zoom_factor()).round() as i32;
    let side = |panel: egui::Panel, size: f32| {
        panel.frame(frame).resizable(true).default_size(size.min(room.side)).max_size(room.side)
    };
    let left = side(egui::Panel::left(egui::Id::new(("findings", of_text))), 330.0);
    left.show(&mut ui, |ui| findings::list_ui(ui, &mut panels));
    let right = side(egui::Panel::right(egui::Id::new(("right", of_text))), 310.0);
    right.show(&mut ui, |ui| {
        ui.horizontal(|ui| {
            for (tab, word) in [(Tab::Moment, "This moment"), (Tab::Change, "Change")] {
                ui.selectable_value(&mut panels.look.tab, tab, word);
            }
        });
        ui.separator();
        offers::offers_ui(ui, &mut panels);
        pick::picked_ui(ui, &mut panels);
        match panels.look.tab {
            Tab::Moment => moment::moment_ui(ui, &mut panels),
            Tab::Change => change::change_ui(ui, &mut panels),
        }
    });
    if context.input(|input| input.pointer.any_released()) {
        panels.asks.write(Ask::LetGo);
    }
    let free = legend::legend_ui(&ui, ui.available_rect_before_wrap(), &panels.overlays);
    help::over_scene_ui(&context, free, &mut panels);
    set_viewport(&mut camera, free, context.pixels_per_point());
    Ok(())
}

/// Letters come to the screen a frame after they are first laid out, and the next frame may be long in coming: all of them are
/// laid out from the beginning, in every size.
fn lay_out_letters(ui: &egui::Ui) {
    const SIZES: [f32; 5] = [10.0, 11.0, 12.0, 13.0, 14.0];
    let letters: String = (' '..='~').chain("°…·×≥≤←→↑↓◀▶".chars()).collect();
    let styles = ui.style().text_styles.values().cloned();
    for font in styles.chain(SIZES.map(egui::FontId::proportional)) {
        let _ = ui.painter().layout_no_wrap(letters.clone(), font, theme::TEXT);
    }
}

/// The scene is drawn in what the panels leave.
fn set_viewport(camera: &mut Camera, free: egui::Rect, pixels_per_point: f32) {
    let Some(whole) = camera.physical_target_size() else { return };
    let pixel = |points: f32| (points * pixels_per_point).round().max(0.0) as u32;
    let at = UVec2::new(pixel(free.min.x), pixel(free.min.y)).min(whole.saturating_sub(UVec2::ONE));
    let size = UVec2::new(pixel(free.width()), pixel(free.height())).min(whole - at).max(UVec2::ONE);
    let same = camera.viewport.as_ref().is_some_and(|set| set.physical_position == at && set.physical_size == size);
    if !same {
        camera.viewport = Some(Viewport { physical_position: at, physical_size: size, ..default() });
    }
}

/// A button that asks for an action.
pub fn action_ui(ui: &mut egui::Ui, panels: &mut Panels, action: Action, word: &str) {
    if ui.button(word).clicked() {
        panels.asks.write(Ask::Do(action));
    }
}

fn style(context: &egui::Context) {
    let mut fonts = egui::FontDefinitions::default();
    // Arrows are in no other font.
    let monospace = fonts.families.get(&egui::FontFamily::Monospace).cloned().unwrap_or_default();
    let proportional = fonts.families.entry(egui::FontFamily::Proportional).or_default();
    let missing: Vec<String> = monospace.into_iter().filter(|name| !proportional.contains(name)).collect();
    proportional.extend(missing);
    context.set_fonts(fonts);
    context.set_theme(egui::Theme::Dark);
    // The size of the text has keys of the viewer's own.
    context.options_mut(|options| {
        options.zoom_with_keyboard = false;
        // Where frames are slow, seconds lie between those in which a button is pressed and let go: it was a click all the same.
        options.input_options.max_click_duration = f64::INFINITY;
    });
    context.all_styles_mut(|style| {
        style.spacing.item_spacing = egui::vec2(7.0, 5.0);
        let visuals = &mut style.visuals;
        visuals.panel_fill = theme::PANEL;
        // A cursor that blinks would have the whole window drawn again and again.
        visuals.text_cursor.blink = false;
        visuals.window_fill = theme::PANEL;
        visuals.override_text_color = Some(theme::TEXT);
        visuals.selection.bg_fill = theme::CHOSEN.gamma_multiply(0.45);
        visuals.selection.stroke.color = theme::TEXT;
        visuals.widgets.noninteractive.bg_stroke.color = theme::LINE;
    });
}
