//! What must be said over the scene: a first hint, news, the plan's mistakes, the list of keys, the cautions?

use bevy_egui::egui;

use crate::report::CAUTIONS;

use super::news::Choice;
use super::panels::Panels;
use super::session::Ask;
use super::theme::{self, KEYS};

/// Keys that turn the camera while they are held; they ask for nothing.
const HELD: [(&str, &str); 4] = [
    ("A D W S", "orbit"),
    ("Shift and A D W S", "move the middle of the orbit"),
    ("E Q", "nearer, farther"),
    ("pointer", "drag: orbit; right button or Shift: move; wheel: nearer, farther"),
];

/// What lies over the scene's part of the screen.
pub fn over_scene_ui(context: &egui::Context, free: egui::Rect, panels: &mut Panels) {
    hint_ui(context, free, panels);
    news_ui(context, free, panels);
    problems_ui(context, free, panels);
    loading_ui(context, free, panels);
    keys_ui(context, free, panels);
}

fn framed() -> egui::Frame {
    egui::Frame::new().fill(theme::PANEL.gamma_multiply(0.92)).inner_margin(8.0).corner_radius(5.0)
}

fn hint_ui(context: &egui::Context, free: egui::Rect, panels: &mut Panels) {
    if !panels.look.hint || panels.session.problems.is_some() {
        return;
    }
    egui::Area::new("hint".into()).fixed_pos(free.left_top() + egui::vec2(12.0, 12.0)).show(context, |ui| {
        framed().show(ui, |ui| {
            ui.set_max_width(free.width() - 60.0);
            ui.horizontal_wrapped(|ui| {
                ui.label("Space plays, T shows the tightest place, N the next finding, drag turns. F1 lists all keys.");
                if ui.small_button("×").clicked() {
                    panels.look.hint = false;
                }
            });
        });
    });
}

fn news_ui(context: &egui::Context, free: egui::Rect, panels: &mut Panels) {
    let Some(news) = panels.session.news.clone() else { return };
    let at = free.left_bottom() + egui::vec2(12.0, -12.0);
    egui::Area::new("news".into()).fixed_pos(at).pivot(egui::Align2::LEFT_BOTTOM).show(context, |ui| {
        framed().show(ui, |ui| {
            ui.set_max_width(free.width() - 60.0);
            ui.horizontal_wrapped(|ui| {
                ui.label(&news.text);
                match news.choice {
                    Choice::None | Choice::Read => {
                        if ui.small_button("×").clicked() {
                            panels.asks.write(Ask::Heard);
                        }
                    }
                    Choice::Elsewhere => {
                        ui.menu_button("save as…", |ui| super::top::save_as_ui(ui, panels));
                        if ui.small_button("×").clicked() {
                            panels.asks.write(Ask::Heard);
                        }
                    }
                    Choice::DiskOrMine => {
                        if ui.button("reload from disk").clicked() {
                            panels.asks.write(Ask::TakeFromDisk);
                        }
                        if ui.button("keep mine").clicked() {
                            panels.asks.write(Ask::KeepMine);
                        }
                    }
                }
            });
        });
    });
}

/// The plan's mistakes, each with its text; what is drawn is the plan as it was last read well.
fn problems_ui(context: &egui::Context, free: egui::Rect, panels: &Panels) {
    let Some(problems) = &panels.session.problems else { return };
    egui::Window::new("The plan cannot be used as it is")
        .collapsible(false)
        .resizable(true)
        .default_size(free.size() * 0.8)
        .default_pos(free.left_top() + 0.1 * free.size())
        .show(context, |ui| {
            ui.label("It is read again as soon as the files are mended.");
            ui.separator();
            egui::ScrollArea::vertical().show(ui, |ui| {
                ui.add(egui::Label::new(egui::RichText::new(problems.to_string()).monospace()).wrap());
            });
        });
}

fn loading_ui(context: &egui::Context, free: egui::Rect, panels: &Panels) {
    if panels.session.checked.is_some() || panels.session.problems.is_some() {
        return;
    }
    let (share, task) = panels.engine.progress();
    egui::Area::new("loading".into()).fixed_pos(free.center()).pivot(egui::Align2::CENTER_CENTER).show(context, |ui| {
        framed().show(ui, |ui| {
            ui.label("The plan is being checked for the first time.");
            ui.add(egui::ProgressBar::new(share.min(1.0)).desired_width(260.0));
            ui.label(task);
        });
    });
}

/// The list of keys and the cautions, over the scene alone: what it tells of is seen beside it.
fn keys_ui(context: &egui::Context, free: egui::Rect, panels: &mut Panels) {
    let mut open = panels.look.keys_listed;
    let free = free.shrink(8.0);
    let window = egui::Window::new("Keys").open(&mut open).collapsible(false).resizable(false).constrain_to(free);
    let window = window.default_pos(free.left_top()).vscroll(true).max_height(free.height() - 50.0);
    window.default_width(460.0).max_width(free.width() - 20.0).show(context, |ui| {
        egui::Grid::new("keys").num_columns(2).striped(true).show(ui, |ui| {
            for (shown, does) in KEYS.iter().map(|key| (key.shown, key.does)).chain(HELD) {
                ui.monospace(shown);
                ui.add(egui::Label::new(does).wrap());
                ui.end_row();
            }
        });
        ui.separator();
        ui.add(egui::Label::new(CAUTIONS).wrap());
    });
    panels.look.keys_listed = open;
}
