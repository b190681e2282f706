//! Does what one file says fit together: keys for the kind of joint, numbers of things, angles within their range?

use crate::model::{Arm, ArmJoint, DEEPEST_OVERLAP, JointKind, Limits, Plan, Restraint, Structure, Suit};

use super::numbers::LONGEST;
use super::problem::Problems;
use super::toml_file::Node;

/// Joints of an arm, or of a restraint.
const MOST_JOINTS: usize = 12;
/// Bays of one truss run.
pub(super) const MOST_BAYS_OF_A_RUN: u32 = 1000;
/// Bays of all truss runs together: each becomes thirteen bodies.
const MOST_BAYS: u32 = 10_000;

/// Looks at a plan as read from its file.
pub(super) fn check_plan(plan: &Plan, file: Node<'_>, problems: &mut Problems) {
    for (list, is_empty) in
        [("stand", plan.stand.is_empty()), ("worksite", plan.worksite.is_empty()), ("step", plan.step.is_empty())]
    {
        if is_empty {
            problems.add(file.key(list).place(), format!("the plan has no {list}"), "expected at least one");
        }
    }
    deepest_overlap(&plan.limits, file.key("limits"), problems);
    for (payload, node) in plan.payload.iter().zip(file.key("payload").items()) {
        if payload.shape.is_empty() {
            let what = format!("the payload `{}` has no shape", payload.id);
            problems.add(node.key("shape").place(), what, "expected at least one");
        }
    }
    for (camera, node) in plan.camera.iter().zip(file.key("camera").items()) {
        if !(1.0..=150.0).contains(&camera.field.degrees()) {
            let what = format!("a field of view of {}°", camera.field.degrees());
            problems.add(node.key("field_deg").place(), what, "expected 1 to 150");
        }
    }
}

/// Refuses limits that allow an overlap which is none any more.
fn deepest_overlap(limits: &Limits, file: Node<'_>, problems: &mut Problems) {
    let regimes = [("moving", &limits.moving), ("at_work", &limits.at_work), ("stopping", &limits.stopping)];
    let clearances = regimes.into_iter().flat_map(|(regime, limits)| {
        let file = file.key(regime).key("clearance_m");
        limits.clearance_m.iter().map(move |(pair, limit)| (limit, file.key(pair)))
    });
    let on_target = limits.overlap_on_target_m.value;
    if !(0.0..=DEEPEST_OVERLAP).contains(&on_target) {
        let what = format!("`overlap_on_target_m` is {on_target}");
        let expected = format!("expected a number from 0 to {DEEPEST_OVERLAP}");
        problems.add(file.key("overlap_on_target_m").place(), what, expected);
    }
    for (limit, node) in clearances {
        if limit.value < -DEEPEST_OVERLAP {
            let what = format!("a clearance of {} allows an overlap of {} m", limit.value, -limit.value);
            problems.add(node.place(), what, format!("expected {} or more", -DEEPEST_OVERLAP));
        }
    }
}

/// Looks at an arm as read from its TOML file.
pub(super) fn check_arm(arm: &Arm, file: Node<'_>, problems: &mut Problems) {
    let joints = file.key("joint");
    if arm.joint.is_empty() || arm.joint.len() > MOST_JOINTS {
        let what = format!("the arm has {} joints", arm.joint.len());
        problems.add(joints.place(), what, format!("expected 1 to {MOST_JOINTS}"));
    }
    for (joint, node) in arm.joint.iter().zip(joints.items()) {
        check_joint(joint, node, problems);
    }
}

/// Keys of a turning joint, and what a sliding one has in their place; both kinds need the first two.
const KEYS: [(&str, &str); 3] =
    [("limits_deg", "limits_m"), ("rate_deg_s", "rate_m_s"), ("acceleration_deg_s2", "acceleration_m_s2")];

fn check_joint(joint: &ArmJoint, node: Node<'_>, problems: &mut Problems) {
    for (index, (turning, sliding)) in KEYS.into_iter().enumerate() {
        let (kind, own, foreign) = match joint.kind {
            JointKind::Revolute => ("revolute", turning, sliding),
            JointKind::Prismatic => ("prismatic", sliding, turning),
        };
        let wrong = node.key(foreign);
        if wrong.exists() {
            let what = format!("a {kind} joint has no `{foreign}`");
            problems.add(wrong.key_place(), what, format!("expected `{own}`"));
        } else if index < 2 && !node.key(own).exists() {
            let what = format!("the joint `{}` has no `{own}`", joint.name);
            problems.add(node.place(), what, format!("expected it in every {kind} joint"));
        }
    }
}

/// Looks at a restraint as read from its file.
pub(super) fn check_restraint(restraint: &Restraint, file: Node<'_>, problems: &mut Problems) {
    let joints = file.key("joint");
    if restraint.joint.len() > MOST_JOINTS {
        let what = format!("the restraint has {} joints", restraint.joint.len());
        problems.add(joints.place(), what, format!("expected at most {MOST_JOINTS}"));
    }
    for (joint, node) in restraint.joint.iter().zip(joints.items()) {
        if joint.detents.is_empty() {
            let what = format!("`{}` has no detent", joint.name);
            problems.add(node.key("detents_deg").place(), what, "expected at least one setting");
        }
    }
}

/// Looks at a suit as read from its file.
pub(super) fn check_suit(suit: &Suit, file: Node<'_>, problems: &mut Problems) {
    for (name, joint) in &suit.joint {
        let [lowest, highest] = joint.range;
        let node = file.key("joint").key(name).key("neutral_deg");
        if joint.neutral.is_some_and(|neutral| !(lowest..=highest).contains(&neutral)) {
            problems.add(node.place(), "the neutral angle is out of range", "expected an angle within `range_deg`");
        }
    }
}

/// Looks at a structure as read from its file.
pub(super) fn check_structure(structure: &Structure, file: Node<'_>, problems: &mut Problems) {
    // A run of too many bays is told with its number.
    let bays = structure.truss.iter().fold(0_u32, |sum, truss| sum.saturating_add(truss.bays.min(MOST_BAYS_OF_A_RUN)));
    if bays > MOST_BAYS {
        let expected = format!("expected at most {MOST_BAYS} in all");
        problems.add(file.key("truss").place(), format!("the truss runs have {bays} bays"), expected);
    }
    for (truss, node) in structure.truss.iter().zip(file.key("truss").items()) {
        let length = f64::from(truss.bays) * truss.bay_m;
        // What is wrong with a number alone is told with it.
        if truss.bays <= MOST_BAYS_OF_A_RUN && truss.bay_m <= LONGEST && length > LONGEST {
            let what = format!("the run is {length} m long");
            problems.add(node.key("bays").place(), what, format!("expected at most {LONGEST} m"));
        }
    }
    for (handrail, node) in structure.handrail.iter().zip(file.key("handrail").items()) {
        if handrail.from_m == handrail.to_m {
            problems.add(node.key("to_m").place(), "the handrail has no length", "expected two different points");
        }
    }
}
