//! What do the colours of the lines in the scene mean?

use bevy::prelude::*;
use bevy_egui::egui::{self, Color32, Rect, pos2, vec2};

use crate::check::{Kind, Status};

use super::overlay::Overlays;
use super::theme;

/// Height of a row, points.
const ROW: f32 = 15.0;

/// Says it along the lower edge of the scene's part of the screen, for what is switched on; the height that it takes,
/// points.
pub fn legend(context: &egui::Context, free: Rect, overlays: &Overlays) -> f32 {
    let painter = context.layer_painter(egui::LayerId::background()).with_clip_rect(free);
    let font = egui::FontId::proportional(11.0);
    let laid = entries(overlays).into_iter().map(|(colour, text)| {
        let galley = painter.layout_no_wrap(text.to_owned(), font.clone(), theme::TEXT);
        (colour, galley)
    });
    let mut rows: Vec<Vec<_>> = vec![Vec::new()];
    let mut right = 0.0;
    for (colour, galley) in laid {
        let width = galley.size().x + 27.0;
        if right + width > free.width() - 16.0 {
            rows.push(Vec::new());
            right = 0.0;
        }
        rows.last_mut().expect("there is one").push((right, colour, galley));
        right += width;
    }
    let height = ROW * rows.len() as f32 + 4.0;
    painter.rect_filled(free.with_min_y(free.bottom() - height), 0.0, theme::PANEL.gamma_multiply(0.85));
    for (number, row) in rows.into_iter().enumerate() {
        let top = free.bottom() - height + 2.0 + ROW * number as f32;
        for (left, colour, galley) in row {
            let at = pos2(free.left() + 8.0 + left, top);
            let line = [at + vec2(0.0, 0.5 * ROW), at + vec2(12.0, 0.5 * ROW)];
            painter.line_segment(line, egui::Stroke::new(2.5, colour));
            painter.galley(at + vec2(16.0, 0.5 * (ROW - galley.size().y)), galley, theme::TEXT);
        }
    }
    height
}

fn entries(overlays: &Overlays) -> Vec<(Color32, &'static str)> {
    let of = |status: &Status| theme::mark(status).colour;
    let lines = [
        (of(&Status::Ok), "far enough"),
        (of(&Status::Tight), "tight"),
        (of(&Status::Violation(Kind::Nominal)), "too near"),
        (theme::CHOSEN, "chosen"),
    ];
    let paths = [(theme::TIP_PATH, "tip's path"), (theme::PAYLOAD_PATH, "payload's path")];
    let mut entries = Vec::new();
    entries.extend(lines.into_iter().filter(|_| overlays.lines));
    entries.extend(paths.into_iter().filter(|_| overlays.paths));
    entries.extend([(theme::TARGET, "target"), (theme::KEEP_OUT, "keep-out zone")]);
    entries
}
