//! What is to be done at a worksite, from wherever the boot plate may stand?
//!
//! A payload that is taken here and placed elsewhere ties the two worksites: as it stays where it is in the hands, the
//! plate there stands to the seat as it stood to the seat here. What is to be done there is then asked for here, too,
//! shifted.

use std::sync::Arc;

use crate::check::{Wanted, wanted};
use crate::crew::{Crewmember, Grip, Obstacle, Side, Surroundings, Task};
use crate::mechanism::{BodyId, LinkId, PartId};
use crate::model::{Who, Worksite};
use crate::space::{Point, Pose, Vector};
use crate::state::{Doing, Moment, Scene, Standing, Stay, touch};

/// What stands farther from the plate than this is in nobody's way while they look for a posture, m.
const NEAR: f64 = 3.5;

/// All that a rider does at a worksite.
pub struct Work<'a> {
    pub things: Vec<Thing<'a>>,
    /// Where alone the plate may stand, if something settles it.
    pub plates: Option<Vec<Pose>>,
    pub approach: Vector,
    /// The rider at the first thing that is done, with free hands.
    pub someone: Standing,
    /// As it is then, but for the setting.
    pub moment: Moment,
}

/// One thing to be done.
pub struct Thing<'a> {
    pub scene: &'a Scene<'a>,
    pub stay: Arc<Stay>,
    pub wanted: Wanted<'a>,
    pub choices: Vec<Choice>,
    /// The plate there, from the plate here.
    pub shift: Pose,
}

/// A set of hands that may do it.
pub struct Choice {
    pub sides: Vec<Side>,
    pub standing: Standing,
}

impl<'a> Work<'a> {
    /// What is done in a stay, the plate shifted as told. Placing a payload asks nothing new of the body: it holds it as
    /// it did on the way.
    pub fn add(&mut self, scene: &'a Scene<'a>, stay: &Arc<Stay>, site: &'a Worksite, shift: &Pose) {
        if !matches!(stay.doing, Doing::Place { .. }) {
            self.things.extend(Thing::all(scene, stay, site, shift));
        }
    }

    /// Directions that one may face: the targets' mean axis, and the approach where that is another one.
    pub fn faced(&self) -> Vec<Vector> {
        let axes = self.things.iter().filter_map(|thing| {
            let axis = Vector::from(thing.wanted.target?.axis);
            Some(thing.shift.rotation.inverse() * axis.normalize())
        });
        let mean: Vector = axes.sum();
        let approach = self.approach.normalize();
        match mean.try_normalize(0.1) {
            Some(mean) if mean.angle(&approach) < 0.1 => vec![mean],
            Some(mean) => vec![mean, approach],
            None => vec![approach],
        }
    }

    /// All shifts of the plate.
    pub fn shifts(&self) -> Vec<Pose> {
        let mut shifts: Vec<Pose> = vec![Pose::identity()];
        for thing in &self.things {
            if !shifts.contains(&thing.shift) {
                shifts.push(thing.shift);
            }
        }
        shifts
    }
}

impl<'a> Thing<'a> {
    /// All that is done in a stay, the plate shifted as told.
    pub fn all(scene: &'a Scene<'a>, stay: &Arc<Stay>, site: &'a Worksite, shift: &Pose) -> Vec<Self> {
        let mut things = Vec::new();
        for wanted in wanted(scene, stay, site) {
            let choice = |sides: &Vec<Side>| {
                let standing = wanted.standing(scene, stay, sides)?;
                Some(Choice { sides: sides.clone(), standing })
            };
            let choices: Vec<Choice> = wanted.choices.iter().filter_map(choice).collect();
            if !choices.is_empty() {
                things.push(Self { scene, stay: Arc::clone(stay), wanted, choices, shift: *shift });
            }
        }
        things
    }
    /// What each choice of hands must do, the boots on a plate at a place of the structure.
    pub fn tasks<'t>(&'t self, structure_from_plate: &'t Pose) -> impl Iterator<Item = (&'t Choice, Task)> + 't {
        self.choices.iter().map(|choice| (choice, self.wanted.task(self.scene, &choice.sides, structure_from_plate)))
    }

    /// The farthest of the hands that do it is at least so far from a place, m.
    pub fn least_distance(&self, from: &Point) -> f64 {
        let back = self.shift.inverse();
        let task = self.wanted.task(self.scene, &self.choices[0].sides, &Pose::identity());
        let sum = task.grips.iter().fold(Vector::zeros(), |sum, grip| sum + grip.at.coords);
        let middle = Point::from(sum / task.grips.len().max(1) as f64);
        // The hand of a tool may be anywhere about the target; two hands hold on either side of the middle.
        let about = |grip: &Grip| grip.tool + (grip.at - middle).norm();
        (back * middle - from).norm() - task.grips.iter().map(about).fold(0.0, f64::max)
    }

    /// Where the hands of the first choice are, in the frame of the worksite here.
    pub fn grips(&self, structure_from_plate: &Pose) -> Vec<Grip> {
        let back = self.shift.inverse();
        let task = self.wanted.task(self.scene, &self.choices[0].sides, structure_from_plate);
        task.grips
            .into_iter()
            .map(|grip| {
                let tool = grip.axis.map_or(Vector::zeros(), |(axis, _)| axis.into_inner() * grip.tool);
                Grip { at: back * (grip.at - tool), ..grip }
            })
            .collect()
    }
}

impl Choice {
    /// Asks something of the crewmember, all that stands still moved by a transform, arm and restraint left out.
    pub fn among<T>(
        &self,
        scene: &Scene,
        step: &str,
        here_from_structure: &Pose,
        question: impl FnOnce(&Crewmember) -> T,
    ) -> T {
        let Standing { assembly, frozen, links } = &self.standing;
        let contacts = &scene.project.plan.contact;
        let may_touch = |a: BodyId, b: BodyId| touch(assembly, (a, b), contacts, &[step]).is_some();
        let plate = Point::from(assembly.posed.link(links.plate).translation.vector);
        let mut obstacles = Vec::new();
        for id in frozen.body_ids() {
            let body = frozen.body(id);
            if body.link != LinkId::STRUCTURE || assembly.hangs_on(id, assembly.arm.base) {
                continue;
            }
            for (part, shape) in body.parts.iter().enumerate() {
                let (centre, radius) = shape.ball();
                if (here_from_structure * centre - plate).norm() <= NEAR + radius {
                    obstacles.push(Obstacle::new(PartId { body: id, part }, shape.posed(here_from_structure)));
                }
            }
        }
        let surroundings = Surroundings { obstacles, may_touch: &may_touch };
        question(&Crewmember::new(frozen, links, &surroundings))
    }
}

/// Whether a stay is the rider's at a worksite.
pub fn is_riders(stay: &Stay, site: &str) -> bool {
    stay.who == Who::Rider && stay.worksite == site
}
