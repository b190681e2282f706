//! Which random shapes and mechanisms are the bounds tried on? The same ones in every run.

use std::f64::consts::PI;

use trusswalk::mechanism::{
    Body, BodyId, Joint, JointMotion, LinkId, Mechanism, MechanismBuilder, Range, Slack, VirtualJoint,
};
use trusswalk::model::BodyClass;
use trusswalk::space::{Convex, Core, Direction, Point, Pose, Vector, hull};

/// A generator of repeatable pseudo-random numbers (SplitMix64; Steele, Lea & Flood 2014).
pub struct Draw(u64);

impl Draw {
    pub fn seeded(seed: u64) -> Self {
        Self(seed.wrapping_mul(0xD134_2543_DE82_EF95))
    }

    /// Evenly spread over [0, 1).
    pub fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Evenly spread in the logarithm.
    pub fn log_between(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// A whole number below `count`.
    pub fn below(&mut self, count: usize) -> usize {
        (self.unit() * count as f64) as usize
    }

    pub fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }

    /// Either end of [−by, by], or in between.
    pub fn within(&mut self, by: f64) -> f64 {
        if self.chance(0.5) { by.copysign(self.unit() - 0.5) } else { self.between(-by, by) }
    }

    pub fn direction(&mut self) -> Direction {
        loop {
            let v = Vector::from_fn(|_, _| self.between(-1.0, 1.0));
            if (0.01..1.0).contains(&v.norm_squared()) {
                return Direction::new_normalize(v);
            }
        }
    }

    /// A place in the cube of half size `by` about the origin.
    pub fn place(&mut self, by: f64) -> Point {
        Point::from(Vector::from_fn(|_, _| self.between(-by, by)))
    }

    /// A pose whose origin lies in that cube.
    pub fn pose(&mut self, by: f64) -> Pose {
        let turn = self.direction().into_inner() * self.between(0.0, PI);
        Pose::new(self.place(by).coords, turn)
    }

    /// A shape of 0.1 to 3 m about the origin, of any kind of core.
    pub fn shape(&mut self) -> Convex {
        let half = Vector::from_fn(|_, _| self.log_between(0.05, 1.5));
        let core = match self.below(6) {
            0 => Core::Point(self.place(0.3)),
            1 => Core::Segment(self.place(1.5), self.place(1.5)),
            2 => Core::Triangle([self.place(1.0), self.place(1.0), self.place(1.0)]),
            3 => Core::Box { link_from_box: self.pose(0.3), half },
            4 => Core::Cylinder { link_from_cylinder: self.pose(0.3), half_length: half.x, radius: half.y.min(0.5) },
            _ => {
                let count = 6 + self.below(14);
                let corners: Vec<Point> =
                    (0..count).map(|_| Point::from(self.direction().component_mul(&half))).collect();
                hull(&corners).map_or(Core::Point(Point::origin()), |hull| Core::Hull(hull.into()))
            }
        };
        let radius = if self.chance(0.5) { self.between(0.0, 0.3) } else { 0.0 };
        Convex { core, radius }
    }

    /// A tree of turning and sliding joints without bodies; its links from the structure outwards.
    ///
    /// A third of them are *stretched*: links one behind the other along x and axes along x, y or z, as arms have
    /// them, which at zero makes bounds as tight as they get.
    pub fn tree(&mut self, joints: usize) -> Tree {
        let stretched = self.chance(1.0 / 3.0);
        let mut builder = MechanismBuilder::new();
        let mut links = vec![LinkId::STRUCTURE];
        for k in 0..joints {
            let branches = self.chance(0.3);
            let parent = links[if branches { self.below(links.len()) } else { links.len() - 1 }];
            let motion = if self.chance(0.25) { JointMotion::Prismatic } else { JointMotion::Revolute };
            let axes = [Vector::x_axis(), Vector::y_axis(), Vector::z_axis()];
            let (place, axis) = if stretched {
                (Pose::translation(self.between(0.2, 4.0), 0.0, 0.0), axes[self.below(3)])
            } else {
                (self.pose(2.0), self.direction())
            };
            links.push(builder.joint(&format!("j{k}"), parent, place, motion, axis, Range::FREE));
        }
        Tree { builder, links, stretched }
    }
}

/// A tree that is still to be given bodies.
pub struct Tree {
    pub builder: MechanismBuilder,
    pub links: Vec<LinkId>,
    pub stretched: bool,
}

impl Tree {
    /// Hangs a shape on a link; its class is of no consequence to a bound.
    pub fn body(&mut self, link: LinkId, shape: Convex) -> BodyId {
        body_on(&mut self.builder, link, shape)
    }

    /// Joint values in the middle of a motion.
    pub fn configuration(&self, draw: &mut Draw) -> Vec<f64> {
        let by = if self.stretched && draw.chance(0.5) { 0.0 } else { 2.0 };
        (0..self.builder.so_far().variable_count()).map(|_| draw.between(-by, by)).collect()
    }
}

/// Hangs a body of one part on a link.
pub fn body_on(builder: &mut MechanismBuilder, link: LinkId, shape: Convex) -> BodyId {
    let name = format!("body {}", builder.so_far().bodies().len());
    builder.body(Body { name, class: BodyClass::Structure, link, parts: vec![shape], filled: None, growth: 0.0 })
}

/// A mechanism in which all play has become joints: what the tolerances are about, made real.
pub struct Played {
    pub mechanism: Mechanism,
    /// Its link for each link of the original.
    pub links: Vec<LinkId>,
    /// Its variable for each variable of the original.
    pub driven: Vec<usize>,
    /// Its other variables, and how far each may go either way.
    pub loose: Vec<(usize, f64)>,
}

impl Played {
    /// Slides go along a drawn direction. The first slack of a link is the one nearest to its bodies.
    pub fn new(original: &Mechanism, draw: &mut Draw) -> Self {
        let mut builder = MechanismBuilder::new();
        let mut links = vec![LinkId::STRUCTURE];
        let (mut driven, mut loose) = (Vec::new(), Vec::new());
        for link in original.links().iter().skip(1) {
            let Joint { motion, axis, variable, range, .. } = link.joint;
            if variable.is_some() {
                driven.push(builder.so_far().variable_count());
            }
            let mut at = builder.joint(&link.name, links[link.parent.0], link.parent_from_joint, motion, axis, range);
            for VirtualJoint { at: place, slack } in link.slack.iter().rev() {
                let there = Pose::from(place.coords);
                let (motion, axis, by) = match *slack {
                    Slack::Turn { axis, by } => (JointMotion::Revolute, Direction::new_normalize(axis), by),
                    Slack::Slide { by } => (JointMotion::Prismatic, draw.direction(), by),
                };
                loose.push((builder.so_far().variable_count(), by));
                let turned = builder.joint("play", at, there, motion, axis, Range::FREE);
                at = builder.fixed("back", turned, there.inverse());
            }
            links.push(at);
        }
        Self { mechanism: builder.finish(), links, driven, loose }
    }
}
