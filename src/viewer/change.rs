//! What can be changed, and to what?
//!
//! Joint by joint with limits shown, or by pulling the tip; settings of the restraint, stands, hands, sizes of the crew,
//! clearance limits. Everything is sent as a [`PlanEdit`].

use bevy::prelude::*;
use bevy_egui::egui;

use crate::model::{
    ArmJoint, AtLeast, Crew, Deed, Hands, JointKind, PlanEdit, Project, Regime, Stature, Step, Survey, Who, Worksite,
};
use crate::report::words;
use crate::space::Vector;
use crate::state::{ArmAlone, Scene, round_to_grid};

use super::panels::Panels;
use super::session::Ask;
use super::theme;
use super::typed_number::TypedNumber;

/// One step of pulling the tip, m.
const PULL: f64 = 0.05;

/// What is being changed.
#[derive(Resource, Clone, Debug, Default, PartialEq)]
pub struct Changing {
    /// Number of the step and of its waypoint.
    pub waypoint: Option<(usize, usize)>,
    /// The configuration that the panel shows to be changed.
    pub configuration: Option<Configuration>,
    /// Whether the camera is still to be turned to the tip, because another waypoint was chosen.
    pub to_be_seen: bool,
    /// Why the last pull, or what was typed last, was not done as it was meant, and in which part of the panel.
    refused: Option<(Part, String)>,
}

/// A part of the panel in which numbers are changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Part {
    Joints,
    Sizes,
    Limits,
}

/// A configuration of the arm, and what of the plan it belongs to.
#[derive(Clone, Debug, PartialEq)]
pub struct Configuration {
    of: Of,
    /// The stand at which the arm is then.
    pub stand: String,
    /// Degrees or metres, on the grid that operators key in.
    pub joints: Vec<f64>,
}

#[derive(Clone, Debug, PartialEq)]
enum Of {
    Waypoint { step: String, waypoint: usize },
    Worksite(String),
}

impl Configuration {
    /// The edit that puts other joint values (degrees or metres) in its place.
    pub fn edit(&self, joints: Vec<f64>) -> PlanEdit {
        match &self.of {
            Of::Waypoint { step, waypoint } => {
                PlanEdit::SetWaypoint { step: step.clone(), waypoint: *waypoint, joints }
            }
            Of::Worksite(id) => PlanEdit::SetConfiguration { worksite: id.clone(), joints },
        }
    }
}

/// The panel of changes.
pub fn change_ui(ui: &mut egui::Ui, panels: &mut Panels) {
    let Some(loaded) = panels.session.loaded.clone() else { return };
    let project = &loaded.project;
    egui::ScrollArea::vertical().auto_shrink(false).min_scrolled_height(0.0).show(ui, |ui| {
        let place = panels.session.checked.as_ref().and_then(|checked| {
            let span = checked.playback.spans.get(panels.shown.span?)?;
            Some((span.place.clone(), span.motion().map(|motion| motion.moved.step.clone())))
        });
        if let Some((place, step)) = place {
            match step {
                Some(step) => step_ui(ui, panels, project, &step),
                None => {
                    if let Some(site) = project.plan.worksite.iter().find(|site| site.id == place.name()) {
                        worksite_ui(ui, panels, project, site);
                    }
                }
            }
        }
        ui.separator();
        egui::CollapsingHeader::new("Sizes of the crew").show(ui, |ui| crew_ui(ui, panels, project));
        egui::CollapsingHeader::new("Least clearances").show(ui, |ui| limits_ui(ui, panels, project));
    });
}

fn send(panels: &mut Panels, edit: PlanEdit) {
    panels.asks.write(Ask::Edit(edit));
}

fn propose_ui(ui: &mut egui::Ui, panels: &mut Panels, name: &str) {
    if ui.button(format!("Propose for {name}")).on_hover_text("look for it anew, whatever the plan has").clicked() {
        panels.asks.write(Ask::Propose(name.to_owned()));
    }
}

/// The step that a motion belongs to: its waypoints, and the worksite that it goes to.
fn step_ui(ui: &mut egui::Ui, panels: &mut Panels, project: &Project, id: &str) {
    let Some(number) = project.plan.step_number(id) else { return };
    let step = &project.plan.step[number];
    if step.deed == Deed::Transit {
        ui.strong(format!("Waypoints of {id}"));
        propose_ui(ui, panels, id);
        waypoints_ui(ui, panels, project, (number, step, id));
    }
    let to = step.to.as_ref().and_then(|to| project.plan.worksite.iter().find(|site| site.id == *to));
    if let Some(site) = to {
        ui.separator();
        worksite_ui(ui, panels, project, site);
    }
}

