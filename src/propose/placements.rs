//! Where can the boot plate be, so that hands and eyes get to all that is to be done at a worksite?
//!
//! # Law
//! Places of the plate are drawn from a sequence that fills their box evenly ([`Spread`]): roll about the direction
//! faced, pitch, and where the things lie before the chest. Faced is along the mean axis of the targets, or along the
//! approach. A place is ruled out
//! - exactly, where a grip lies in none of the plan's envelopes (the check `envelope`);
//! - exactly for the figure as modelled, where the carried body comes nearer to the structure than the limit at work;
//! - as not found, where a hand has no posture among what stands there, the arm left out.
//!
//! Those that are left come in the order of a *strain*: how far grips are from a comfortable distance of the shoulder
//! (62 % of the stretched arm), axes from the way the arm points, and sight from straight ahead. It decides the order only.
//!
//! # Source
//! common practice, no source, for the comfortable distance.

use std::collections::VecDeque;

use rayon::prelude::*;

use super::broken::{Broken, Tally};
use super::work::{Thing, Work};
use crate::check::{POSTURE, clearance_limit, envelope};
use crate::crew::Sides;
use crate::crew::{BodyLinks, Grip, PostureOutcome, PostureSearch, Task, View};
use crate::mechanism::{BodyId, LinkId};
use crate::model::{BodyClass, ClassPair, Regime};
use crate::space::{Convex, Point, Pose, Spread, Vector, World, aabb, separation};
use crate::state::{Scene, Standing};

/// Places of the plate that are drawn for each direction faced.
const DRAWN: usize = 6000;
/// Starts of each search for a posture.
const STARTS: usize = 2;
/// Places are asked for postures in lots of this size, so that the answer depends on no thread.
const LOT: usize = 16;
/// How far the head may be pitched from the direction faced, rad.
const PITCH: f64 = 0.7;
/// Where the middle of the things lies before the chest: forward, left and up, from and to, m.
const BEFORE_CHEST: [[f64; 2]; 3] = [[0.35, 1.15], [-0.35, 0.35], [-0.55, 0.45]];
/// The comfortable share of the stretched arm.
const COMFORTABLE: f64 = 0.62;

/// A place of the boot plate from which everything is reached.
#[derive(Clone, Debug, PartialEq)]
pub struct Placement {
    /// Its number among those that were drawn.
    pub number: usize,
    pub structure_from_plate: Pose,
    /// No unit: the order of the search.
    pub strain: f64,
}

/// How many places were looked at, and what ruled them out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlacesTried {
    pub drawn: usize,
    /// A grip would lie in no envelope of the plan.
    pub outside_envelope: usize,
    /// The body would be too near to the structure.
    pub near_structure: usize,
    /// No posture was found for something; for what first.
    pub no_posture: Tally,
    /// Enough others were found before these.
    pub not_asked: usize,
}

/// Somebody in the neutral posture, in the plate's frame.
struct Neutral {
    plate_from_chest: Pose,
    shoulder: Sides<Point>,
    eye: Pose,
    view: View,
    /// From shoulder to grip, the arm stretched, m.
    stretched: f64,
    /// What of the body takes up room.
    parts: Vec<(Pose, Convex)>,
}

impl Neutral {
    fn of(standing: &Standing) -> Self {
        let links: &BodyLinks = &standing.links;
        let posed = standing.frozen.pose(&links.neutral);
        let plate_from_structure = posed.link(links.plate).inverse();
        let at = |link: LinkId| plate_from_structure * posed.link(link);
        let point = |link: LinkId| Point::from(at(link).translation.vector);
        let bodies = links.bodies.clone().map(BodyId);
        let parts = bodies.flat_map(|body| {
            let body = standing.frozen.body(body);
            body.parts.iter().map(move |part| (body.link, part.clone()))
        });
        Self {
            plate_from_chest: plate_from_structure * envelope::structure_from_chest(standing),
            shoulder: Sides::of(|side| point(*links.shoulder.on(side))),
            eye: at(links.eye),
            view: links.view,
            stretched: links.figure.upper_arm + links.figure.forearm + links.figure.wrist_to_grip,
            parts: parts.map(|(link, part)| (at(link), part)).collect(),
        }
    }
}

/// Places of the plate that are still to be asked, least strain first.
pub struct Places<'a> {
    scene: &'a Scene<'a>,
    work: &'a Work<'a>,
    neutral: Neutral,
    still: Vec<(Pose, &'a Convex)>,
    world: World,
    left: VecDeque<Placement>,
    /// The one of least strain.
    pub first: Option<Placement>,
    pub tried: PlacesTried,
}

