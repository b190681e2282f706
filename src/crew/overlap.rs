//! What of a suited body is inside what?
//!
//! # Law
//! Two convex parts overlap where their signed distance is below zero ([`crate::space::separation`]). Looked at are all
//! pairs of bodies that hang on the left boot, save those that may touch, and each of these bodies against the obstacles.
//!
//! # Not covered
//! The inside of a mesh: an obstacle is the set of its facets here; a clearance check tells more.

use crate::mechanism::{Body, BodyId, LinkId, Mechanism, PartId, Posed};
use crate::space::{PosedConvex, Separation, Vector, separation};

use super::body::BodyLinks;

/// Something that isn't the body's own, and stands still.
#[derive(Clone, Debug)]
pub struct Obstacle<'a> {
    pub part: PartId,
    pub shape: PosedConvex<'a>,
    span: Aligned,
}

impl<'a> Obstacle<'a> {
    /// A convex part, posed.
    pub fn new(part: PartId, shape: PosedConvex<'a>) -> Self {
        let span = Aligned::around(&shape);
        Self { part, shape, span }
    }
}

/// What stands around a body, and which pairs of own body and obstacle's body may touch nevertheless.
pub struct Surroundings<'a> {
    pub obstacles: Vec<Obstacle<'a>>,
    pub may_touch: &'a (dyn Fn(BodyId, BodyId) -> bool + Sync),
}

impl Surroundings<'_> {
    /// Empty space.
    pub fn none() -> Self {
        Surroundings { obstacles: Vec::new(), may_touch: &|_, _| false }
    }
}

/// The pairs of own parts that are looked at, and the surroundings.
pub(super) struct Overlaps<'a> {
    mechanism: &'a Mechanism,
    surroundings: &'a Surroundings<'a>,
    own: Vec<(PartId, LinkId)>,
    /// Pairs of indices into `own`.
    pairs: Vec<(usize, usize)>,
}

/// Two parts that overlap, or did: which own one, and what it meets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Meeting {
    own: usize,
    other: Other,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Other {
    Own(usize),
    Obstacle(usize),
}

impl<'a> Overlaps<'a> {
    pub fn new(mechanism: &'a Mechanism, links: &BodyLinks, surroundings: &'a Surroundings<'a>) -> Self {
        let hangs_on_boot = |body: &Body| mechanism.path_inwards(body.link).any(|link| link == links.left_boot);
        let bodies = mechanism.body_ids().zip(mechanism.bodies()).filter(|(_, body)| hangs_on_boot(body));
        let own: Vec<(PartId, LinkId)> = bodies
            .flat_map(|(id, body)| (0..body.parts.len()).map(move |part| (PartId { body: id, part }, body.link)))
            .collect();
        // What hangs on a hand is as good as an obstacle for the other one.
        let by_task = |a: BodyId, b: BodyId| match (links.bodies.contains(&a.0), links.bodies.contains(&b.0)) {
            (true, false) => (surroundings.may_touch)(a, b),
            (false, true) => (surroundings.may_touch)(b, a),
            _ => false,
        };
        let may_touch = |(a, on_a): (PartId, LinkId), (b, on_b): (PartId, LinkId)| {
            let pair = (a.body.min(b.body), a.body.max(b.body));
            on_a == on_b
                || links.may_touch.contains(&pair)
                || held_by(mechanism, links, a, b)
                || by_task(a.body, b.body)
        };
        let all = (0..own.len()).flat_map(|a| (a + 1..own.len()).map(move |b| (a, b)));
        let pairs = all.filter(|(a, b)| !may_touch(own[*a], own[*b])).collect();
        Self { mechanism, surroundings, own, pairs }
    }

