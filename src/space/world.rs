//! Which of the bodies that stand still can be near a given place?
//!
//! # Law
//! A part is named when its axis-aligned box meets the box asked about, touching included. So none is missed that has a point
//! in it; parts that only come near may be named too. The boxes stand in the collider set and the broad-phase tree of the
//! physics library, which answers in time that grows with the number found, not with the number of parts.

use rapier3d::parry::query::DefaultQueryDispatcher;
use rapier3d::prelude::{
    BroadPhaseBvh, ColliderBuilder, ColliderSet, IntegrationParameters, QueryFilter, RigidBodySet,
};

use super::library::{library_box, to_library};
use super::{Convex, Point, Pose, PosedConvex, Vector};

/// An axis-aligned box in the structure's frame, in metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aabb {
    /// The corner with the lowest coordinates.
    pub min: Point,
    /// The corner with the highest coordinates.
    pub max: Point,
}

impl Aabb {
    /// The box with every face moved outwards by `by` metres.
    pub fn grown(&self, by: f64) -> Aabb {
        let by = Vector::repeat(by);
        Aabb { min: self.min - by, max: self.max + by }
    }

    /// The smallest box that holds both.
    pub fn merged(&self, other: &Aabb) -> Aabb {
        let (min, max) = (self.min.coords.inf(&other.min.coords), self.max.coords.sup(&other.max.coords));
        Aabb { min: Point::from(min), max: Point::from(max) }
    }

    /// The point in its middle.
    pub fn middle(&self) -> Point {
        nalgebra::center(&self.min, &self.max)
    }

    /// Its sizes along x, y and z, m.
    pub fn size(&self) -> Vector {
        self.max - self.min
    }

    /// Whether the two boxes have a point in common.
    pub fn meets(&self, other: &Aabb) -> bool {
        (0..3).all(|k| self.min[k] <= other.max[k] && other.min[k] <= self.max[k])
    }
}

/// The smallest axis-aligned box that holds a shape.
pub fn aabb(shape: &PosedConvex) -> Aabb {
    let axes = [Vector::x(), Vector::y(), Vector::z()];
    Aabb {
        min: Point::from(Vector::from(axes.map(|axis| shape.lowest(&axis)))),
        max: Point::from(Vector::from(axes.map(|axis| shape.highest(&axis)))),
    }
}

/// What stands still, arranged so that what is near a place is found quickly.
pub struct World {
    bodies: RigidBodySet,
    colliders: ColliderSet,
    broad_phase: BroadPhaseBvh,
}

impl World {
    /// A world of shapes that stand where their poses, `structure_from_link`, place them. They are known by their index.
    pub fn new(parts: &[(Pose, &Convex)]) -> World {
        /// The tree fattens its boxes by 0.04 of this, in metres: enough for rounding, too little to name a part in vain.
        const LENGTH_UNIT: f64 = 1e-6;
        let parameters = IntegrationParameters { length_unit: LENGTH_UNIT, ..IntegrationParameters::default() };
        let mut world =
            World { bodies: RigidBodySet::new(), colliders: ColliderSet::new(), broad_phase: BroadPhaseBvh::new() };
        for (index, (structure_from_link, shape)) in parts.iter().enumerate() {
            let bounds = aabb(&shape.posed(structure_from_link));
            let half = to_library(&((bounds.max - bounds.min) / 2.0));
            let collider = ColliderBuilder::cuboid(half.x, half.y, half.z)
                .translation(to_library(&nalgebra::center(&bounds.min, &bounds.max).coords))
                .user_data(index as u128);
            let handle = world.colliders.insert(collider);
            // The tree holds nothing before it is told, whatever the set holds.
            world.broad_phase.set_aabb(&parameters, handle, library_box(&bounds));
        }
        world
    }

    /// The parts whose boxes meet `place`, in ascending order.
    pub fn near(&self, place: &Aabb) -> Vec<usize> {
        let mut found = Vec::new();
        self.near_into(place, &mut found);
        found
    }