fn waypoints_ui(ui: &mut egui::Ui, panels: &mut Panels, project: &Project, (number, step, id): (usize, &Step, &str)) {
    ui.horizontal_wrapped(|ui| {
        for waypoint in 0..step.waypoint.len() {
            let on = panels.changing.waypoint == Some((number, waypoint));
            let button = egui::Button::new(format!("Waypoint {}", waypoint + 1)).selected(on);
            if ui.add(button).on_hover_text("look at it and change it").clicked() {
                panels.changing.waypoint = Some((number, waypoint));
                panels.changing.to_be_seen = true;
                panels.changing.refused = None;
                jump_to_waypoint(panels, project, id, waypoint);
            }
        }
        if ui.button("+ here").on_hover_text("a waypoint where the arm is now").clicked()
            && let Some((waypoint, joints)) = here(panels, project)
        {
            send(panels, PlanEdit::AddWaypoint { step: id.to_owned(), waypoint, joints });
            panels.changing.waypoint = Some((number, waypoint));
        }
    });
    let Some((_, waypoint)) = panels.changing.waypoint.filter(|(of, at)| *of == number && *at < step.waypoint.len())
    else {
        ui.label(egui::RichText::new("Choose a waypoint, or add one where the arm is now.").color(theme::QUIET));
        return;
    };
    let Some(joints) = waypoint_joints(panels, project, id, waypoint) else { return };
    let Some(stand) = stand_of(panels) else { return };
    let of = Of::Waypoint { step: id.to_owned(), waypoint };
    configuration_ui(ui, panels, project, Configuration { of, stand, joints });
    if ui.button("Take this waypoint out").clicked() {
        send(panels, PlanEdit::RemoveWaypoint { step: id.to_owned(), waypoint });
        panels.changing.waypoint = None;
    }
}

/// The joint values of a waypoint in the file's units, as the engine resolved them.
fn waypoint_joints(panels: &Panels, project: &Project, step: &str, waypoint: usize) -> Option<Vec<f64>> {
    let checked = panels.session.checked.as_ref()?;
    let motion = checked.outcome.motions.iter().find(|motion| motion.id == format!("{step}/transit"))?;
    // The first configuration is where the retreat ended.
    let joints = motion.waypoints.get(waypoint + 1)?;
    Some(in_file_units(joints, &project.arm.joint))
}

fn jump_to_waypoint(panels: &mut Panels, project: &Project, step: &str, waypoint: usize) {
    let Some(checked) = panels.session.checked.clone() else { return };
    let id = format!("{step}/transit");
    let Some(span) = checked.playback.spans.iter().find(|span| span.place.name() == id) else { return };
    if waypoint < span.segments().len() && project.plan.step.iter().any(|step| !step.waypoint.is_empty()) {
        let at = span.start + span.seconds_at(crate::check::At { segment: waypoint, fraction: 1.0 });
        panels.asks.write(Ask::Jump(at - 1e-6));
    }
}

/// Where the arm is now: the number that a waypoint there would have, and its joints in the file's units.
fn here(panels: &Panels, project: &Project) -> Option<(usize, Vec<f64>)> {
    let checked = panels.session.checked.as_ref()?;
    let span = checked.playback.spans.get(panels.shown.span?)?;
    let at = span.at(panels.shown.seconds)?;
    let q = span.joints(panels.shown.seconds);
    Some((at.segment, in_file_units(&q[span.assembly().arm.variables.clone()], &project.arm.joint)))
}

/// The stand at which the arm is now.
fn stand_of(panels: &Panels) -> Option<String> {
    let checked = panels.session.checked.as_ref()?;
    let span = checked.playback.spans.get(panels.shown.span?)?;
    Some(span.moment().stand.clone())
}

/// Degrees or metres, on the grid that operators key in.
pub fn in_file_units(joints: &[f64], arm: &[ArmJoint]) -> Vec<f64> {
    let one = |(value, joint): (&f64, &ArmJoint)| match joint.kind {
        JointKind::Revolute => as_written(round_to_grid(*value, joint.kind).to_degrees()),
        JointKind::Prismatic => as_written(round_to_grid(*value, joint.kind)),
    };
    joints.iter().zip(arm).map(one).collect()
}

/// A configuration, to be changed joint by joint, or by its tip, for which there is a handle in the scene, too.
fn configuration_ui(ui: &mut egui::Ui, panels: &mut Panels, project: &Project, shown: Configuration) {
    joints_ui(ui, panels, &project.arm.joint, &shown);
    pull_ui(ui, panels, project, &shown);
    // Of two that are shown, the first has the handle.
    panels.changing.configuration.get_or_insert(shown);
}

