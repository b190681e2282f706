//! What plan is this, how does it stand, and what is this program not?

use std::time::Duration;

use bevy_egui::egui;

use crate::check::Status;
use crate::report::{CAUTION, CAUTIONS, words};

use super::cameras::Standpoint;
use super::chosen::{STATUSES, counts};
use super::panels::{Panels, Room, action_ui};
use super::session::Ask;
use super::theme::{self, Action};

/// The bar above the scene.
pub fn bar_ui(ui: &mut egui::Ui, panels: &mut Panels, room: Room) {
    ui.horizontal(|ui| {
        let title = panels.session.loaded.as_ref().map_or("no plan yet", |loaded| loaded.project.plan.title.as_str());
        let changed = if panels.session.draft.is_changed() { " · not saved" } else { "" };
        let shown = if panels.session.preview.is_some() { " · preview" } else { "" };
        ui.add(egui::Label::new(egui::RichText::new(format!("{title}{changed}{shown}")).strong()).truncate());
    });
    ui.horizontal_wrapped(|ui| {
        counts_ui(ui, panels, room);
        ui.separator();
        if room.is_narrow {
            ui.menu_button("Camera", |ui| cameras_ui(ui, panels));
            ui.menu_button("Show", |ui| switches_ui(ui, panels));
        } else {
            cameras_ui(ui, panels);
            ui.separator();
            switches_ui(ui, panels);
        }
        ui.separator();
        let (undo, redo) = (panels.session.to_undo(), panels.session.to_redo());
        step_ui(ui, panels, (Action::Undo, "Undo", "Ctrl Z"), undo);
        step_ui(ui, panels, (Action::Redo, "Redo", "Ctrl Y"), redo);
        action_ui(ui, panels, Action::Save, "Save");
        action_ui(ui, panels, Action::Keys, "Keys (F1)");
        ui.menu_button("Save as", |ui| save_as_ui(ui, panels));
    });
    let caution = egui::RichText::new(format!("{CAUTION}; cautions below the keys (F1)")).small().color(theme::QUIET);
    ui.add(egui::Label::new(caution).truncate()).on_hover_text(CAUTIONS);
}

/// What is drawn over the scene, each to be switched on and off.
fn switches_ui(ui: &mut egui::Ui, panels: &mut Panels) {
    for (action, word, on, told) in [
        (Action::Lines, "Closest points", panels.overlays.lines, "where bodies are nearest to each other now (L)"),
        (Action::Ghosts, "Ghosts", panels.overlays.ghosts, "where what moves begins and ends (G)"),
        (Action::Paths, "Paths", panels.overlays.paths, "where the arm's tip and the held payload go (H)"),
        (Action::Scale, "Scale", panels.overlays.scale, "a grid of metres and the axes (M)"),
    ] {
        if ui.selectable_label(on, word).on_hover_text(told).clicked() {
            panels.asks.write(Ask::Do(action));
        }
    }
}

/// A step back or forth, which says what it does, or that there is nothing to do.
fn step_ui(ui: &mut egui::Ui, panels: &mut Panels, (action, word, key): (Action, &str, &str), what: Option<String>) {
    let button = ui.add_enabled(what.is_some(), egui::Button::new(word));
    let told = what.map_or_else(String::new, |what| format!("{}: {what} ({key})", word.to_lowercase()));
    let nothing = format!("nothing to {}", word.to_lowercase());
    if button.on_hover_text(told).on_disabled_hover_text(nothing).clicked() {
        panels.asks.write(Ask::Do(action));
    }
}

/// Saves the plan with all its files into a folder of its own.
pub fn save_as_ui(ui: &mut egui::Ui, panels: &mut Panels) {
    ui.set_min_width(260.0);
    ui.label("A new or empty folder, for the plan and all its files:");
    ui.text_edit_singleline(&mut panels.look.folder);
    let named = !panels.look.folder.trim().is_empty();
    if ui.add_enabled(named, egui::Button::new("Save there")).clicked() {
        panels.asks.write(Ask::SaveAs(panels.look.folder.trim().into()));
        ui.close();
    }
}

/// How many findings are of which status; while a check runs, how far it is.
fn counts_ui(ui: &mut egui::Ui, panels: &Panels, room: Room) {
    for (status, count) in STATUSES.iter().zip(counts(panels.session.findings())) {
        let mark = theme::mark(status);
        let many = if count != 1 && matches!(status, Status::Violation(_)) { "s" } else { "" };
        let word = format!("{}{many}", status.word());
        let shown = if room.is_narrow { String::new() } else { format!(" {word}") };
        let count_ui = ui.label(egui::RichText::new(format!("{} {count}{shown}", mark.shape)).color(mark.colour));
        if room.is_narrow {
            count_ui.on_hover_text(word);
        }
    }
    if panels.session.checking {
        let (share, task) = panels.engine.progress();
        // As wide as what stands here otherwise, so that nothing beside it moves.
        let width = if room.is_narrow { 40.0 } else { took_width(ui) };
        ui.add(egui::ProgressBar::new(share.min(1.0)).desired_width(width)).on_hover_text(task);
    } else if let Some(took) = panels.session.took.filter(|_| !room.is_narrow) {
        ui.label(egui::RichText::new(told_took(took)).color(theme::QUIET));
    }
}

fn told_took(took: Duration) -> String {
    format!("checked in {:.2} s", took.as_secs_f64())
}

/// How wide it is to tell how long a check took.
fn took_width(ui: &egui::Ui) -> f32 {
    let font = egui::TextStyle::Body.resolve(ui.style());
    ui.painter().layout_no_wrap(told_took(Duration::ZERO), font, theme::QUIET).size().x
}

fn cameras_ui(ui: &mut egui::Ui, panels: &mut Panels) {
    let standpoint = &panels.view.standpoint;
    let plan = panels.session.loaded.as_ref().map(|loaded| &loaded.project.plan);
    let (mut visor, mut worksite, mut of_plan) = (None, None, None);
    match standpoint {
        Standpoint::Orbit => {}
        Standpoint::Visor(who) => visor = Some(words::who(*who)),
        Standpoint::Worksite(number) => {
            worksite = Some(plan.and_then(|plan| plan.worksite.get(*number)).map_or("", |site| site.id.as_str()));
        }
        Standpoint::OfPlan(number) => {
            of_plan = Some(plan.and_then(|plan| plan.camera.get(*number)).map_or("", |camera| camera.id.as_str()));
        }
    }
    let named = |word: &str, name: Option<&str>| name.map_or(word.to_owned(), |name| format!("{word}: {name}"));
    let has_cameras = plan.is_some_and(|plan| !plan.camera.is_empty());
    let buttons = [
        (Action::Orbit, "Orbit".to_owned(), *standpoint == Standpoint::Orbit, true),
        (Action::Visor, named("Visor", visor), visor.is_some(), true),
        (Action::Worksite, named("Worksite", worksite), worksite.is_some(), true),
        (Action::PlanCamera, named("Camera", of_plan), of_plan.is_some(), has_cameras),
    ];
    for (action, word, on, there) in buttons {
        if there && ui.selectable_label(on, word).clicked() {
            panels.asks.write(Ask::Do(action));
        }
    }
}
