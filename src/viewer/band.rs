//! When does what happen, and how near does anything come meanwhile?
//!
//! Rows for the arm and both crewmembers over one axis of time; below, the clearance of each pair of classes as the band
//! between its lower and its upper bound, with its limit. Work is not timed: it is given a length to be shown in, and
//! hatched, so that nobody takes it for a result.

use std::sync::Arc;

use bevy::prelude::Resource;
use bevy_egui::egui::{self, Color32, Rect, pos2, vec2};

use crate::check::{At, Place, Playback, Profile, ProfileLine, Span, Status};
use crate::model::{BodyClass, ClassPair, Who};
use crate::report::number::{self, Rounding};
use crate::report::words;
use crate::state::MotionKind;

use super::panels::{Panels, Room, action_ui};
use super::session::Ask;
use super::theme::{self, Action};

/// Height of one row, points.
const ROW: f32 = 18.0;
/// Height of the plot of clearances, points.
const PLOT: f32 = 84.0;
/// The plot is left out where it would be lower than this, points.
const LEAST_PLOT: f32 = 30.0;
/// Height of what its colours mean, points.
const LEGEND: f32 = 14.0;
/// Space for the names of the rows, points.
const NAMES: f32 = 92.0;
/// The plot ends here, m: what is farther apart is well.
const TOP: f64 = 1.2;
/// Pictures that stay longer than this are no motion to the eye, s: how many there are is told.
const SMOOTH: f64 = 0.15;
/// At most so many pairs of classes are drawn of each motion.
const MOST_LINES: usize = 6;
/// Colours of pairs of classes: those of Okabe and Ito, then paler ones.
const COLOURS: [Color32; 10] = [
    Color32::from_rgb(86, 180, 233),
    Color32::from_rgb(230, 159, 0),
    Color32::from_rgb(0, 158, 115),
    Color32::from_rgb(204, 121, 167),
    Color32::from_rgb(240, 228, 66),
    Color32::from_rgb(0, 114, 178),
    Color32::from_rgb(213, 94, 0),
    Color32::from_rgb(170, 205, 190),
    Color32::from_rgb(205, 185, 240),
    Color32::from_rgb(190, 190, 190),
];

/// The band below the scene.
pub fn band_ui(ui: &mut egui::Ui, panels: &mut Panels, room: Room) {
    let top = ui.cursor().top();
    transport_ui(ui, panels, room);
    let plot = Plotted::in_height(room.band - (ui.cursor().top() - top) - 16.0);
    let height = 3.0 * ROW + plot.height();
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), egui::Sense::click_and_drag());
    let Some(checked) = panels.session.checked.clone() else { return };
    let playback = &checked.playback;
    let total = playback.seconds();
    if total <= 0.0 {
        ui.painter().text(
            rect.center(),
            egui::Align2::CENTER_CENTER,
            "nothing moves in this plan",
            egui::FontId::proportional(14.0),
            theme::QUIET,
        );
        return;
    }
    let rect_of_axis = Rect::from_min_max(pos2(rect.left() + NAMES, rect.top()), rect.right_bottom());
    let axis = Axis { rect: rect_of_axis, total, plot };
    rows_ui(ui, panels, playback, &axis);
    if plot.clearances > 0.0 {
        plot_ui(ui, panels, playback, &axis);
    }
    marks_ui(ui, panels, playback, &axis);
    playhead_ui(ui, panels, &axis);
    if let Some(at) = response.interact_pointer_pos()
        && (response.dragged() || response.clicked())
    {
        panels.asks.write(Ask::Jump(axis.seconds(at.x)));
    }
    if let Some(at) = response.hover_pos() {
        response.on_hover_ui_at_pointer(|ui| hover_ui(ui, playback, axis.seconds(at.x)));
    }
}

/// What there is below the rows.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Plotted {
    /// Height of the plot of clearances, points; 0 where there is no room for it.
    clearances: f32,
    /// Whether it is said which colour is which pair.
    has_legend: bool,
}

impl Plotted {
    /// What there is in a band of such a height (points): the plot gives way first, but for a part that can still be read,
    /// then what its colours mean, then it.
    fn in_height(height: f32) -> Self {
        let left = height - 3.0 * ROW - 4.0;
        let has_legend = left >= LEAST_PLOT + LEGEND;
        let clearances = if has_legend { left - LEGEND } else { left };
        let clearances = if clearances < LEAST_PLOT { 0.0 } else { clearances.min(PLOT) };
        Self { clearances, has_legend }
    }