impl<'a> Places<'a> {
    /// All that are drawn, but for those outside the plan's envelopes.
    pub fn new(scene: &'a Scene<'a>, work: &'a Work<'a>) -> Self {
        let neutral = Neutral::of(&work.someone);
        let drawn: Vec<Pose> = match &work.plates {
            Some(plates) => plates.clone(),
            None => drawn(work, &neutral),
        };
        let mut tried = PlacesTried { drawn: drawn.len(), ..PlacesTried::default() };
        let mut ranked: Vec<Placement> = drawn
            .into_iter()
            .enumerate()
            .filter_map(|(number, plate)| {
                let strain: Option<f64> = work.things.iter().map(|thing| strain(scene, thing, &neutral, &plate)).sum();
                Some(Placement { number, structure_from_plate: plate, strain: strain? })
            })
            .collect();
        tried.outside_envelope = tried.drawn - ranked.len();
        tried.not_asked = ranked.len();
        ranked.sort_by(|a, b| a.strain.total_cmp(&b.strain));
        let parts = scene.fixed.iter().flat_map(|body| body.parts.iter().map(|part| (Pose::identity(), part)));
        let still: Vec<(Pose, &Convex)> = parts.collect();
        let world = World::new(&still);
        Self { scene, work, neutral, still, world, first: ranked.first().cloned(), left: ranked.into(), tried }
    }

    /// The next ones from which everything is reached, [`LOT`] of those that are left asked; none when none is left.
    pub fn next_lot(&mut self) -> Option<Vec<Placement>> {
        if self.left.is_empty() {
            return None;
        }
        let lot: Vec<Placement> = self.left.drain(..LOT.min(self.left.len())).collect();
        let least = least_at_work(self.scene);
        let room = Room { neutral: &self.neutral, still: &self.still, world: &self.world, least };
        let (scene, work) = (self.scene, self.work);
        let asked: Vec<Asked> = lot.par_iter().map(|placement| ask(scene, work, &room, placement)).collect();
        let mut found = Vec::new();
        for (placement, asked) in lot.into_iter().zip(asked) {
            match asked {
                Asked::NearStructure => self.tried.near_structure += 1,
                Asked::NoPosture(of) => {
                    self.tried.no_posture.add([Broken { check: POSTURE.to_owned(), of }]);
                }
                Asked::Reached => found.push(placement),
            }
        }
        self.tried.not_asked = self.left.len();
        Some(found)
    }
}

enum Asked {
    NearStructure,
    /// For this target or payload.
    NoPosture(String),
    Reached,
}

fn ask(scene: &Scene, work: &Work, room: &Room, placement: &Placement) -> Asked {
    let plate = &placement.structure_from_plate;
    if !work.shifts().iter().all(|shift| room.is_free(&(shift * plate))) {
        return Asked::NearStructure;
    }
    let without = work.things.iter().find(|thing| !has_posture(scene, thing, plate));
    without.map_or(Asked::Reached, |thing| Asked::NoPosture(thing.wanted.subject.clone()))
}

/// All that is drawn: orientations about each direction faced, and places of the chest before the middle of the things.
fn drawn(work: &Work, neutral: &Neutral) -> Vec<Pose> {
    let grips: Vec<Point> =
        work.things.iter().flat_map(|thing| thing.grips(&Pose::identity())).map(|grip| grip.at).collect();
    let middle = grips.iter().fold(Vector::zeros(), |sum, grip| sum + grip.coords) / grips.len().max(1) as f64;
    let spread = Spread::over(5);
    let mut drawn = Vec::new();
    for faced in work.faced() {
        let turned = nalgebra::UnitQuaternion::rotation_between(&Vector::x(), &faced)
            .unwrap_or_else(|| nalgebra::UnitQuaternion::from_axis_angle(&Vector::z_axis(), std::f64::consts::PI));
        for n in 0..DRAWN {
            let share: Vec<f64> = spread.point(n).collect();
            let [roll, pitch] = [share[0] * std::f64::consts::TAU, (2.0 * share[1] - 1.0) * PITCH];
            let offset = Vector::from_fn(|k, _| {
                let [from, to] = BEFORE_CHEST[k];
                from + (to - from) * share[2 + k]
            });
            let rotation = turned
                * nalgebra::UnitQuaternion::from_axis_angle(&Vector::x_axis(), roll)
                * nalgebra::UnitQuaternion::from_axis_angle(&Vector::y_axis(), pitch);
            let chest = Pose::from_parts((middle - rotation * offset).into(), rotation);
            drawn.push(chest * neutral.plate_from_chest.inverse());
        }
    }
    drawn
}

