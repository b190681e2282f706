//! What is written over the scene: distances beside their lines, names of targets, and where a chosen pair is that is out of
//! view?
//!
//! Pictures without panels are without words.

use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass, egui};

use crate::check::{InHelmet, Span, Status, Unit};
use crate::mechanism::Posed;
use crate::report::number::{self, Rounding};
use crate::report::words;
use crate::space::Point;

use super::bodies::Shown;
use super::cameras::{Standpoint, View};
use super::overlay::Drawn;
use super::panels::{Look, PanelsSystems};
use super::pointer::Sight;
use super::session::Session;
use super::theme;

/// The mark of what is out of view lies so far inside the edge of the scene, points.
const EDGE: f32 = 22.0;
/// Half the size of that mark, points.
const MARK: f32 = 11.0;

/// For each line that has its distance beside it the scene is so high, points.
const ROOM: f32 = 70.0;

/// Writes over the scene.
pub struct LabelsPlugin;

impl Plugin for LabelsPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(EguiPrimaryContextPass, labels_ui.before(PanelsSystems));
    }
}

/// Labels that don't lie on one another.
struct Labels {
    painter: egui::Painter,
    /// The scene's part of the screen.
    part: egui::Rect,
    taken: Vec<egui::Rect>,
}

impl Labels {
    /// Writes beside a place, below what stands there already, and inside the scene.
    fn put(&mut self, at: egui::Pos2, text: String, colour: egui::Color32) {
        let laid = self.painter.layout_no_wrap(text, egui::FontId::proportional(13.0), colour);
        let mut frame = egui::Rect::from_min_size(at, laid.size()).expand2(egui::vec2(5.0, 2.0));
        let beyond = (frame.right() - self.part.right()).max(0.0);
        frame = frame.translate(egui::vec2(-beyond, 0.0));
        while let Some(other) = self.taken.iter().find(|other| other.intersects(frame)) {
            frame = frame.translate(egui::vec2(0.0, other.bottom() - frame.top() + 1.0));
        }
        self.taken.push(frame);
        // White bodies lie behind as often as the dark sky.
        let line = egui::Stroke::new(1.0, theme::LINE);
        self.painter.rect(frame, 3.0, theme::PANEL, line, egui::StrokeKind::Inside);
        self.painter.galley(frame.min + egui::vec2(5.0, 2.0), laid, colour);
    }

    /// Marks at the edge of the scene which way something lies, and writes what it is.
    fn put_at_edge(&mut self, towards: egui::Vec2, text: String, colour: egui::Color32) {
        let tip = at_edge(self.part, towards);
        let (back, aside) = (tip - 2.0 * MARK * towards, MARK * towards.rot90());
        let line = egui::Stroke::new(1.5, theme::PANEL);
        let corners = vec![tip, back + aside, back - aside];
        self.painter.add(egui::Shape::convex_polygon(corners, colour, line));
        let mark = egui::Rect::from_center_size(tip - MARK * towards, egui::Vec2::splat(2.0 * MARK));
        self.taken.push(mark);
        let width = 7.0 * text.len() as f32;
        let left = if towards.x > 0.3 { mark.left() - width } else { mark.right() + 4.0 };
        let above = if towards.y > 0.3 { 18.0 } else { 0.0 };
        self.put(egui::pos2(left.max(self.part.left() + 8.0), mark.center().y - 8.0 - above), text, colour);
    }
}

/// Where a way from the middle of a part of the screen comes to its edge.
fn at_edge(part: egui::Rect, towards: egui::Vec2) -> egui::Pos2 {
    let half = 0.5 * part.shrink(EDGE).size();
    let steps = (half.x / towards.x.abs().max(1e-6)).min(half.y / towards.y.abs().max(1e-6));
    part.center() + steps.max(0.0) * towards
}

