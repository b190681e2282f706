//! How do structure, arm, restraint, crew and payload hang together at a moment?
//!
//! All of them are one mechanism. Its variables come in this order: the second crew's restraint and body, the base's
//! way, the arm, the rider's restraint, the rider's body; each as far as it is there.

use std::ops::Range as Span;

use crate::crew::{self, BodyLinks, Side};
use crate::mechanism::{
    Body, BodyId, JointMotion, LinkId, Mechanism, MechanismBuilder, Posed, Range, Slack, VirtualJoint,
};
use crate::model::{ArmJoint, BodyClass, JointKind, LinkShape, Target, Who, part};
use crate::space::{Direction, Point, Pose, Vector, pose};

use super::base_way::BaseMotion;
use super::event::MotionKind;
use super::moment::{Carried, Moment};
use super::scene::Scene;
use super::solids;

/// A plan at a moment, as one mechanism.
#[derive(Clone, Debug)]
pub struct Assembly {
    pub mechanism: Mechanism,
    /// All joint values of the moment.
    pub q: Vec<f64>,
    pub posed: Posed,
    /// The variable of the base's way, where the base moves.
    pub base: Option<usize>,
    pub arm: ArmLinks,
    pub restraint: RestraintLinks,
    pub rider: Option<BodyLinks>,
    pub second_crew: Option<SecondLinks>,
    /// Bodies of each payload, in the plan's order.
    pub payloads: Vec<Vec<BodyId>>,
    /// The payload that the rider's hands hold.
    pub held: Option<usize>,
    /// What glove and tool work on.
    pub worked_on: Vec<WorkedOn>,
}

/// Bodies that glove and tool of a crewmember work on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WorkedOn {
    pub who: Who,
    /// Their name, as a target's `on` has it.
    pub bodies: String,
}

impl WorkedOn {
    /// All that a target is on.
    pub fn at(target: &Target, who: Who) -> Vec<Self> {
        target.on.iter().map(|bodies| Self { who, bodies: bodies.clone() }).collect()
    }
}

/// What a moment does not say of itself.
#[derive(Clone, Debug, Default)]
pub struct Extras {
    /// How the base moves, at the start of its way.
    pub base: Option<BaseMotion>,
    /// The payload that the rider's hands hold though it still stands.
    pub held: Option<usize>,
    /// Tools in hands, and their lengths (m).
    pub tools: Vec<(Who, Side, f64)>,
    /// What glove and tool work on.
    pub worked_on: Vec<WorkedOn>,
}

/// Where the arm is in its mechanism.
#[derive(Clone, Debug)]
pub struct ArmLinks {
    pub base: LinkId,
    pub tip: LinkId,
    pub variables: Span<usize>,
}

/// Where a restraint is in its mechanism.
#[derive(Clone, Debug)]
pub struct RestraintLinks {
    /// Where it plugs in.
    pub plug: LinkId,
    pub plate: LinkId,
    pub variables: Span<usize>,
}

/// The second crew and their restraint.
#[derive(Clone, Debug)]
pub struct SecondLinks {
    pub restraint: RestraintLinks,
    pub body: BodyLinks,
}

impl Assembly {
    /// Puts a moment together.
    pub fn new(scene: &Scene, moment: &Moment) -> Self {
        Self::with(scene, moment, &Extras::default())
    }