    /// Every pair that overlaps.
    pub fn found(&self, posed: &Posed) -> Vec<Meeting> {
        let shapes: Vec<PosedConvex> = self.own.iter().map(|(part, link)| self.posed(*part, *link, posed)).collect();
        let spans: Vec<Aligned> = shapes.iter().map(Aligned::around).collect();
        let overlap = |a: &PosedConvex, b: &PosedConvex| separation(a, b).lower < 0.0;
        let mut found = Vec::new();
        for (a, b) in &self.pairs {
            if spans[*a].meets(&spans[*b]) && overlap(&shapes[*a], &shapes[*b]) {
                found.push(Meeting { own: *a, other: Other::Own(*b) });
            }
        }
        for (own, (part, _)) in self.own.iter().enumerate() {
            for (other, obstacle) in self.surroundings.obstacles.iter().enumerate() {
                if spans[own].meets(&obstacle.span)
                    && overlap(&shapes[own], &obstacle.shape)
                    && !(self.surroundings.may_touch)(part.body, obstacle.part.body)
                {
                    found.push(Meeting { own, other: Other::Obstacle(other) });
                }
            }
        }
        found
    }

    /// How far apart the two are, with the links that carry them; none for an obstacle, which stands still.
    pub fn measure(&self, meeting: Meeting, posed: &Posed) -> (Separation, LinkId, Option<LinkId>) {
        let (part, link) = self.own[meeting.own];
        let own = self.posed(part, link, posed);
        match meeting.other {
            Other::Own(other) => {
                let (part, other_link) = self.own[other];
                (separation(&own, &self.posed(part, other_link, posed)), link, Some(other_link))
            }
            Other::Obstacle(other) => (separation(&own, &self.surroundings.obstacles[other].shape), link, None),
        }
    }

    /// The two bodies.
    pub fn bodies(&self, meeting: Meeting) -> (BodyId, BodyId) {
        let other = match meeting.other {
            Other::Own(other) => self.own[other].0.body,
            Other::Obstacle(other) => self.surroundings.obstacles[other].part.body,
        };
        (self.own[meeting.own].0.body, other)
    }

    fn posed(&self, part: PartId, link: LinkId, posed: &Posed) -> PosedConvex<'a> {
        self.mechanism.part(part).posed(posed.link(link))
    }
}

/// Whether one of the two is held in the hand that the other one is.
fn held_by(mechanism: &Mechanism, links: &BodyLinks, a: PartId, b: PartId) -> bool {
    let own = |part: PartId| links.bodies.contains(&part.body.0);
    let (segment, held) = match (own(a), own(b)) {
        (true, false) => (a, b),
        (false, true) => (b, a),
        _ => return false,
    };
    let hand = mechanism.body(segment.body).link;
    let grips = [links.grip.left, links.grip.right];
    let holds = |grip: &&LinkId| mechanism.path_inwards(mechanism.body(held.body).link).any(|link| link == **grip);
    grips.iter().find(holds).is_some_and(|grip| mechanism.link(*grip).parent == hand)
}

/// A box along the structure's axes.
#[derive(Clone, Copy, Debug)]
struct Aligned {
    low: Vector,
    high: Vector,
}

impl Aligned {
    fn around(shape: &PosedConvex) -> Self {
        let axes = [Vector::x(), Vector::y(), Vector::z()];
        let end = |value: fn(&PosedConvex, &Vector) -> f64| {
            Vector::new(value(shape, &axes[0]), value(shape, &axes[1]), value(shape, &axes[2]))
        };
        Self { low: end(|shape, axis| shape.lowest(axis)), high: end(|shape, axis| shape.highest(axis)) }
    }

    fn meets(&self, other: &Self) -> bool {
        (0..3).all(|k| self.low[k] <= other.high[k] && other.low[k] <= self.high[k])
    }
}

#[cfg(test)]
mod tests {
    use crate::crew::Grip;
    use crate::crew::posture::Start;
    use crate::crew::testing::{near, standing, standing_as};
    use crate::crew::{Crewmember, Fault, PostureOutcome, PostureSearch, Side, Surroundings, Task, hold_tool};
    use crate::mechanism::MechanismBuilder;
    use crate::model::{Crew, Stature, Suit, Survey};
    use crate::space::Point;