/// One slider for each joint, over its range.
fn joints_ui(ui: &mut egui::Ui, panels: &mut Panels, arm: &[ArmJoint], shown: &Configuration) {
    let tried = panels.shown.preview.as_ref().filter(|_| panels.changing.configuration.is_none());
    let joints = tried.map_or_else(|| shown.joints.clone(), |tried| in_file_units(tried, arm));
    // What names and numbers leave of the panel.
    let room = ui.available_width();
    let is_narrow = room < 270.0;
    ui.spacing_mut().slider_width = if is_narrow { (room - 85.0).max(30.0) } else { (room - 195.0).max(100.0) };
    egui::Grid::new("joints").num_columns(if is_narrow { 1 } else { 2 }).show(ui, |ui| {
        for (k, joint) in arm.iter().enumerate() {
            let mut value = joints[k];
            ui.label(&joint.name);
            if is_narrow {
                ui.end_row();
            }
            let (range, unit, step, decimals) = match (joint.turn_limits, joint.slide_limits) {
                (Some([lowest, highest]), _) => (lowest.degrees()..=highest.degrees(), "°", 0.1, 1),
                (None, Some([lowest, highest])) => (lowest..=highest, " m", 0.001, 3),
                (None, None) => continue,
            };
            let typed = TypedNumber::new(range.clone(), unit);
            let slider = egui::Slider::new(&mut value, range).suffix(unit).step_by(step).fixed_decimals(decimals);
            let slider = slider.update_while_editing(false).custom_parser(|text| typed.parse(text));
            let is_changed = ui.add(slider).changed();
            hear(panels, Part::Joints, typed);
            if is_changed && value != joints[k] {
                let mut changed = joints.clone();
                changed[k] = value;
                panels.asks.write(Ask::EditOn(shown.edit(changed)));
            }
            ui.end_row();
        }
    });
    if panels.changing.configuration.is_none() {
        refused_ui(ui, panels, Part::Joints);
    }
}

/// Keeps why what was typed was not taken as it stands; what was taken takes the last one away.
fn hear(panels: &mut Panels, part: Part, typed: TypedNumber) {
    if let Some(why) = typed.said() {
        panels.changing.refused = why.map(|why| (part, why));
    }
}

fn refused_ui(ui: &mut egui::Ui, panels: &Panels, part: Part) {
    if let Some((_, why)) = panels.changing.refused.as_ref().filter(|(of, _)| *of == part) {
        let colour = ui.visuals().warn_fg_color;
        ui.add(egui::Label::new(egui::RichText::new(why).color(colour)).wrap());
    }
}

/// Buttons that pull the tip along an axis of the structure; inverse kinematics follows.
fn pull_ui(ui: &mut egui::Ui, panels: &mut Panels, project: &Project, shown: &Configuration) {
    let hint = format!("Drag the tip in the scene, or pull it {PULL} m at a time:");
    ui.label(egui::RichText::new(hint).color(theme::QUIET));
    ui.horizontal_wrapped(|ui| {
        let axes = [("x", Vector::x()), ("y", Vector::y()), ("z", Vector::z())];
        for (name, axis) in axes {
            for (sign, along) in [("−", -1.0), ("+", 1.0)] {
                if !ui.button(format!("{sign}{name}")).clicked() {
                    continue;
                }
                let Some(loaded) = panels.session.loaded.clone() else { return };
                let scene = Scene::new(&loaded.project, &loaded.meshes);
                let arm = ArmAlone::new(&scene, &shown.stand);
                let from = scene.joint_values(&shown.joints);
                panels.changing.refused = match arm.pulled(&from, &(axis * along * PULL)) {
                    Some(to) => {
                        panels.asks.write(Ask::EditOn(shown.edit(in_file_units(&to, &project.arm.joint))));
                        None
                    }
                    None => Some((Part::Joints, format!("the arm was not found to get its tip there ({sign}{name})"))),
                };
            }
        }
    });
}

