//! Where does the user see what was found, and take or leave it?

use bevy_egui::egui;

use crate::check::{Kind, Status};

use super::effect::Turn;
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
    if is_running && count > 0 {
        quiet(ui, &format!("{count} found so far; more are looked for"));
    }
    ui.horizontal_wrapped(|ui| {
        if count > 0 {
            action_ui(ui, panels, Action::OfferBefore, "↑");
            ui.label(format!("{} of {count}", panels.search.at + 1));
            action_ui(ui, panels, Action::OfferAfter, "↓");
        }
        let word = match (count, is_running) {
            (0, true) => "Stop (Del)",
            (0, false) => "Close (Del)",
            _ => "Leave as it was (Del)",
        };
        action_ui(ui, panels, Action::Leave, word);
    });
    if panels.session.preview.is_some() {
        let told = "A preview, until it is taken or left:";
        wrapped(ui, egui::RichText::new(told).color(theme::CHOSEN));
    }
    let height = 0.75 * ui.available_height();
    egui::ScrollArea::vertical().id_salt("offers").max_height(height).auto_shrink([false, true]).show(ui, |ui| {
        for number in 0..count {
            let whole = ui.scope(|ui| offer_ui(ui, panels, number)).response;
            let seen = Some((panels.search.title.clone(), number));
            if number == panels.search.at && panels.look.offer != seen {
                whole.scroll_to_me(None);
                panels.look.offer = seen;
            }
        }
        for line in &panels.search.told {
            quiet(ui, line);
        }
    });
    ui.separator();
}

/// One offer: what it does to the findings, what it changes for that, and what that costs.
fn offer_ui(ui: &mut egui::Ui, panels: &mut Panels, number: usize) {
    let offer = &panels.search.offers[number];
    let is_shown = number == panels.search.at;
    let title = egui::RichText::new(format!("{}. {}", number + 1, offer.title));
    if ui.add(egui::Button::selectable(is_shown, title).wrap()).clicked() {
        panels.asks.write(Ask::Offer(number));
    }
    match panels.search.effects.get(&number) {
        Some(effect) => {
            for (turn, line) in &effect.lines {
                let mark = theme::mark(&match turn {
                    Turn::Better => Status::Ok,
                    Turn::Broken => Status::Violation(Kind::Nominal),
                    Turn::Tighter => Status::Tight,
                });
                wrapped(ui, egui::RichText::new(format!("{} {line}", mark.shape)).color(mark.colour));
            }
        }
        None if is_shown => quiet(ui, "what it does to the findings is being checked"),
        None => quiet(ui, "look at it to see what it does to the findings"),
    }
    for line in &offer.changes {
        wrapped(ui, egui::RichText::new(line));
    }
    for line in &offer.told {
        wrapped(ui, egui::RichText::new(line).color(theme::QUIET));
    }
    if ui.button(if is_shown { "Take (Enter)" } else { "Take" }).clicked() {
        panels.asks.write(Ask::TakeOffer(number));
    }
    ui.add_space(6.0);
}

fn wrapped(ui: &mut egui::Ui, text: egui::RichText) {
    ui.add(egui::Label::new(text).wrap());
}

fn quiet(ui: &mut egui::Ui, text: &str) {
    wrapped(ui, egui::RichText::new(text).color(theme::QUIET));
}
