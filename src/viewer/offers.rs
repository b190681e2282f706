//! Where does the user see what was found, and take or leave it?

use bevy_egui::egui;

use super::panels::{Panels, action_ui};
use super::session::Ask;
use super::theme::{self, Action};

/// The search that is under way, and what it has found.
pub fn offers_ui(ui: &mut egui::Ui, panels: &mut Panels) {
    if panels.search.title.is_empty() {
        return;
    }
    ui.add(egui::Label::new(egui::RichText::new(&panels.search.title).strong()).wrap());
    let progress = panels.search.progress();
    let is_running = progress.is_some();
    if let Some((share, task)) = progress {
        ui.add(egui::ProgressBar::new(share.min(1.0)));
        quiet(ui, &task);
    }
    let count = panels.search.offers.len();
    ui.horizontal_wrapped(|ui| {
        if count > 0 {
            action_ui(ui, panels, Action::OfferBefore, "▲");
            ui.label(format!("{} of {count}", panels.search.at + 1));
            action_ui(ui, panels, Action::OfferAfter, "▼");
        }
        let word = match (count, is_running) {
            (0, true) => "Stop (Del)",
            (0, false) => "Close (Del)",
            _ => "Leave as it was (Del)",
        };
        action_ui(ui, panels, Action::Leave, word);
    });
    if panels.session.preview.is_some() {
        let told = "Shown in the plan as a preview, until it is taken or left:";
        ui.add(egui::Label::new(egui::RichText::new(told).color(theme::CHOSEN)).wrap());
    }
    let height = 0.6 * ui.available_height();
    egui::ScrollArea::vertical().id_salt("offers").max_height(height).auto_shrink([false, true]).show(ui, |ui| {
        for (number, offer) in panels.search.offers.iter().enumerate() {
            let is_shown = number == panels.search.at;
            let title = egui::RichText::new(format!("{}. {}", number + 1, offer.title));
            if ui.add(egui::Button::selectable(is_shown, title).wrap()).clicked() {
                panels.asks.write(Ask::Offer(number));
            }
            for line in &offer.told {
                ui.add(egui::Label::new(egui::RichText::new(line).small()).wrap());
            }
            if ui.button(if is_shown { "Take (Enter)" } else { "Take" }).clicked() {
                panels.asks.write(Ask::TakeOffer(number));
            }
        }
        for line in &panels.search.told {
            quiet(ui, line);
        }
    });
    ui.separator();
}

fn quiet(ui: &mut egui::Ui, text: &str) {
    ui.add(egui::Label::new(egui::RichText::new(text).small().color(theme::QUIET)).wrap());
}