/// A worksite: configuration, stand, settings, hands.
fn worksite_ui(ui: &mut egui::Ui, panels: &mut Panels, project: &Project, site: &Worksite) {
    ui.strong(format!("Worksite {}", site.id));
    propose_ui(ui, panels, &site.id);
    let mut stand = site.stand.clone();
    egui::ComboBox::from_label("stand").selected_text(&stand).show_ui(ui, |ui| {
        for known in &project.plan.stand {
            ui.selectable_value(&mut stand, known.id.clone(), &known.id);
        }
    });
    if stand != site.stand {
        send(panels, PlanEdit::SetStand { worksite: site.id.clone(), stand });
    }
    detents_ui(ui, panels, project, site);
    egui::CollapsingHeader::new("Arm at the worksite").id_salt(&site.id).show(ui, |ui| {
        let joints = site.joints.iter().map(|joint| as_written(*joint)).collect();
        let of = Of::Worksite(site.id.clone());
        configuration_ui(ui, panels, project, Configuration { of, stand: site.stand.clone(), joints });
    });
    egui::CollapsingHeader::new("Hands at the targets").id_salt((&site.id, "hands")).show(ui, |ui| {
        for target in &site.target {
            let mut hands = target.hands;
            egui::ComboBox::from_label(&target.id).selected_text(words::hands(hands)).show_ui(ui, |ui| {
                for choice in [Hands::Left, Hands::Right, Hands::Either, Hands::Both] {
                    ui.selectable_value(&mut hands, choice, words::hands(choice));
                }
            });
            if hands != target.hands {
                send(panels, PlanEdit::SetHands { worksite: site.id.clone(), target: target.id.clone(), hands });
            }
        }
    });
}

fn detents_ui(ui: &mut egui::Ui, panels: &mut Panels, project: &Project, site: &Worksite) {
    let second = site.second_crew.as_ref().map(|place| (Who::SecondCrew, &place.detents));
    for (who, detents) in std::iter::once((Who::Rider, &site.detents)).chain(second) {
        let written: Vec<f64> = detents.iter().map(|angle| as_written(angle.degrees())).collect();
        let mut wanted = written.clone();
        for (k, joint) in project.restraint.joint.iter().enumerate() {
            let Some(value) = wanted.get_mut(k) else { continue };
            let label = format!("{}, {}", joint.name, words::who(who));
            egui::ComboBox::from_label(label).selected_text(degrees(*value)).show_ui(ui, |ui| {
                for detent in &joint.detents {
                    ui.selectable_value(value, as_written(detent.degrees()), degrees(detent.degrees()));
                }
            });
        }
        if wanted != written {
            send(panels, PlanEdit::SetDetents { worksite: site.id.clone(), who, detents: wanted });
        }
    }
}

/// Degrees or metres as somebody would write them: what turning them into other units and back has added is taken off.
fn as_written(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

fn degrees(value: f64) -> String {
    format!("{}°", as_written(value))
}

fn crew_ui(ui: &mut egui::Ui, panels: &mut Panels, project: &Project) {
    for (who, crew) in [(Who::Rider, &project.plan.rider), (Who::SecondCrew, &project.plan.second_crew)] {
        let written = crew.stature.unwrap_or(Stature { percentile: 50.0, of: Survey::Men });
        let mut wanted = written;
        ui.horizontal(|ui| {
            ui.label(words::who(who));
            ui.selectable_value(&mut wanted.of, Survey::Women, "women");
            ui.selectable_value(&mut wanted.of, Survey::Men, "men");
        });
        let typed = TypedNumber::new(1.0..=99.0, "");
        let slider = egui::Slider::new(&mut wanted.percentile, 1.0..=99.0).step_by(1.0).text("percentile of stature");
        ui.add(slider.update_while_editing(false).custom_parser(|text| typed.parse(text)));
        hear(panels, Part::Sizes, typed);
        if wanted != written {
            let crew = Crew { stature: Some(wanted), measures: crew.measures };
            panels.asks.write(Ask::EditOn(PlanEdit::SetCrew { who, crew }));
        }
    }
    refused_ui(ui, panels, Part::Sizes);
}

fn limits_ui(ui: &mut egui::Ui, panels: &mut Panels, project: &Project) {
    let limits = &project.plan.limits;
    for (regime, name, stated) in [
        (Regime::Moving, "while the arm moves", &limits.moving),
        (Regime::AtWork, "at work", &limits.at_work),
        (Regime::Stopping, "stopping", &limits.stopping),
    ] {
        ui.label(egui::RichText::new(name).color(theme::QUIET));
        for (pair, limit) in &stated.clearance_m {
            limit_ui(ui, panels, regime, pair, limit);
        }
    }
    refused_ui(ui, panels, Part::Limits);
}

fn limit_ui(ui: &mut egui::Ui, panels: &mut Panels, regime: Regime, pair: &str, limit: &AtLeast) {
    let mut value = limit.value;
    ui.horizontal(|ui| {
        let typed = TypedNumber::new(0.0..=2.0, " m");
        let number = egui::DragValue::new(&mut value).speed(0.005).range(0.0..=2.0).suffix(" m");
        let number = number.update_while_editing(false).custom_parser(|text| typed.parse(text));
        let is_changed = ui.add(number).changed();
        hear(panels, Part::Limits, typed);
        if is_changed {
            panels.asks.write(Ask::EditOn(PlanEdit::SetClearance { regime, pair: pair.to_owned(), at_least: value }));
        }
        ui.label(pair.replace('_', " "));
    });
}
