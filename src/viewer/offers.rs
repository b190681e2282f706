//! Where does the user see what was found, and take or leave it?

use bevy_egui::egui;

use super::panels::Panels;
use super::session::Ask;
use super::theme::{self, Action};

/// The search that is under way, or what it found.
pub fn offers_ui(ui: &mut egui::Ui, panels: &mut Panels) {
    if panels.search.title.is_empty() {
        return;
    }
    ui.add(egui::Label::new(egui::RichText::new(&panels.search.title).strong()).wrap());
    if let Some((share, task)) = panels.search.progress() {
        ui.add(egui::ProgressBar::new(share.min(1.0)));
        ui.add(egui::Label::new(egui::RichText::new(task).small().color(theme::QUIET)).wrap());
        action_ui(ui, panels, Action::Leave, "Stop (Del)");
        ui.separator();
        return;
    }
    let count = panels.search.offers.len();
    if panels.search.is_preview {
        let told = "Preview: the plan shows it until you take or leave it.";
        ui.label(egui::RichText::new(told).color(theme::CHOSEN));
    }
    ui.horizontal_wrapped(|ui| {
        if count > 0 {
            action_ui(ui, panels, Action::OfferBefore, "↑");
            ui.label(format!("{} of {count}", panels.search.at + 1));
            action_ui(ui, panels, Action::OfferAfter, "↓");
            action_ui(ui, panels, Action::Take, "Take (Enter)");
        }
        action_ui(ui, panels, Action::Leave, if count > 0 { "Leave (Del)" } else { "Close (Del)" });
    });
    let height = 0.45 * ui.available_height();
    egui::ScrollArea::vertical().id_salt("offers").max_height(height).auto_shrink([false, true]).show(ui, |ui| {
        let mut looked_at = None;
        for (number, offer) in panels.search.offers.iter().enumerate() {
            let title = egui::RichText::new(format!("{}. {}", number + 1, offer.title));
            if ui.add(egui::Button::selectable(number == panels.search.at, title).wrap()).clicked() {
                looked_at = Some(number);
            }
            for line in &offer.told {
                ui.add(egui::Label::new(egui::RichText::new(line).small()).wrap());
            }
        }
        for line in &panels.search.told {
            ui.add(egui::Label::new(egui::RichText::new(line).small().color(theme::QUIET)).wrap());
        }
        if let Some(number) = looked_at {
            panels.asks.write(Ask::Offer(number));
        }
    });
    ui.separator();
}

fn action_ui(ui: &mut egui::Ui, panels: &mut Panels, action: Action, word: &str) {
    if ui.button(word).clicked() {
        panels.asks.write(Ask::Do(action));
    }
}
