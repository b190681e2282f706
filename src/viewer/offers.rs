//! Where does the user see what was found, and take or leave it?

use bevy_egui::egui;

use super::findings::effect_job;
use super::panels::{Panels, action_ui};
use super::session::Ask;
use super::theme::{self, Action};

/// What lies below the offers keeps so much of the panel's height.
const BELOW: f32 = 90.0;
/// Size of the letters in which parts of an offer are told.
const PARTS: f32 = 11.0;

/// The search that is under way, and what it has found.
pub fn offers_ui(ui: &mut egui::Ui, panels: &mut Panels) {
    if panels.search.title.is_empty() {
        return;
    }
    ui.add(egui::Label::new(egui::RichText::new(&panels.search.title).strong()).wrap());
    let progress = panels.search.progress();
    let is_running = progress.is_some();
    if let Some((share, task)) = progress {
        ui.add(egui::ProgressBar::new(share.min(1.0)).desired_height(6.0));
        ui.add(egui::Label::new(egui::RichText::new(task).small().color(theme::QUIET)).truncate());
    }
    let count = panels.search.offers.len();
    ui.horizontal_wrapped(|ui| {
        if count > 0 {
            action_ui(ui, panels, Action::OfferBefore, "↑");
            let more = if is_running { "…" } else { "" };
            ui.label(format!("{} of {count}{more}", panels.search.at + 1));
            action_ui(ui, panels, Action::OfferAfter, "↓");
            action_ui(ui, panels, Action::Take, "Take (Enter)");
        }
        let word = match (count, is_running) {
            (0, true) => "Stop (Del)",
            (0, false) => "Close (Del)",
            _ => "Leave (Del)",
        };
        action_ui(ui, panels, Action::Leave, word);
    });
    let height = (ui.available_height() - BELOW).max(BELOW);
    egui::ScrollArea::vertical().id_salt("offers").max_height(height).auto_shrink([false, true]).show(ui, |ui| {
        for number in 0..count {
            if number != panels.search.at {
                folded_ui(ui, panels, number);
                continue;
            }
            let whole = ui.scope(|ui| unfolded_ui(ui, panels, number)).response;
            let seen = Some((panels.search.title.clone(), number));
            if panels.look.offer != seen {
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

/// An offer in two lines: what it is; what it does to the findings, where that is known, else what tells it from others.
fn folded_ui(ui: &mut egui::Ui, panels: &mut Panels, number: usize) {
    let seen = &panels.search.offers[number];
    let body = egui::TextStyle::Body.resolve(ui.style());
    let mut title = egui::text::LayoutJob::simple_singleline(named(panels, number), body, theme::TEXT);
    let counts = seen.effect.as_ref().map(|effect| effect.counts()).filter(|counts| !counts.is_empty());
    let mut below = match counts {
        Some(counts) => effect_job(ui, "", &counts),
        None => effect_job(ui, &seen.offer.brief, &[]),
    };
    let width = ui.available_width();
    for job in [&mut title, &mut below] {
        job.wrap = egui::text::TextWrapping::truncate_at_width(width - 8.0);
    }
    let [title, below] = [title, below].map(|job| ui.painter().layout_job(job));
    let height = title.size().y + below.size().y + 6.0;
    let (rect, response) = ui.allocate_exact_size(egui::vec2(width, height), egui::Sense::click());
    if response.hovered() {
        ui.painter().rect_filled(rect, 3.0, theme::LINE.gamma_multiply(0.5));
    }
    let at = rect.left_top() + egui::vec2(4.0, 2.0);
    let down = egui::vec2(0.0, title.size().y + 1.0);
    ui.painter().galley(at, title, theme::TEXT);
    ui.painter().galley(at + down, below, theme::QUIET);
    let told = format!("{}\n{}", seen.offer.title, seen.offer.brief);
    if response.on_hover_text(told).clicked() {
        panels.asks.write(Ask::Offer(number));
    }
}

/// The offer that is looked at, as a preview in the plan: what it does to the findings, what it changes for that, and what
/// that costs.
fn unfolded_ui(ui: &mut egui::Ui, panels: &Panels, number: usize) {
    let seen = &panels.search.offers[number];
    egui::Frame::new().fill(theme::CHOSEN.gamma_multiply(0.18)).corner_radius(3.0).inner_margin(4.0).show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.spacing_mut().item_spacing.y = 2.0;
        let preview = if panels.session.preview.is_some() { ", a preview" } else { "" };
        wrapped(ui, egui::RichText::new(format!("{}{preview}", named(panels, number))).strong());
        let part = |text: &str, colour| egui::RichText::new(text).size(PARTS).color(colour);
        match &seen.effect {
            Some(effect) => {
                for (turn, line) in effect.lines() {
                    let mark = turn.mark();
                    wrapped(ui, part(&format!("{} {line}", mark.shape), mark.colour));
                }
            }
            None => wrapped(ui, part("what it does to the findings is being checked", theme::QUIET)),
        }
        for line in &seen.offer.changes {
            wrapped(ui, part(line, theme::TEXT));
        }
        for line in &seen.offer.told {
            wrapped(ui, part(line, theme::QUIET));
        }
    });
}

/// An offer by number and title.
fn named(panels: &Panels, number: usize) -> String {
    format!("{}. {}", number + 1, panels.search.offers[number].offer.title)
}

fn wrapped(ui: &mut egui::Ui, text: egui::RichText) {
    ui.add(egui::Label::new(text).wrap());
}

fn quiet(ui: &mut egui::Ui, text: &str) {
    wrapped(ui, egui::RichText::new(text).color(theme::QUIET));
}