    /// As [`World::near`], into a buffer whose content is replaced.
    pub fn near_into(&self, place: &Aabb, found: &mut Vec<usize>) {
        let dispatcher = DefaultQueryDispatcher;
        let pipeline =
            self.broad_phase.as_query_pipeline(&dispatcher, &self.bodies, &self.colliders, QueryFilter::default());
        found.clear();
        found.extend(
            pipeline.intersect_aabb_conservative(library_box(place)).map(|(_, collider)| collider.user_data as usize),
        );
        found.sort_unstable();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::space::random::{Kind, Random};
    use crate::space::separation;

    fn random_parts(random: &mut Random, count: usize) -> Vec<(Pose, Convex)> {
        (0..count).map(|k| (random.pose(10.0), random.shape(Kind::ALL[k % Kind::ALL.len()]))).collect()
    }

    fn world_of(parts: &[(Pose, Convex)]) -> World {
        World::new(&parts.iter().map(|(pose, shape)| (*pose, shape)).collect::<Vec<_>>())
    }

    #[test]
    fn the_tree_names_every_part_whose_box_meets_and_no_other() {
        let mut random = Random::seeded(31);
        let parts = random_parts(&mut random, 700);
        let world = world_of(&parts);
        for _ in 0..300 {
            let low = random.point(10.0);
            let place = Aabb { min: low, max: low + Vector::from_fn(|_, _| random.between(0.0, 4.0)) };
            let met = |k: &usize| aabb(&parts[*k].1.posed(&parts[*k].0)).meets(&place);
            let expected: Vec<usize> = (0..parts.len()).filter(met).collect();
            assert_eq!(world.near(&place), expected);
        }
    }

    #[test]
    fn no_part_nearer_than_the_growth_of_the_box_is_missed() {
        let mut random = Random::seeded(32);
        let parts = random_parts(&mut random, 300);
        let world = world_of(&parts);
        for k in 0..60 {
            let (pose, shape) = (random.pose(10.0), random.shape(Kind::ALL[k % Kind::ALL.len()]));
            let posed = shape.posed(&pose);
            let reach = random.between(0.0, 3.0);
            let near = world.near(&aabb(&posed).grown(reach));
            for (index, (part_pose, part)) in parts.iter().enumerate() {
                if separation(&posed, &part.posed(part_pose)).upper <= reach {
                    assert!(near.contains(&index));
                }
            }
        }
    }

    #[test]
    fn a_box_holds_its_shape_and_touches_it_on_all_sides() {
        let mut random = Random::seeded(33);
        for kind in Kind::ALL {
            for _ in 0..100 {
                let (pose, shape) = (random.pose(10.0), random.shape(kind));
                let posed = shape.posed(&pose);
                let bounds = aabb(&posed);
                for (k, axis) in [Vector::x(), Vector::y(), Vector::z()].into_iter().enumerate() {
                    let high = posed.core.farthest(&axis) + axis * posed.radius;
                    let low = posed.core.farthest(&-axis) - axis * posed.radius;
                    assert!((high[k] - bounds.max[k]).abs() < 1e-12);
                    assert!((low[k] - bounds.min[k]).abs() < 1e-12);
                }
            }
        }
    }

    #[test]
    fn an_empty_world_and_bodies_of_no_extent_are_no_special_case() {
        let everywhere = Aabb { min: Point::new(-1e3, -1e3, -1e3), max: Point::new(1e3, 1e3, 1e3) };
        assert_eq!(World::new(&[]).near(&everywhere), Vec::<usize>::new());
        let point = Convex { core: crate::space::Core::Point(Point::new(1.0, 2.0, 3.0)), radius: 0.0 };
        let world = World::new(&[(Pose::identity(), &point)]);
        let here = Aabb { min: Point::new(1.0, 2.0, 3.0), max: Point::new(1.0, 2.0, 3.0) };
        assert_eq!(world.near(&here), [0]);
        assert_eq!(world.near(&here.grown(-0.0)), [0]);
    }
}