    #[test]
    fn people_of_all_sizes_stand_on_the_plate_without_overlapping_themselves() {
        for (percentile, of) in [(1.0, Survey::Women), (50.0, Survey::Women), (50.0, Survey::Men), (99.0, Survey::Men)]
        {
            let crew = Crew { stature: Some(Stature { percentile, of }), ..Crew::default() };
            let (mechanism, links) = standing_as(&crew, &Suit::default());
            let surroundings = Surroundings::none();
            let crew = Crewmember::new(&mechanism, &links, &surroundings);
            let outcome = crew.solve(&Task::default(), &PostureSearch { starts: 1, ..PostureSearch::default() });
            assert!(matches!(outcome, PostureOutcome::Found(_)), "{percentile} {of:?}: {outcome:?}");
        }
    }

    #[test]
    fn a_tool_touches_the_hand_that_holds_it_and_nothing_else() {
        let (mechanism, links) = standing();
        let mut builder = MechanismBuilder::on(mechanism);
        let tool = hold_tool(&mut builder, &links, Side::Right, 0.5);
        let mechanism = builder.finish();
        let surroundings = Surroundings::none();
        let crew = Crewmember::new(&mechanism, &links, &surroundings);
        let PostureOutcome::Found(standing) = crew.solve(&Task::default(), &PostureSearch::default()) else {
            panic!("no way to stand with a long tool")
        };
        // The tool's end brought into the helmet of that posture, the legs where they are.
        let at = mechanism.pose(&standing.q).link(links.eye) * Point::origin();
        let task = Task { grips: vec![Grip { side: Side::Right, at, axis: None, tool: 0.5 }], look_at: None };
        let q = crew.descend(&task, &Start { keeps_legs: true, ..near(&standing.q) }, &[]).q;
        let Err(Fault::Overlap(pairs)) = crew.verify(&task, &q) else { panic!("nothing met") };
        assert!(pairs.iter().any(|(a, b)| *a == tool || *b == tool), "{pairs:?}");
    }

    #[test]
    fn a_body_on_a_frozen_arm_is_asked_like_one_in_empty_space() {
        use crate::crew::{Figure, attach};
        use crate::mechanism::{JointMotion, LinkId, Range};
        use crate::model::BodyClass;
        use crate::space::{Pose, Vector};
        let mut builder = MechanismBuilder::new();
        let range = Range { lowest: -3.0, highest: 3.0 };
        let lift = Pose::translation(0.0, 0.0, 2.0);
        let arm = builder.joint("arm", LinkId::STRUCTURE, lift, JointMotion::Revolute, Vector::x_axis(), range);
        let plate = builder.fixed("plate", arm, Pose::translation(0.0, 1.0, 0.0));
        let (crew, suit) = (Crew::default(), Suit::default());
        let links = attach(&mut builder, (plate, 0.26), BodyClass::Rider, (&Figure::from(&crew, &suit), &suit));
        let whole = builder.finish();
        let mut q = vec![0.7];
        q.extend(&links.neutral);
        let moving: Vec<usize> = links.variables.clone().collect();
        let frozen = whole.with_moving(&whole.pose(&q), &moving);
        let surroundings = Surroundings::none();
        let crew = Crewmember::new(&frozen, &links, &surroundings);
        let PostureOutcome::Found(posture) = crew.solve(&Task::default(), &PostureSearch::default()) else {
            panic!("no way to stand on the plate")
        };
        // The same posture as on a plate at the origin, and the boot is in its place in the whole mechanism, too.
        q[1..].copy_from_slice(&posture.q);
        let posed = whole.pose(&q);
        let off =
            posed.link(links.right_boot).translation.vector - posed.link(links.right_boot_place).translation.vector;
        assert!(off.norm() < 1e-4);
        let (alone, alone_links) = standing();
        let upright = Crewmember::new(&alone, &alone_links, &surroundings);
        let PostureOutcome::Found(there) = upright.solve(&Task::default(), &PostureSearch::default()) else {
            panic!("no way to stand on the plate")
        };
        assert!(posture.q.iter().zip(&there.q).all(|(a, b)| (a - b).abs() < 1e-4));
    }
}
