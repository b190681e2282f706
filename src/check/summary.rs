//! What does the plan come to, apart from limits: who stands where, which motions are made, what may touch?

use std::collections::BTreeSet;

use crate::crew::{JOINTS, PostureOutcome, Side};
use crate::mechanism::JointMotion;
use crate::model::{BodyClass, Deed, Hands, JointKind, Who};
use crate::space::Vector;
use crate::state::{Carried, Doing, Event, Fault, Scene};

use super::case::{Case, MoveCase, StayCase};
use super::finding::{Finding, Place, Unit};
use super::judge::key;
use super::off_body::off_bodies;
use super::outcome::{Exemption, JointName, MotionSummary, Outcome, TargetUse, Visit};

/// Everything, with what the checks find.
pub fn summarise(case: &Case) -> Outcome {
    let project = case.scene.project;
    let joint = |joint: &crate::model::ArmJoint| JointName {
        name: joint.name.clone(),
        turns: joint.kind == JointKind::Revolute,
    };
    Outcome {
        title: project.plan.title.clone(),
        arm_joints: project.arm.joint.iter().map(joint).collect(),
        visits: case.stays.iter().map(|stay| visit(case.scene, stay)).collect(),
        motions: case.moves.iter().map(|moved| motion(moved, project.plan.near_worksite_m)).collect(),
        findings: case.findings(),
        notes: notes(case.scene),
        odd: off_bodies(case.scene),
        exemptions: exemptions(case),
    }
}

/// What is said of the crew's sizes, for whoever is in the plan; once where it holds for both.
fn notes(scene: &Scene) -> Vec<String> {
    let in_plan = |who| scene.project.plan.step.iter().any(|step| step.who == who);
    let figures = [("rider", Who::Rider, &scene.rider), ("second crew", Who::SecondCrew, &scene.second_crew)];
    let mut said: Vec<(&String, Vec<&str>)> = Vec::new();
    for (word, _, figure) in figures.into_iter().filter(|(_, who, _)| in_plan(*who)) {
        for note in figure.notes() {
            match said.iter_mut().find(|(known, _)| *known == note) {
                Some((_, words)) => words.push(word),
                None => said.push((note, vec![word])),
            }
        }
    }
    said.into_iter().map(|(note, words)| format!("{}: {note}", words.join(" and "))).collect()
}

/// Steps that this version does not model.
pub fn not_modelled(case: &Case) -> Vec<Finding> {
    case.walk
        .events
        .iter()
        .filter_map(|event| match event {
            Event::NotChecked { step, who, reason } => {
                let place = Place::Step { step: step.clone() };
                let key = key("step", place, Some(*who), "whole step");
                Some(Finding::not_checked(key, Unit::Metre, reason.clone()))
            }
            Event::Stance(_) | Event::Stay(_) | Event::Move(_) => None,
        })
        .collect()
}

fn visit(scene: &Scene, case: &StayCase) -> Visit {
    let (stay, site) = (&case.stay, &case.site);
    let (stand, detents) = match (stay.who, &stay.moment.second_crew) {
        (Who::SecondCrew, Some(second)) => (second.socket.clone(), second.detents.clone()),
        _ => (stay.moment.stand.clone(), stay.moment.detents.clone()),
    };
    let names = scene.project.restraint.joint.iter().map(|joint| joint.name.clone());
    Visit {
        worksite: stay.worksite.clone(),
        step: stay.step.clone(),
        deed: match stay.doing {
            Doing::Work { .. } => Deed::Work,
            Doing::Take { .. } => Deed::Take,
            Doing::Place { .. } => Deed::Place,
        },
        who: stay.who,
        stand,
        detents: names.zip(detents).collect(),
        structure_from_plate: case.structure_from_plate,
        arm: stay.moment.arm.clone(),
        approach: Vector::from(site.approach).normalize(),
        targets: case
            .uses
            .iter()
            .map(|used| {
                let found = matches!(used.outcome, PostureOutcome::Found(_));
                let hands = match used.sides.as_slice() {
                    [Side::Left] => Hands::Left,
                    [Side::Right] => Hands::Right,
                    _ => Hands::Both,
                };
                TargetUse {
                    target: used.subject.clone(),
                    tool: used.target.as_ref().map_or(0.0, |target| target.tool_m),
                    hands: found.then_some(hands),
                    joints: match &used.outcome {
                        PostureOutcome::Found(posture) => {
                            JOINTS.iter().map(|name| (*name).to_owned()).zip(posture.q).collect()
                        }
                        PostureOutcome::NotFound(_) => Vec::new(),
                    },
                }
            })
            .collect(),
    }
}

fn motion(case: &MoveCase, near_worksite: f64) -> MotionSummary {
    let moved = &case.moved;
    let mut waypoints: Vec<Vec<f64>> = moved.segments.first().map(|segment| segment.from.clone()).into_iter().collect();
    waypoints.extend(moved.segments.iter().map(|segment| segment.to.clone()));
    let mut carries = Vec::new();
    if moved.moment.rider.is_some() {
        carries.push(BodyClass::Rider);
    }
    if moved.moment.payloads.iter().any(|payload| matches!(payload, Carried::InHands { .. })) {
        carries.push(BodyClass::Payload);
    }
    MotionSummary {
        id: moved.id.clone(),
        step: moved.step.clone(),
        kind: moved.kind,
        joints: (0..case.frozen.variable_count())
            .map(|variable| {
                let link = case.frozen.link(case.frozen.link_of_variable(variable));
                JointName { name: link.name.clone(), turns: link.joint.motion == JointMotion::Revolute }
            })
            .collect(),
        waypoints,
        near_worksite: moved.distances.iter().map(|distance| *distance <= near_worksite).collect(),
        seconds: case.seconds().filter(|_| !moved.segments.is_empty()),
        carries,
        not_checked: match &moved.fault {
            Some(Fault::NoWay) => Some("the plan does not give the way of the base".to_owned()),
            Some(_) => Some("it could not be laid out".to_owned()),
            None => None,
        },
    }
}

/// Every pair that may touch in some motion or posture.
fn exemptions(case: &Case) -> Vec<Exemption> {
    let mut found: BTreeSet<Exemption> = case.said().flat_map(|said| &said.exemptions).cloned().collect();
    for contact in &case.scene.project.plan.contact {
        let source = contact.source.as_ref().map(|source| format!("; {source}")).unwrap_or_default();
        found.insert(Exemption {
            a: contact.a.clone(),
            b: contact.b.clone(),
            reason: format!(
                "declared in {}, within {:.2} m, overlap at most {:.3} m{source}",
                contact.steps.join(", "),
                contact.within_m,
                contact.overlap_m
            ),
        });
    }
    found.into_iter().collect()
}
