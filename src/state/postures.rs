//! How does a crewmember stand in the restraint, hands free or on a payload?

use std::collections::BTreeMap;

use crate::crew::{BodyLinks, Crewmember, Obstacle, PostureOutcome, PostureSearch, Surroundings, Task};
use crate::mechanism::{BodyId, Mechanism, PartId};
use crate::model::{Angle, Who};
use crate::space::Point;

use super::assembly::{Assembly, Extras};
use super::contacts::touch;
use super::moment::{Carried, Moment};
use super::scene::Scene;

/// A crewmember's body among all that stands around it, everything else frozen.
pub struct Standing {
    pub assembly: Assembly,
    /// The assembly with nothing but the body's joints moving.
    pub frozen: Mechanism,
    pub links: BodyLinks,
}

impl Standing {
    /// Freezes everything but one crewmember; none if they don't stand in a restraint.
    pub fn new(assembly: Assembly, who: Who) -> Option<Self> {
        let links = assembly.body_links(who)?.clone();
        let moving: Vec<usize> = links.variables.clone().collect();
        let frozen = assembly.mechanism.with_moving(&assembly.posed, &moving);
        Some(Self { assembly, frozen, links })
    }

    /// Asks something of the crewmember; `contact_steps` are the ids of the steps whose contacts hold.
    pub fn ask<T>(&self, scene: &Scene, contact_steps: &[&str], question: impl FnOnce(&Crewmember) -> T) -> T {
        let contacts = &scene.project.plan.contact;
        let may_touch = |a: BodyId, b: BodyId| touch(&self.assembly, (a, b), contacts, contact_steps).is_some();
        let surroundings = Surroundings { obstacles: self.obstacles(), may_touch: &may_touch };
        question(&Crewmember::new(&self.frozen, &self.links, &surroundings))
    }

    fn obstacles(&self) -> Vec<Obstacle<'_>> {
        let plate = Point::from(self.assembly.posed.link(self.links.plate).translation.vector);
        let own = |body: BodyId| {
            let link = self.assembly.body(body).link;
            self.assembly.mechanism.path_inwards(link).any(|on| on == self.links.left_boot)
        };
        let posed = self.frozen.pose(&self.links.neutral);
        let reach = self.frozen.body_ids().filter(|id| own(*id)).map(|id| self.reach_of(id)).fold(0.0, f64::max);
        let mut obstacles = Vec::new();
        for id in self.frozen.body_ids().filter(|id| !own(*id)) {
            let body = self.frozen.body(id);
            let structure_from_link = posed.link(body.link);
            for (part, shape) in body.parts.iter().enumerate() {
                let (centre, radius) = shape.ball();
                if (structure_from_link * centre - plate).norm() <= reach + radius + body.growth {
                    obstacles.push(Obstacle::new(PartId { body: id, part }, shape.posed(structure_from_link)));
                }
            }
        }
        obstacles
    }

    /// No point of a body that hangs on the boot plate is farther from the plate than this, however its joints turn, m: the
    /// lengths of all links between them, put in a row.
    fn reach_of(&self, id: BodyId) -> f64 {
        let body = self.frozen.body(id);
        let links = self.frozen.path_inwards(body.link).take_while(|on| *on != self.links.plate);
        let length: f64 = links.map(|on| self.frozen.link(on).parent_from_joint.translation.vector.norm()).sum();
        let farthest = body.parts.iter().map(|part| {
            let (centre, radius) = part.ball();
            centre.coords.norm() + radius
        });
        length + farthest.fold(0.0, f64::max) + body.growth
    }
}

/// The posture of somebody who stands with free hands: nearest to the named posture, else to the neutral one, with both
/// boots on the plate; none where nobody stands there.
pub(super) fn at_rest(scene: &Scene, moment: &Moment, who: Who, posture: Option<&str>) -> Option<PostureOutcome> {
    let named = posture.and_then(|id| scene.project.plan.posture.iter().find(|posture| posture.id == id));
    let joints = named.map(|posture| &posture.joints);
    rest_outcome(scene, moment, who, joints)
}

