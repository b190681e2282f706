//! What was found: which findings are there, sorted by margin, and which is chosen?

use bevy::prelude::*;
use bevy_egui::egui;

use crate::check::{CHECKS, Finding, Status};
use crate::report::words;

use super::chosen::{self, STATUSES, by_margin, counts, rank};
use super::effect::Turn;
use super::panels::Panels;
use super::session::Ask;
use super::theme;

/// Which findings are listed.
#[derive(Resource, Clone, Debug, PartialEq)]
pub struct Filter {
    /// One for each of [`STATUSES`].
    pub statuses: [bool; 4],
    /// One check only.
    pub check: Option<&'static str>,
    /// What the finding's words must contain.
    pub text: String,
    /// Only what belongs to the motion or worksite that is shown.
    pub only_here: bool,
    /// Only what the last edit has changed.
    pub only_changed: bool,
}

impl Default for Filter {
    fn default() -> Self {
        let statuses = [true, true, false, true];
        Self { statuses, check: None, text: String::new(), only_here: false, only_changed: false }
    }
}

/// The list of findings.
pub fn list_ui(ui: &mut egui::Ui, panels: &mut Panels) {
    filter_ui(ui, panels);
    ui.separator();
    let listed = listed(panels);
    let findings = panels.session.findings();
    ui.label(
        egui::RichText::new(format!("{} of {} findings, least margin first", listed.len(), findings.len()))
            .small()
            .color(theme::QUIET),
    );
    // What is gone has no row.
    if !panels.compared.counts.is_empty() {
        let job = effect_job(ui, "since before the change: ", &panels.compared.counts);
        ui.add(egui::Label::new(job).wrap());
    }
    let row = 2.0 * ui.text_style_height(&egui::TextStyle::Body) + 6.0;
    let mut chosen = None;
    let list = egui::ScrollArea::vertical().auto_shrink(false).min_scrolled_height(0.0);
    let now = listed.iter().position(|number| panels.chosen.key.as_ref() == Some(&findings[*number].key));
    let is_new = panels.look.listed != panels.chosen.key;
    if is_new {
        panels.look.listed.clone_from(&panels.chosen.key);
    }
    let list = match now {
        Some(now) if is_new && !panels.look.rows_listed.contains(&now) => {
            list.vertical_scroll_offset(now.saturating_sub(2) as f32 * (row + ui.spacing().item_spacing.y))
        }
        _ => list,
    };
    let mut rows_listed = 0..0;
    list.show_rows(ui, row, listed.len(), |ui, rows| {
        // Those at the edges may be cut.
        rows_listed = rows.start + 1..rows.end.saturating_sub(2);
        for number in &listed[rows] {
            if row_ui(ui, panels, (&findings[*number], panels.compared.was(*number)), row) {
                chosen = Some(*number);
            }
        }
    });
    if panels.look.rows_listed != rows_listed {
        panels.look.rows_listed = rows_listed;
    }
    if let Some(number) = chosen {
        panels.asks.write(Ask::Choose(number));
    }
}

fn filter_ui(ui: &mut egui::Ui, panels: &mut Panels) {
    let findings = panels.session.findings();
    let filter = &mut panels.filter;
    ui.horizontal_wrapped(|ui| {
        for ((status, count), on) in STATUSES.iter().zip(counts(findings)).zip(&mut filter.statuses) {
            let mark = theme::mark(status);
            let text = egui::RichText::new(format!("{} {} {count}", mark.shape, status.word())).color(mark.colour);
            ui.toggle_value(on, text);
        }
    });
    ui.horizontal(|ui| {
        let all = "every check";
        egui::ComboBox::from_id_salt("check").width(110.0).selected_text(filter.check.unwrap_or(all)).show_ui(
            ui,
            |ui| {
                ui.selectable_value(&mut filter.check, None, all);
                for check in CHECKS {
                    ui.selectable_value(&mut filter.check, Some(check.name), check.name);
                }
            },
        );
        ui.add(egui::TextEdit::singleline(&mut filter.text).hint_text("search").desired_width(f32::INFINITY));
    });
    ui.horizontal_wrapped(|ui| {
        ui.checkbox(&mut filter.only_here, "of what is shown");
        ui.checkbox(&mut filter.only_changed, "changed by the last edit");
    });
}