    fn height(self) -> f32 {
        let legend = if self.has_legend { LEGEND } else { 0.0 };
        if self.clearances > 0.0 { 4.0 + self.clearances + legend } else { 0.0 }
    }
}

/// From seconds to points across the band, and back.
struct Axis {
    rect: Rect,
    total: f64,
    plot: Plotted,
}

impl Axis {
    fn x(&self, seconds: f64) -> f32 {
        self.rect.left() + (seconds / self.total) as f32 * self.rect.width()
    }

    fn seconds(&self, x: f32) -> f64 {
        (f64::from((x - self.rect.left()) / self.rect.width()) * self.total).clamp(0.0, self.total)
    }

    fn row(&self, number: usize) -> (f32, f32) {
        let top = self.rect.top() + ROW * number as f32;
        (top + 2.0, top + ROW - 1.0)
    }

    fn plot(&self) -> (f32, f32) {
        let top = self.rect.top() + 3.0 * ROW + 4.0;
        (top, top + self.plot.clearances)
    }

    fn y(&self, metres: f64) -> f32 {
        let (top, bottom) = self.plot();
        bottom - ((metres.clamp(-0.1, TOP) + 0.1) / (TOP + 0.1)) as f32 * (bottom - top)
    }
}

fn transport_ui(ui: &mut egui::Ui, panels: &mut Panels, room: Room) {
    let clock = *panels.clock;
    let total = panels.session.checked.as_ref().map_or(0.0, |checked| checked.playback.seconds());
    ui.horizontal(|ui| {
        let buttons = [
            (Action::SpanBefore, "⏮", "motion or posture before (Shift ←)"),
            (Action::Back, "⏴", "a little back (←)"),
            (Action::PlayOrPause, if clock.playing { "⏸" } else { "▶" }, "play, pause (Space)"),
            (Action::Forward, "⏵", "a little forward (→)"),
            (Action::SpanAfter, "⏭", "motion or posture after (Shift →)"),
        ];
        for (action, word, hint) in buttons {
            if ui.add(egui::Button::new(word).min_size(vec2(28.0, 0.0))).on_hover_text(hint).clicked() {
                panels.asks.write(Ask::Do(action));
            }
        }
        let minutes = |seconds| number::minutes(seconds, 0, Rounding::Down);
        ui.monospace(format!("{} / {}", minutes(clock.at), minutes(total)));
        for (action, word) in [(Action::Slower, "−"), (Action::Faster, "+")] {
            if ui.small_button(word).clicked() {
                panels.asks.write(Ask::Do(action));
            }
        }
        let fast = format!("{} × as fast", clock.speed());
        let fast = match clock.pace.filter(|pace| *pace > SMOOTH) {
            Some(pace) => format!("{fast}, with {} pictures a second", number::fixed(1.0 / pace, 1, Rounding::Nearest)),
            None => fast,
        };
        ui.label(egui::RichText::new(fast).color(theme::QUIET));
        ui.separator();
        for (action, word, letter) in [
            (Action::FindingBefore, "◀ finding (P)", "P"),
            (Action::FindingAfter, "finding ▶ (N)", "N"),
            (Action::Tightest, "tightest (T)", "T"),
        ] {
            if !room.is_narrow {
                action_ui(ui, panels, action, word);
            } else if ui.button(letter).on_hover_text(word).clicked() {
                panels.asks.write(Ask::Do(action));
            }
        }
        ui.separator();
        let span = panels.session.checked.as_ref().and_then(|checked| checked.playback.span_at(clock.at));
        if let Some((_, span)) = span {
            ui.add(egui::Label::new(title(span)).truncate());
        }
    });
}

/// What happens in a span, in words.
pub fn title(span: &Span) -> String {
    match (&span.subject, &span.place) {
        (Some(subject), Place::Worksite { worksite, step }) => {
            format!("{} at {worksite}, {step}: to {subject}", words::who(span.who))
        }
        (None, Place::Worksite { worksite, step }) => {
            format!("{} at {worksite}, {step}: back to rest", words::who(span.who))
        }
        (Some(subject), Place::Step { step }) => format!("{}, {step}: into {subject}", words::who(span.who)),
        (_, place) => words::place(place),
    }
}