fn rest_outcome(
    scene: &Scene,
    moment: &Moment,
    who: Who,
    joints: Option<&BTreeMap<String, Angle>>,
) -> Option<PostureOutcome> {
    let moment = with_neutral(scene, moment, who);
    let standing = Standing::new(Assembly::new(scene, &moment), who)?;
    let named = joints.into_iter().flatten().map(|(name, angle)| (name.as_str(), angle.radians()));
    let attract = standing.links.named_posture(named).expect("reading a plan knows every body joint that it names");
    let attract = attract.try_into().ok();
    let search = PostureSearch { start: attract, attract, ..PostureSearch::default() };
    Some(standing.ask(scene, &[], |crew| crew.solve(&Task::default(), &search)))
}

/// The posture of a rider with both hands on a payload that stands where it is now; none where nobody is there, or no
/// payload stands. The search is that of the stay at which it is taken, so that it finds the same.
pub(super) fn holding(scene: &Scene, moment: &Moment, payload: usize, step: &str) -> Option<PostureOutcome> {
    let Carried::Standing { structure_from_payload } = moment.payloads[payload] else { return None };
    let extras = Extras { held: Some(payload), ..Extras::default() };
    let standing = Standing::new(Assembly::with(scene, moment, &extras), Who::Rider)?;
    let task = Task::at_handles(&scene.project.plan.payload[payload], &structure_from_payload);
    let stance = moment.rider.as_deref().and_then(|body| body.try_into().ok());
    let search = PostureSearch { stance, ..PostureSearch::default() };
    Some(standing.ask(scene, &[step], |crew| crew.solve(&task, &search)))
}

/// The moment with one crewmember's joints at their neutral values, so that a mechanism can be built.
fn with_neutral(scene: &Scene, moment: &Moment, who: Who) -> Moment {
    let suit = &scene.project.suit;
    let neutral: Vec<f64> = crate::crew::JOINTS.iter().filter_map(|name| crate::crew::neutral(suit, name)).collect();
    let mut moment = moment.clone();
    match who {
        Who::Rider => moment.rider = Some(neutral),
        Who::SecondCrew => {
            if let Some(second) = &mut moment.second_crew {
                second.body = neutral;
            }
        }
    }
    moment
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crew::{Fault, JOINTS, Side};
    use crate::model::{Fixed, Place, Project, Shape};
    use crate::state::testing::with_edited;
    use crate::state::walk;

    /// The starter's rider at rest with a tool of `length` m in the right hand.
    fn with_tool<R>(
        length: f64,
        edit: impl FnOnce(&mut Project),
        ask: impl FnOnce(&Scene, &Standing, &[f64]) -> R,
    ) -> R {
        let mut answer = None;
        with_edited(edit, |scene| {
            let moment = walk(scene).rests[0].moment.clone();
            let extras = Extras { tools: vec![(Who::Rider, Side::Right, length)], ..Extras::default() };
            let standing = Standing::new(Assembly::with(scene, &moment, &extras), Who::Rider).expect("a rider");
            answer = Some(ask(scene, &standing, moment.rider.as_deref().expect("a body")));
        });
        answer.expect("it was asked")
    }

    #[test]
    fn what_a_long_tool_hits_is_no_farther_than_what_is_looked_at() {
        let (end, far) = with_tool(
            3.5,
            |_| (),
            |_, standing, body| {
                let posed = standing.frozen.pose(body);
                let end = posed.link(standing.links.grip.right) * Point::new(0.0, 0.0, 3.45);
                let plate = Point::from(posed.link(standing.links.plate).translation.vector);
                (end, (end - plate).norm())
            },
        );
        assert!(far > 3.5, "{far} m from the plate");
        let stub = Fixed {
            id: "stub".to_owned(),
            place: Place { at_m: end.coords.into(), ..Place::default() },
            shape: Shape::Sphere { radius_m: 0.02 },
        };
        let hits = |project: &mut Project| project.structure.body.push(stub.clone());
        let verdict = with_tool(3.5, hits, |scene, standing, body| {
            let body: [f64; JOINTS.len()] = body.try_into().expect("a value for each joint");
            standing.ask(scene, &[], |crew| crew.verify(&Task::default(), &body))
        });
        assert!(matches!(verdict, Err(Fault::Overlap(_))), "{verdict:?}");
    }
}