    /// Puts a moment together, with more than it says of itself.
    pub fn with(scene: &Scene, moment: &Moment, extras: &Extras) -> Self {
        let project = scene.project;
        let plan = &project.plan;
        let mut builder = MechanismBuilder::new();
        let mut q = Vec::new();
        for body in &scene.fixed {
            builder.body(body.clone());
        }

        let second_crew = moment.second_crew.as_ref().map(|second| {
            let socket = builder.fixed("second-restraint", LinkId::STRUCTURE, scene.socket(&second.socket));
            let restraint = add_restraint(&mut builder, scene, socket, "second-restraint");
            q.extend(&second.detents);
            let plate = (restraint.plate, project.restraint.boot_spacing_m);
            let figure = (&scene.second_crew, &project.suit);
            let body = crew::attach(&mut builder, plate, BodyClass::SecondCrew, figure);
            q.extend(&second.body);
            SecondLinks { restraint, body }
        });

        let base_variable = extras.base.map(|_| builder.so_far().variable_count());
        let hung_on = match &extras.base {
            None => builder.fixed("arm/base", LinkId::STRUCTURE, scene.stand(&moment.stand)),
            Some(way) => {
                q.push(0.0);
                let from = way.structure_from_joint;
                let joint = builder.joint("base", LinkId::STRUCTURE, from, way.motion, way.axis, Range::FREE);
                builder.fixed("arm/base", joint, way.joint_from_base)
            }
        };
        let arm = add_arm(&mut builder, scene, hung_on);
        q.extend(&moment.arm);

        let plug = builder.fixed("restraint", arm.tip, Pose::identity());
        let restraint = add_restraint(&mut builder, scene, plug, "restraint");
        q.extend(&moment.detents);

        let rider = moment.rider.as_ref().map(|body| {
            let plate = (restraint.plate, project.restraint.boot_spacing_m);
            let figure = (&scene.rider, &project.suit);
            let links = crew::attach(&mut builder, plate, BodyClass::Rider, figure);
            q.extend(body);
            links
        });

        let payloads = plan
            .payload
            .iter()
            .zip(&moment.payloads)
            .map(|(payload, carried)| {
                let link = match carried {
                    Carried::Standing { structure_from_payload } => {
                        builder.fixed(&payload.id, LinkId::STRUCTURE, *structure_from_payload)
                    }
                    Carried::InHands { plate_from_payload } => {
                        builder.fixed(&payload.id, restraint.plate, *plate_from_payload)
                    }
                };
                let kind = (BodyClass::Payload, plan.tolerances.shape_m);
                add_shapes(&mut builder, scene, (link, &payload.id), &payload.shape, kind)
            })
            .collect();

        for (who, side, length) in &extras.tools {
            let links = match who {
                Who::Rider => rider.as_ref(),
                Who::SecondCrew => second_crew.as_ref().map(|second| &second.body),
            };
            if let Some(links) = links {
                crew::hold_tool(&mut builder, links, *side, *length);
            }
        }
        let carried = |carried: &Carried| matches!(carried, Carried::InHands { .. });
        let held = extras.held.or_else(|| moment.payloads.iter().position(carried));
        let mechanism = builder.finish();
        let posed = mechanism.pose(&q);
        let worked_on = extras.worked_on.clone();
        Self { mechanism, q, posed, base: base_variable, arm, restraint, rider, second_crew, payloads, held, worked_on }
    }

    /// The mechanism with only the arm's joints driven, though they stand still, too; unlike in [`Assembly::moving`], bodies that nothing moves stay on their own links.
    pub fn arm_at_rest(&self) -> Mechanism {
        self.mechanism.with_driven(&self.posed, &self.arm.variables.clone().collect::<Vec<_>>())
    }

    /// The variables that a kind of motion drives.
    pub fn driven(&self, kind: MotionKind) -> Span<usize> {
        match (kind, self.base) {
            (MotionKind::Base, Some(base)) => base..base + 1,
            (MotionKind::Base, None) => 0..0,
            (MotionKind::Setting, _) => self.restraint.variables.clone(),
            (MotionKind::Retreat | MotionKind::Transit | MotionKind::Approach, _) => self.arm.variables.clone(),
        }
    }

    /// The mechanism with only that driven which a kind of motion moves; everything else stands as it does now.
    pub fn moving(&self, kind: MotionKind) -> Mechanism {
        self.mechanism.with_moving(&self.posed, &self.driven(kind).collect::<Vec<_>>())
    }

    /// One crewmember's body; none if they don't stand in a restraint.
    pub fn body_links(&self, who: Who) -> Option<&BodyLinks> {
        match who {
            Who::Rider => self.rider.as_ref(),
            Who::SecondCrew => self.second_crew.as_ref().map(|second| &second.body),
        }
    }

    /// The nearest link inwards that a joint drives, else the first link of its machine, else the structure; links with
    /// the same one never move against each other.
    pub fn rigid_root(&self, link: LinkId) -> LinkId {
        let driven = |at: &LinkId| self.mechanism.link(*at).joint.variable.is_some();
        let path = || self.mechanism.path_inwards(link);
        path().find(driven).or_else(|| path().last()).unwrap_or(LinkId::STRUCTURE)
    }

    /// Where the boot plate is.
    pub fn structure_from_plate(&self) -> Pose {
        *self.posed.link(self.restraint.plate)
    }
}