fn colour_of(span: &Span) -> Color32 {
    match span.motion().map(|motion| motion.moved.kind) {
        Some(MotionKind::Transit) => Color32::from_rgb(0, 114, 178),
        Some(MotionKind::Base | MotionKind::Setting) => Color32::from_rgb(120, 94, 160),
        Some(_) => Color32::from_rgb(60, 140, 190),
        None => Color32::from_rgb(150, 110, 60),
    }
}

fn rows_ui(ui: &egui::Ui, panels: &Panels, playback: &Playback, axis: &Axis) {
    let painter = ui.painter();
    let font = egui::FontId::proportional(12.0);
    for (row, name) in ["arm", "rider", "second crew"].into_iter().enumerate() {
        let (top, bottom) = axis.row(row);
        let ground = Rect::from_min_max(pos2(axis.rect.left(), top), pos2(axis.rect.right(), bottom));
        painter.rect_filled(ground, 2.0, theme::LINE.gamma_multiply(0.35));
        let at = pos2(axis.rect.left() - NAMES, 0.5 * (top + bottom));
        painter.text(at, egui::Align2::LEFT_CENTER, name, font.clone(), theme::QUIET);
    }
    for (number, span) in playback.spans.iter().enumerate() {
        let row = match (span.motion().is_some(), span.who) {
            (true, _) => 0,
            (false, Who::Rider) => 1,
            (false, Who::SecondCrew) => 2,
        };
        let (top, bottom) = axis.row(row);
        let left = axis.x(span.start);
        let block = Rect::from_min_max(pos2(left, top), pos2((axis.x(span.end()) - 1.0).max(left + 1.0), bottom));
        painter.rect_filled(block, 2.0, colour_of(span));
        if !span.timed {
            hatch(&painter.with_clip_rect(block), block);
        }
        if panels.shown.span == Some(number) {
            painter.rect_stroke(block, 2.0, egui::Stroke::new(1.5, theme::TEXT), egui::StrokeKind::Inside);
        }
        let text = match (&span.subject, span.motion()) {
            (Some(subject), _) => subject.clone(),
            (None, Some(motion)) => motion.moved.id.clone(),
            (None, None) => String::new(),
        };
        let laid = painter.layout_no_wrap(text, egui::FontId::proportional(11.0), Color32::WHITE);
        if laid.size().x + 6.0 < block.width() {
            painter.galley(pos2(block.left() + 4.0, block.center().y - 0.5 * laid.size().y), laid, Color32::WHITE);
        }
    }
}

/// Slanted lines: a length that is shown, not computed.
fn hatch(painter: &egui::Painter, block: Rect) {
    let stroke = egui::Stroke::new(1.0, Color32::from_white_alpha(50));
    let mut x = block.left() - block.height();
    while x < block.right() {
        painter.line_segment([pos2(x, block.bottom()), pos2(x + block.height(), block.top())], stroke);
        x += 6.0;
    }
}

/// The clearance of each pair of classes along each motion.
fn plot_ui(ui: &egui::Ui, panels: &mut Panels, playback: &Playback, axis: &Axis) {
    let (top, bottom) = axis.plot();
    let ground = Rect::from_min_max(pos2(axis.rect.left(), top), pos2(axis.rect.right(), bottom));
    let painter = ui.painter().with_clip_rect(ground.expand(1.0));
    painter.rect_filled(ground, 2.0, theme::LINE.gamma_multiply(0.22));
    let tick = egui::FontId::proportional(10.0);
    for metres in [0.0, 0.5, 1.0] {
        let y = axis.y(metres);
        painter.line_segment([pos2(ground.left(), y), pos2(ground.right(), y)], egui::Stroke::new(1.0, theme::LINE));
        let at = pos2(axis.rect.left() - 6.0, y);
        ui.painter().text(at, egui::Align2::RIGHT_CENTER, format!("{metres:.1} m"), tick.clone(), theme::QUIET);
    }
    let at = pos2(axis.rect.left() - NAMES, top + 6.0);
    ui.painter().text(at, egui::Align2::LEFT_CENTER, "clearance", egui::FontId::proportional(12.0), theme::QUIET);
    let drawn_for =
        DrawnFor { rect: axis.rect, total: axis.total, plot: axis.plot, profiles: panels.session.profile_count };
    if panels.plot.drawn_for != Some(drawn_for) {
        let mut mesh = egui::Mesh::default();
        for (number, profile) in &panels.session.profiles {
            let Some(span) = playback.spans.get(*number) else { continue };
            for line in most_telling(profile) {
                add_line(&mut mesh, span, line, colour_of_pair(line.classes), axis);
            }
        }
        *panels.plot = Plot { drawn_for: Some(drawn_for), mesh: Arc::new(mesh) };
    }
    painter.add(egui::Shape::Mesh(Arc::clone(&panels.plot.mesh)));
    if axis.plot.has_legend {
        legend_ui(ui, panels, axis);
    }
}