/// The strain of a thing's best choice of hands; none where each has a grip outside the plan's envelopes.
fn strain(scene: &Scene, thing: &Thing, neutral: &Neutral, plate: &Pose) -> Option<f64> {
    let plate = thing.shift * plate;
    let plate_from_structure = plate.inverse();
    let envelopes = &scene.project.plan.limits.envelope;
    let of_choice = |task: &Task| {
        let both = task.grips.len() > 1;
        let fitting: Vec<_> = envelopes.iter().filter(|envelope| envelope.both_hands == both).collect();
        let mut sum = 0.0;
        for grip in &task.grips {
            let axis = grip.axis.map(|(axis, _)| axis.into_inner());
            let at = plate_from_structure * (grip.at - axis.map_or(Vector::zeros(), |axis| axis * grip.tool));
            if envelope::best(&fitting, &(neutral.plate_from_chest.inverse() * at))
                .is_some_and(|(margin, _)| margin < 0.0)
            {
                return None;
            }
            let arm = at - neutral.shoulder.on(grip.side);
            let distance = arm.norm() / neutral.stretched;
            sum += ((distance - COMFORTABLE) / 0.25).powi(2);
            if let Some(axis) = axis {
                let turn = (plate_from_structure * axis).angle(&arm);
                sum += (turn / std::f64::consts::FRAC_PI_4).powi(2);
            }
        }
        if let Some(look_at) = task.look_at {
            let seen = neutral.eye.inverse() * (plate_from_structure * look_at);
            let (left, up) = (seen.y.atan2(seen.x), seen.z.atan2(seen.x.hypot(seen.y)));
            sum += (left / neutral.view.sideways).powi(2) + (up / neutral.view.down).powi(2);
        }
        Some(sum)
    };
    let sums = thing.tasks(&plate).filter_map(|(_, task)| of_choice(&task));
    sums.min_by(f64::total_cmp)
}

/// Whether each choice of hands has a grip outside the plan's envelopes, the boots on the plate of someone who stands there.
pub fn outside_envelopes(scene: &Scene, thing: &Thing) -> bool {
    let standing = &thing.choices[0].standing;
    let plate = standing.frozen.pose(&standing.links.neutral).link(standing.links.plate).to_owned();
    strain(scene, thing, &Neutral::of(standing), &plate).is_none()
}

/// What takes up room where the body might be.
struct Room<'a> {
    neutral: &'a Neutral,
    still: &'a [(Pose, &'a Convex)],
    world: &'a World,
    least: f64,
}

impl Room<'_> {
    /// Whether the neutral body on a plate there keeps clear of all that is fixed.
    fn is_free(&self, plate: &Pose) -> bool {
        let mut near = Vec::new();
        self.neutral.parts.iter().all(|(plate_from_link, part)| {
            let part = part.posed(&(plate * plate_from_link));
            self.world.near_into(&aabb(&part).grown(self.least.max(0.0)), &mut near);
            near.iter().all(|still| {
                let (pose, other) = &self.still[*still];
                separation(&part, &other.posed(pose)).lower >= self.least
            })
        })
    }
}

/// The least clearance at work of rider and structure, m.
fn least_at_work(scene: &Scene) -> f64 {
    let pair = ClassPair::new(BodyClass::Rider, BodyClass::Structure);
    clearance_limit(&scene.project.plan.limits, Regime::AtWork, pair).value
}

/// Whether some choice of hands has a posture, among what stands there, the arm left out.
fn has_posture(scene: &Scene, thing: &Thing, plate: &Pose) -> bool {
    let plate = thing.shift * plate;
    thing.tasks(&plate).any(|(choice, task)| {
        // The body stays where its mechanism has it, and everything else moves about it.
        let standing = &choice.standing;
        let here = *standing.assembly.posed.link(standing.links.plate);
        let here_from_structure = here * plate.inverse();
        let search = PostureSearch { starts: STARTS, ..PostureSearch::default() };
        let task = moved(&task, &here_from_structure);
        let outcome = choice.among(scene, &thing.stay.step, &here_from_structure, |crew| crew.solve(&task, &search));
        matches!(outcome, PostureOutcome::Found(_))
    })
}

fn moved(task: &Task, by: &Pose) -> Task {
    let grips = task.grips.iter().map(|grip| Grip {
        at: by * grip.at,
        axis: grip.axis.map(|(axis, cone)| (by.rotation * axis, cone)),
        ..*grip
    });
    Task { grips: grips.collect(), look_at: task.look_at.map(|at| by * at) }
}