/// What a change does, in small letters, each with its mark; `begins` stands before it.
pub fn effect_job(ui: &egui::Ui, begins: &str, counts: &[(Turn, String)]) -> egui::text::LayoutJob {
    let mut job = egui::text::LayoutJob::default();
    let font = egui::TextStyle::Small.resolve(ui.style());
    let mut add = |text: &str, colour| job.append(text, 0.0, egui::TextFormat::simple(font.clone(), colour));
    add(begins, theme::QUIET);
    for (number, (turn, text)) in counts.iter().enumerate() {
        let mark = turn.mark();
        add(&format!("{}{} {text}", if number > 0 { "  " } else { "" }, mark.shape), mark.colour);
    }
    job
}

/// Numbers of the findings that pass the filter, least margin first.
fn listed(panels: &Panels) -> Vec<usize> {
    let findings = panels.session.findings();
    let filter = &panels.filter;
    let here = panels.session.checked.as_ref().and_then(|checked| checked.playback.spans.get(panels.shown.span?));
    let text = filter.text.to_lowercase();
    let passes = |finding: &Finding| {
        let said = || {
            format!("{} {} {}", finding.key.check, words::subject(finding), words::place(&finding.key.place))
                .to_lowercase()
        };
        filter.statuses[rank(&finding.status)]
            && filter.check.is_none_or(|check| check == finding.key.check)
            && (!filter.only_here || here.is_some_and(|span| span.place == finding.key.place))
            && (text.is_empty() || said().contains(&text))
    };
    let is_changed = |number: &usize| !filter.only_changed || panels.compared.was(*number).is_some();
    by_margin(findings, passes).into_iter().filter(is_changed).collect()
}

/// One finding; whether it was clicked.
fn row_ui(ui: &mut egui::Ui, panels: &Panels, (finding, was): (&Finding, Option<&str>), height: f32) -> bool {
    let chosen = panels.chosen.key.as_ref() == Some(&finding.key);
    let (rect, response) = ui.allocate_exact_size(egui::vec2(ui.available_width(), height), egui::Sense::click());
    if chosen || response.hovered() {
        let shade = if chosen { theme::CHOSEN.gamma_multiply(0.28) } else { theme::LINE.gamma_multiply(0.5) };
        ui.painter().rect_filled(rect, 3.0, shade);
    }
    let mark = theme::mark(&finding.status);
    let margin = match (&finding.status, finding.margin) {
        (Status::NotChecked(_), _) | (_, None) => String::new(),
        (_, Some(margin)) => chosen::margin(margin, finding.unit),
    };
    let font = egui::TextStyle::Body.resolve(ui.style());
    let small = egui::TextStyle::Small.resolve(ui.style());
    let painter = ui.painter_at(rect);
    painter.text(rect.left_top() + egui::vec2(4.0, 2.0), egui::Align2::LEFT_TOP, mark.shape, font.clone(), mark.colour);
    let right = painter.layout_no_wrap(margin, font.clone(), theme::TEXT);
    let [above, beside] = [rect.width() - 30.0, rect.width() - right.size().x - 38.0];
    painter.galley(rect.right_bottom() - right.size() - egui::vec2(6.0, 2.0), right, theme::TEXT);
    let line = |text: String, font: egui::FontId, colour, width: f32| {
        let mut job = egui::text::LayoutJob::simple_singleline(text, font, colour);
        job.wrap = egui::text::TextWrapping::truncate_at_width(width);
        painter.layout_job(job)
    };
    let (check, subject) = (finding.key.check, words::subject(finding));
    let with_check = painter.layout_no_wrap(format!("{check}: {subject}"), font.clone(), theme::TEXT);
    // Where there is no room for all of it, what tells it from its neighbours goes first.
    let is_long = with_check.size().x > above;
    let first = if is_long { line(subject, font, theme::TEXT, above) } else { with_check };
    painter.galley(rect.left_top() + egui::vec2(24.0, 2.0), first, theme::TEXT);
    let place = words::place(&finding.key.place);
    let place = if is_long { format!("{check} · {place}") } else { place };
    // Told once there is something new beside it: most checks are over before it could be read.
    let is_old = panels.session.first.is_some() && panels.session.is_to_be_checked(finding);
    let was = if is_old { Some("being checked again") } else { was };
    let below = was.map_or(place.clone(), |was| format!("{was} · {place}"));
    let below = line(below, small, theme::QUIET, beside);
    painter.galley(rect.left_bottom() - egui::vec2(-24.0, below.size().y + 2.0), below, theme::QUIET);
    response.on_hover_text(chosen::sentence(finding)).clicked()
}
