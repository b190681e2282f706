//! What happens at the moment that is shown, and what is wrong with what is chosen?

use bevy_egui::egui;

use crate::check::{Finding, Status, Value};
use crate::crew::{self, JOINTS};
use crate::report::number::{self, Rounding};
use crate::report::words;

use super::panels::Panels;
use super::session::Ask;
use super::theme::Action;
use super::{band, chosen, theme};

/// The panel of the moment.
pub fn moment_ui(ui: &mut egui::Ui, panels: &mut Panels) {
    egui::ScrollArea::vertical().auto_shrink(false).min_scrolled_height(0.0).show(ui, |ui| {
        match panels.chosen.finding(&panels.session) {
            Some(finding) => {
                let is_violation = finding.status.is_violation();
                finding_ui(ui, panels, finding);
                let told = "look for the least changes by which this goes (K)";
                if is_violation && ui.button("Mend").on_hover_text(told).clicked() {
                    panels.asks.write(Ask::Do(Action::Mend));
                }
            }
            None => {
                ui.label(egui::RichText::new("Choose a finding (N), or click a body (B).").color(theme::QUIET));
            }
        }
        ui.separator();
        span_ui(ui, panels);
    });
}

fn quiet(ui: &mut egui::Ui, text: impl Into<String>) {
    ui.label(egui::RichText::new(text).small().color(theme::QUIET));
}

/// What moves, and where every joint stands.
fn span_ui(ui: &mut egui::Ui, panels: &Panels) {
    let Some(checked) = &panels.session.checked else {
        ui.label("The plan is being checked.");
        return;
    };
    let Some(span) = panels.shown.span.and_then(|number| checked.playback.spans.get(number)) else { return };
    ui.strong(band::title(span));
    let q = span.joints(panels.shown.seconds);
    quiet(ui, "arm");
    let arm = span.assembly().arm.variables.clone();
    joints_ui(
        ui,
        "arm",
        checked.outcome.arm_joints.iter().zip(&q[arm]).map(|(joint, value)| {
            let value = if joint.turns { value.to_degrees() } else { *value };
            let (decimals, unit) = if joint.turns { (1, "°") } else { (3, " m") };
            (joint.name.clone(), format!("{}{unit}", number::fixed(value, decimals, Rounding::Nearest)))
        }),
    );
    let Some(links) = span.assembly().body_links(span.who) else { return };
    quiet(ui, format!("{}, body", words::who(span.who)));
    joints_ui(
        ui,
        "body",
        JOINTS.iter().zip(&q[links.variables.clone()]).filter_map(|(name, value)| {
            let angle = value.to_degrees().abs().round();
            let said = crew::words(name, *value)?;
            (angle >= 1.0).then(|| (said, format!("{angle:.0}°")))
        }),
    );
}

fn joints_ui(ui: &mut egui::Ui, id: &str, rows: impl Iterator<Item = (String, String)>) {
    // Long names are wrapped.
    let widest = (ui.available_width() - 70.0).max(60.0);
    egui::Grid::new(id).num_columns(2).striped(true).min_col_width(60.0).max_col_width(widest).show(ui, |ui| {
        for (name, value) in rows {
            ui.label(name);
            ui.monospace(value);
            ui.end_row();
        }
    });
}

/// A finding in words, with the numbers that it rests on.
fn finding_ui(ui: &mut egui::Ui, panels: &Panels, finding: &Finding) {
    let mark = theme::mark(&finding.status);
    ui.horizontal_wrapped(|ui| {
        ui.label(egui::RichText::new(mark.shape).color(mark.colour));
        ui.strong(chosen::sentence(finding));
    });
    if let Some(was) = panels.compared.was_of(finding) {
        quiet(ui, format!("{was}, before the last edit"));
    }
    let mut rows = vec![("where", words::place(&finding.key.place))];
    if let Some(who) = finding.key.who {
        rows.push(("who", words::who(who).to_owned()));
    }
    rows.push(("value", words::value(finding)));
    if let Some(worst) = words::worst(finding) {
        rows.push(("worst case", worst));
    }
    if let Some(bar) = finding.limit {
        rows.push(("limit", words::limit(bar, finding.unit)));
    }
    if let Status::Violation(kind) = finding.status {
        rows.push(("kind", words::kind(kind).to_owned()));
    }
    let known = match finding.value {
        Value::Exact(_) => Some("exact"),
        Value::Bounded { .. } => Some("bounded: over all that lies between, not over samples"),
        Value::Above(_) => Some("above the cap beyond which nothing is measured"),
        Value::Sampled(_) => Some("sampled: no bound"),
        Value::None => None,
    };
    rows.extend(known.map(|known| ("known as", known.to_owned())));
    rows.extend(finding.note.clone().map(|note| ("note", note)));
    rows.extend(finding.help.clone().map(|help| ("would help", help)));
    rows.extend(finding.source.clone().map(|source| ("limit from", source)));
    egui::Grid::new("finding").num_columns(2).show(ui, |ui| {
        for (name, text) in rows {
            ui.label(egui::RichText::new(name).color(theme::QUIET));
            ui.add(egui::Label::new(text).wrap());
            ui.end_row();
        }
    });
}