fn labels_ui(
    mut contexts: EguiContexts,
    (session, shown, drawn): (Res<Session>, Res<Shown>, Res<Drawn>),
    (sight, look, view): (Sight, Res<Look>, Res<View>),
) -> Result {
    if !look.panels {
        return Ok(());
    }
    let context = contexts.ctx_mut()?;
    let (scale, part) = sight.in_points(context);
    let painter = context.layer_painter(egui::LayerId::background()).with_clip_rect(part);
    let on_screen = |at: &Point| sight.on_screen(at).map(|at| egui::pos2(at.x * scale, at.y * scale));
    let mut labels = Labels { painter, part, taken: Vec::new() };
    let Some((span, posed)) = shown.present(&session) else { return Ok(()) };
    // What is chosen comes first; in a low scene the others would hide what they belong to.
    let most = (part.height() / ROOM).max(1.0) as usize;
    for line in drawn.lines.iter().take(most) {
        let middle = nalgebra::center(&line.points[0], &line.points[1]);
        let distance = number::value(line.distance, Unit::Metre, Rounding::Nearest);
        let is_here = |at: &egui::Pos2| part.contains(*at);
        let hidden = if line.chosen { hidden(&view.standpoint, (span, posed), &middle) } else { None };
        let said = |why: Option<&str>| why.map_or(distance.clone(), |why| format!("{distance}, {why}"));
        match on_screen(&middle).filter(is_here) {
            Some(at) => labels.put(at + egui::vec2(8.0, -6.0), said(hidden), line.colour),
            None if line.chosen => {
                let bearing = sight.bearing(&middle);
                let behind = bearing.is_behind.then_some("behind the camera");
                let towards = egui::vec2(bearing.towards.x, bearing.towards.y);
                labels.put_at_edge(towards, said(hidden.or(behind)), line.colour);
            }
            None => {}
        }
    }
    let Some(loaded) = &session.loaded else { return Ok(()) };
    for site in loaded.project.plan.worksite.iter().filter(|site| site.id == span.place.name()) {
        for target in site.target.iter().filter(|target| target.who == span.who) {
            let now = span.subject.as_ref() == Some(&target.id);
            let seen = session.findings().iter().find(|finding| {
                finding.key.check == "sight" && finding.key.place == span.place && finding.key.subject == target.id
            });
            let share = seen.filter(|finding| !matches!(finding.status, Status::NotChecked(_)));
            let share = share.map(|finding| format!(" · eye sees {}", words::value(finding)));
            let text = format!("{}{}", target.id, share.filter(|_| now).unwrap_or_default());
            if let Some(at) = on_screen(&Point::from(target.at_m)).filter(|at| part.contains(*at)) {
                labels.put(at + egui::vec2(10.0, -18.0), text, if now { theme::TEXT } else { theme::QUIET });
            }
        }
    }
    Ok(())
}

/// Why a helmet does not show a place, for who looks out of it.
fn hidden(standpoint: &Standpoint, (span, posed): (&Span, &Posed), at: &Point) -> Option<&'static str> {
    let Standpoint::Visor(who) = standpoint else { return None };
    match span.in_helmet(posed, *who, at)? {
        InHelmet::Inside => None,
        InHelmet::Outside => Some("outside the helmet's view"),
        InHelmet::Behind => Some("behind the helmet"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Who;
    use crate::viewer::testing::Opened;

    #[test]
    fn what_is_out_of_view_is_marked_just_inside_the_edge_on_its_side() {
        let part = egui::Rect::from_min_max(egui::pos2(300.0, 80.0), egui::pos2(900.0, 480.0));
        for turn in 0..32 {
            let towards = egui::Vec2::angled(turn as f32 * std::f32::consts::TAU / 32.0);
            let at = at_edge(part, towards);
            let inner = part.shrink(EDGE);
            assert!(inner.expand(1e-2).contains(at), "{at:?}");
            assert!(!inner.shrink(1e-2).contains(at), "{at:?} is not at the edge");
            assert!((at - part.center()).normalized().dot(towards) > 0.9999);
        }
    }

    #[test]
    fn who_looks_out_of_a_helmet_is_told_what_it_does_not_show_and_others_are_not() {
        let opened = Opened::starter();
        let checked = opened.session().checked.clone().expect("it is checked");
        let span = checked.playback.spans.iter().find(|span| span.motion().is_some()).expect("a motion");
        let posed = span.mechanism().pose(&span.joints(0.0));
        let eye = *posed.link(span.assembly().body_links(Who::Rider).expect("a rider").eye);
        let told = |standpoint: &Standpoint, at: [f64; 3]| hidden(standpoint, (span, &posed), &(eye * Point::from(at)));
        let visor = Standpoint::Visor(Who::Rider);
        assert_eq!(told(&visor, [2.0, 0.0, 0.0]), None);
        assert_eq!(told(&visor, [-2.0, 0.1, 0.0]), Some("behind the helmet"));
        assert_eq!(told(&visor, [0.1, 0.0, 2.0]), Some("outside the helmet's view"));
        assert_eq!(told(&Standpoint::Orbit, [-2.0, 0.1, 0.0]), None);
    }
}
