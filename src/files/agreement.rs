//! Do the plan's joint values agree with its arm, and its settings with the detents of its restraint?

use crate::model::{Angle, Plan, Restraint};

use super::problem::{Problem, Problems};
use super::toml_file::Node;

/// Two settings are the same where they differ by no more than this, degrees.
const SAME_SETTING: f64 = 1e-6;

/// Looks at every list of arm joint values of a plan.
pub(super) fn check_arm(plan: &Plan, arm_joints: usize, file: Node<'_>, problems: &mut Problems) {
    for (worksite, node) in plan.worksite.iter().zip(file.key("worksite").items()) {
        count("joint value", worksite.joints.len(), arm_joints, "the arm", node.key("joints_deg_m"), problems);
    }
    for (step, node) in plan.step.iter().zip(file.key("step").items()) {
        for (waypoint, node) in step.waypoint.iter().zip(node.key("waypoint").items()) {
            if let Some(joints) = &waypoint.joints {
                count("joint value", joints.len(), arm_joints, "the arm", node.key("joints_deg_m"), problems);
            }
        }
    }
}

/// Looks at every list of restraint settings of a plan.
pub(super) fn check_restraint(plan: &Plan, restraint: &Restraint, file: Node<'_>, problems: &mut Problems) {
    for (worksite, node) in plan.worksite.iter().zip(file.key("worksite").items()) {
        detents(&worksite.detents, restraint, node.key("detents_deg"), problems);
        if let Some(second) = &worksite.second_crew {
            detents(&second.detents, restraint, node.key("second_crew").key("detents_deg"), problems);
        }
    }
}

fn detents(settings: &[Angle], restraint: &Restraint, node: Node<'_>, problems: &mut Problems) {
    count("setting", settings.len(), restraint.joint.len(), "the restraint", node, problems);
    for ((setting, joint), node) in settings.iter().zip(&restraint.joint).zip(node.items()) {
        let distance = |detent: &&Angle| (detent.degrees() - setting.degrees()).abs();
        let Some(nearest) = joint.detents.iter().min_by(|a, b| distance(a).total_cmp(&distance(b))) else { continue };
        if distance(&nearest) > SAME_SETTING {
            problems.push(Problem {
                at: node.place(),
                what: format!("{}° is no detent of `{}`", plain(*setting), joint.name),
                expected: "expected one of its `detents_deg`".to_owned(),
                nearest: Some(plain(*nearest)),
            });
        }
    }
}

/// An angle in degrees as it was written, without the rounding of the conversion to radians and back.
fn plain(angle: Angle) -> String {
    format!("{}", (angle.degrees() * 1e9).round() / 1e9)
}

fn count(thing: &str, found: usize, wanted: usize, whole: &str, node: Node<'_>, problems: &mut Problems) {
    if found != wanted {
        let s = if found == 1 { "" } else { "s" };
        let what = format!("{found} {thing}{s} for the {wanted} joints of {whole}");
        problems.add(node.place(), what, format!("expected {wanted}, in the order of the joints"));
    }
}
