//! What do the colours of the lines in the scene mean?

use bevy_egui::egui::{self, Color32, Rect, vec2};

use crate::check::{Kind, Status};

use super::overlay::Overlays;
use super::theme;

/// Height of a row, points.
const ROW: f32 = 15.0;
/// At most so many rows are taken from the scene; what has no room there is told where the pointer is.
const MOST_ROWS: usize = 2;

/// Says it below the scene, for what is switched on; what that leaves of the scene's part of the screen.
pub fn legend_ui(ui: &egui::Ui, free: Rect, overlays: &Overlays) -> Rect {
    let painter = ui.painter().with_clip_rect(free);
    let font = egui::FontId::proportional(11.0);
    let entries = entries(overlays);
    let laid: Vec<_> =
        entries.iter().map(|(_, text)| painter.layout_no_wrap((*text).to_owned(), font.clone(), theme::TEXT)).collect();
    let widths: Vec<f32> = laid.iter().map(|galley| galley.size().x + 27.0).collect();
    let (places, rows) = places(&widths, free.width() - 16.0);
    let height = ROW * rows.min(MOST_ROWS) as f32 + 4.0;
    let strip = free.with_min_y(free.bottom() - height);
    painter.rect_filled(strip, 0.0, theme::PANEL);
    for ((galley, (colour, _)), (row, left)) in laid.into_iter().zip(&entries).zip(places) {
        if row >= MOST_ROWS {
            continue;
        }
        let at = strip.left_top() + vec2(8.0 + left, 2.0 + ROW * row as f32);
        let line = [at + vec2(0.0, 0.5 * ROW), at + vec2(12.0, 0.5 * ROW)];
        painter.line_segment(line, egui::Stroke::new(2.5, *colour));
        painter.galley(at + vec2(16.0, 0.5 * (ROW - galley.size().y)), galley, theme::TEXT);
    }
    if rows > MOST_ROWS {
        let more = egui::FontId::proportional(14.0);
        painter.text(strip.right_bottom() - vec2(6.0, 2.0), egui::Align2::RIGHT_BOTTOM, "…", more, theme::TEXT);
        ui.interact(strip, ui.id().with("legend"), egui::Sense::hover()).on_hover_ui(|ui| {
            for (colour, text) in &entries {
                ui.label(egui::RichText::new(format!("— {text}")).color(*colour));
            }
        });
    }
    free.with_max_y(strip.top())
}

/// In which row and how far from its left each of some widths lies, one after the other; and how many rows there are.
fn places(widths: &[f32], room: f32) -> (Vec<(usize, f32)>, usize) {
    let (mut row, mut right) = (0, 0.0);
    let mut places = Vec::new();
    for width in widths {
        if right > 0.0 && right + width > room {
            (row, right) = (row + 1, 0.0);
        }
        places.push((row, right));
        right += width;
    }
    (places, row + 1)
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_entry_lies_on_another_and_all_are_within_the_room_that_holds_them() {
        let widths = [60.0, 45.0, 80.0, 20.0, 75.0, 30.0];
        for room in [80.0, 110.0, 200.0, 400.0] {
            let (places, rows) = places(&widths, room);
            assert_eq!(rows, places.last().expect("there are some").0 + 1);
            for (k, (row, left)) in places.iter().enumerate() {
                assert!(left + widths[k] <= room, "{places:?} in {room}");
                let before = places[..k].iter().zip(&widths).filter(|((of, _), _)| of == row);
                assert!(before.into_iter().all(|((_, at), width)| at + width <= *left), "{places:?} in {room}");
            }
        }
        assert_eq!(places(&widths, 400.0).1, 1, "nothing is broken that need not be");
    }
}
