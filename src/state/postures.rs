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

/// Nothing farther from the boot plate than this can touch a body that stands on it, m.
const NEARBY: f64 = 3.0;

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
        let mut obstacles = Vec::new();
        for id in self.frozen.body_ids().filter(|id| !own(*id)) {
            let body = self.frozen.body(id);
            let structure_from_link = posed.link(body.link);
            for (part, shape) in body.parts.iter().enumerate() {
                let (centre, radius) = shape.ball();
                if (structure_from_link * centre - plate).norm() <= NEARBY + radius {
                    obstacles.push(Obstacle::new(PartId { body: id, part }, shape.posed(structure_from_link)));
                }
            }
        }
        obstacles
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