fn add_shapes(
    builder: &mut MechanismBuilder,
    scene: &Scene,
    (link, prefix): (LinkId, &str),
    shapes: &[LinkShape],
    (class, growth): (BodyClass, f64),
) -> Vec<BodyId> {
    shapes
        .iter()
        .map(|shape| {
            let name = part(prefix, &shape.id);
            let at = pose(&shape.place);
            builder.body(solids::body(name, class, (link, &at), &shape.shape, (scene.meshes, growth)))
        })
        .collect()
}

/// The joint's motion and range (rad or m).
pub(super) fn joint_of(joint: &ArmJoint) -> (JointMotion, Range) {
    let missing = "reading an arm demands the limits of every joint";
    match joint.kind {
        JointKind::Revolute => {
            let [lowest, highest] = joint.turn_limits.expect(missing).map(|angle| angle.radians());
            (JointMotion::Revolute, Range { lowest, highest })
        }
        JointKind::Prismatic => {
            let [lowest, highest] = joint.slide_limits.expect(missing);
            (JointMotion::Prismatic, Range { lowest, highest })
        }
    }
}

fn add_arm(builder: &mut MechanismBuilder, scene: &Scene, base: LinkId) -> ArmLinks {
    let arm = &scene.project.arm;
    let tolerances = &scene.project.plan.tolerances;
    let first = builder.so_far().variable_count();
    add_play(builder, base, tolerances.base_m, tolerances.base.radians());
    let kind = (BodyClass::Arm, 0.0);
    add_shapes(builder, scene, (base, "arm/base"), &arm.base, kind);
    let mut link = base;
    for joint in &arm.joint {
        let (motion, range) = joint_of(joint);
        let axis = Direction::new_normalize(Vector::from(joint.axis));
        let name = part("arm", &joint.name);
        let far_end = link != base;
        link = builder.joint(&name, link, pose(&joint.place), motion, axis, range);
        let readout = match joint.kind {
            JointKind::Revolute => tolerances.joint.radians(),
            JointKind::Prismatic => tolerances.joint_m,
        };
        builder.readout(link, readout);
        // The play of a link's far end sits where the next link begins.
        if far_end {
            add_play(builder, link, tolerances.link_m, tolerances.link.radians());
        }
        add_shapes(builder, scene, (link, &name), &joint.shape, kind);
    }
    let tip = builder.fixed("arm/tip", link, pose(&arm.tip));
    add_play(builder, tip, tolerances.link_m, tolerances.link.radians());
    ArmLinks { base, tip, variables: first..builder.so_far().variable_count() }
}

/// Three slides of `slide` m, together at most √3 times that, and three turns of `turn` rad, about a link's origin.
fn add_play(builder: &mut MechanismBuilder, link: LinkId, slide: f64, turn: f64) {
    let at = Point::origin();
    if slide > 0.0 {
        builder.slack(link, VirtualJoint { at, slack: Slack::Slide { by: 3f64.sqrt() * slide } });
    }
    if turn > 0.0 {
        for axis in [Vector::x(), Vector::y(), Vector::z()] {
            builder.slack(link, VirtualJoint { at, slack: Slack::Turn { axis, by: turn } });
        }
    }
}

fn add_restraint(builder: &mut MechanismBuilder, scene: &Scene, plug: LinkId, name: &str) -> RestraintLinks {
    let restraint = &scene.project.restraint;
    let first = builder.so_far().variable_count();
    let kind = (BodyClass::Restraint, 0.0);
    add_shapes(builder, scene, (plug, name), &restraint.base, kind);
    let mut link = plug;
    for joint in &restraint.joint {
        let axis = Direction::new_normalize(Vector::from(joint.axis));
        let at = pose(&joint.place);
        let name = part(name, &joint.name);
        link = builder.joint(&name, link, at, JointMotion::Revolute, axis, Range::FREE);
        add_shapes(builder, scene, (link, &name), &joint.shape, kind);
    }
    let plate = builder.fixed(&part(name, "plate"), link, pose(&restraint.plate));
    RestraintLinks { plug, plate, variables: first..builder.so_far().variable_count() }
}

impl Assembly {
    /// Whether a body hangs on a link, however far out.
    pub fn hangs_on(&self, body: BodyId, link: LinkId) -> bool {
        self.mechanism.path_inwards(self.body(body).link).any(|on| on == link)
    }

    /// A body's name, for reports.
    pub fn name(&self, body: BodyId) -> &str {
        &self.body(body).name
    }

    /// A body.
    pub fn body(&self, body: BodyId) -> &Body {
        self.mechanism.body(body)
    }
}