/// The plot of clearances as it was drawn last: thousands of pieces, which change only with the check or the window.
#[derive(Resource, Default)]
pub struct Plot {
    drawn_for: Option<DrawnFor>,
    mesh: Arc<egui::Mesh>,
}

/// Pairs of classes that plans have limits for, each with a colour of its own; all others share the last.
const COLOURED: [(BodyClass, BodyClass); 9] = [
    (BodyClass::Arm, BodyClass::Structure),
    (BodyClass::Rider, BodyClass::Structure),
    (BodyClass::Payload, BodyClass::Structure),
    (BodyClass::Arm, BodyClass::Rider),
    (BodyClass::Arm, BodyClass::Payload),
    (BodyClass::Restraint, BodyClass::Structure),
    (BodyClass::Arm, BodyClass::Arm),
    (BodyClass::Rider, BodyClass::SecondCrew),
    (BodyClass::Arm, BodyClass::SecondCrew),
];

/// The colour of a pair of classes, the same in every plan.
fn colour_of_pair(pair: ClassPair) -> Color32 {
    let is_it = |(a, b): &(BodyClass, BodyClass)| ClassPair::new(*a, *b) == pair;
    COLOURS[COLOURED.iter().position(is_it).unwrap_or(COLOURED.len())]
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct DrawnFor {
    rect: Rect,
    total: f64,
    plot: Plotted,
    /// How many profiles have come since the viewer began.
    profiles: usize,
}

/// The pairs of classes that come nearest to their limits.
fn most_telling(profile: &Profile) -> Vec<&ProfileLine> {
    let margin = |line: &&ProfileLine| {
        let of_piece = |piece: &crate::check::ProfilePiece| piece.clearance.map(|bound| bound.lower - piece.limit);
        line.pieces.iter().filter_map(of_piece).fold(f64::INFINITY, f64::min)
    };
    let mut lines: Vec<&ProfileLine> = profile.lines.iter().collect();
    lines.sort_by(|a, b| margin(a).total_cmp(&margin(b)));
    lines.truncate(MOST_LINES);
    lines
}

fn add_line(mesh: &mut egui::Mesh, span: &Span, line: &ProfileLine, colour: Color32, axis: &Axis) {
    let mut before: Option<Rect> = None;
    for piece in &line.pieces {
        let moment = |fraction| axis.x(span.start + span.seconds_at(At { segment: piece.interval.segment, fraction }));
        let (left, right) = (moment(piece.interval.start), moment(piece.interval.end));
        let Some(bound) = piece.clearance.filter(|bound| bound.lower < TOP) else {
            before = None;
            continue;
        };
        let (upper, lower) = (axis.y(bound.upper.min(TOP)), axis.y(bound.lower));
        let body = Rect::from_min_max(pos2(left, upper), pos2(right.max(left + 0.5), lower.max(upper + 1.5)));
        mesh.add_colored_rect(body, colour.gamma_multiply(0.8));
        // Two pieces that follow each other are joined, so that a steep run reads as one line.
        if let Some(before) = before.filter(|before| (before.right() - left).abs() < 1.0) {
            let (high, low) = (before.top().min(body.top()), before.bottom().max(body.bottom()));
            let joint = Rect::from_min_max(pos2(left - 0.7, high), pos2(left + 0.7, low));
            mesh.add_colored_rect(joint, colour.gamma_multiply(0.8));
        }
        before = Some(body);
        let limit = axis.y(piece.limit);
        let line = Rect::from_min_max(pos2(left, limit - 0.5), pos2(right, limit + 0.5));
        mesh.add_colored_rect(line, colour.gamma_multiply(0.45));
    }
}

/// Which colour is which pair, of the motion that is shown.
fn legend_ui(ui: &egui::Ui, panels: &mut Panels, axis: &Axis) {
    let Some(profile) = panels.shown.span.and_then(|span| panels.session.profiles.get(&span)) else { return };
    let (_, bottom) = axis.plot();
    let mut at = pos2(axis.rect.left(), bottom + 3.0);
    for line in most_telling(profile) {
        let colour = colour_of_pair(line.classes);
        let swatch = Rect::from_min_size(at + vec2(0.0, 3.0), vec2(10.0, 6.0));
        ui.painter().rect_filled(swatch, 1.0, colour);
        let text = words::classes(line.classes);
        let drawn = ui.painter().text(
            at + vec2(14.0, 0.0),
            egui::Align2::LEFT_TOP,
            text,
            egui::FontId::proportional(11.0),
            theme::QUIET,
        );
        at.x = drawn.right() + 14.0;
    }
}

/// Findings that are not well, where they are.
fn marks_ui(ui: &egui::Ui, panels: &Panels, playback: &Playback, axis: &Axis) {
    for finding in panels.session.findings() {
        if !matches!(finding.status, Status::Violation(_) | Status::Tight) {
            continue;
        }
        let Some((_, at)) = playback.moment_of(finding) else { continue };
        let mark = theme::mark(&finding.status);
        let (top, bottom) = axis.plot();
        let font = egui::FontId::proportional(12.0);
        ui.painter().text(
            pos2(axis.x(at), (top + 7.0).min(bottom)),
            egui::Align2::CENTER_CENTER,
            mark.shape,
            font,
            mark.colour,
        );
    }
}

fn playhead_ui(ui: &egui::Ui, panels: &Panels, axis: &Axis) {
    let x = axis.x(panels.clock.at);
    let (_, bottom) = axis.plot();
    let stroke = egui::Stroke::new(2.0, theme::TEXT);
    ui.painter().line_segment([pos2(x, axis.rect.top()), pos2(x, bottom)], stroke);
    let head =
        [pos2(x - 5.0, axis.rect.top() - 3.0), pos2(x + 5.0, axis.rect.top() - 3.0), pos2(x, axis.rect.top() + 5.0)];
    ui.painter().add(egui::Shape::convex_polygon(head.to_vec(), theme::TEXT, egui::Stroke::NONE));
}

fn hover_ui(ui: &mut egui::Ui, playback: &Playback, seconds: f64) {
    let Some((_, span)) = playback.span_at(seconds) else { return };
    ui.label(title(span));
    let lasts = number::minutes(span.seconds, 1, Rounding::Up);
    let note = if span.timed { format!("lasts {lasts}") } else { "not timed; its length here is no result".to_owned() };
    ui.label(egui::RichText::new(note).color(theme::QUIET));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_low_band_gives_up_the_plot_s_height_then_its_legend_then_the_plot_and_is_never_higher_than_its_room() {
        let rows = 3.0 * ROW;
        for height in 0..300 {
            let height = height as f32;
            let plot = Plotted::in_height(height);
            assert!(plot.height() == 0.0 || rows + plot.height() <= height + 1e-3, "{plot:?} in {height}");
            assert!(plot.clearances == 0.0 || (LEAST_PLOT..=PLOT).contains(&plot.clearances), "{plot:?}");
            let next = Plotted::in_height(height + 1.0);
            assert!(next.height() >= plot.height() - 1e-3 || next.has_legend, "{plot:?}, then {next:?}");
        }
        assert_eq!(Plotted::in_height(300.0), Plotted { clearances: PLOT, has_legend: true });
        assert_eq!(Plotted::in_height(rows), Plotted { clearances: 0.0, has_legend: false });
    }

    #[test]
    fn pairs_that_plans_have_limits_for_have_colours_of_their_own() {
        let own: Vec<Color32> = COLOURED.iter().map(|(a, b)| colour_of_pair(ClassPair::new(*b, *a))).collect();
        assert!((1..own.len()).all(|k| !own[..k].contains(&own[k])), "no two have the same: {own:?}");
        let other = colour_of_pair(ClassPair::new(BodyClass::Payload, BodyClass::Payload));
        assert!(!own.contains(&other));
    }
}
