//! How are joints and segments of a body added to a mechanism?

use crate::mechanism::{Body, BodyId, JointMotion, LinkId, Mechanism, MechanismBuilder};
use crate::model::{BodyClass, Suit};
use crate::space::{Convex, Pose};

use super::suit;

/// A body on its way into a mechanism.
pub(super) struct Growing<'a> {
    builder: &'a mut MechanismBuilder,
    class: BodyClass,
    prefix: &'static str,
    suit: &'a Suit,
    first_body: usize,
}

impl<'a> Growing<'a> {
    pub fn new(builder: &'a mut MechanismBuilder, class: BodyClass, prefix: &'static str, suit: &'a Suit) -> Self {
        let first_body = builder.so_far().bodies().len();
        Self { builder, class, prefix, suit, first_body }
    }

    /// A link that doesn't move in its parent.
    pub fn fixed(&mut self, name: &str, parent: LinkId, parent_from_link: Pose) -> LinkId {
        self.builder.fixed(&format!("{}{name}", self.prefix), parent, parent_from_link)
    }

    /// A joint whose outer link is farther from the trunk.
    pub fn joint(&mut self, name: &str, parent: LinkId, parent_from_joint: Pose) -> LinkId {
        self.turn(name, parent, parent_from_joint, 1.0)
    }

    /// A joint whose outer link is nearer to the trunk: the same angle, seen from the other side.
    pub fn joint_inwards(&mut self, name: &str, parent: LinkId, parent_from_joint: Pose) -> LinkId {
        self.turn(name, parent, parent_from_joint, -1.0)
    }

    fn turn(&mut self, name: &str, parent: LinkId, parent_from_joint: Pose, sign: f64) -> LinkId {
        let axis = suit::joint_kind(name).expect("the tree's joints have kinds").axis(name);
        let axis = if sign < 0.0 { -axis } else { axis };
        let range = suit::range(self.suit, name).expect("the tree's joints have kinds");
        let name = format!("{}{name}", self.prefix);
        self.builder.joint(&name, parent, parent_from_joint, JointMotion::Revolute, axis, range)
    }

    /// A part of the body with shape.
    pub fn segment(&mut self, name: &str, link: LinkId, shape: Convex) {
        self.builder.body(Body {
            name: format!("{}{name}", self.prefix),
            class: self.class,
            link,
            parts: vec![shape],
            filled: None,
            growth: 0.0,
        });
    }

    /// Pairs of segments that may touch: neighbours in the tree and the named ones.
    pub fn may_touch(&self, pressed: &[[&str; 2]]) -> Vec<(BodyId, BodyId)> {
        let mechanism = self.builder.so_far();
        let own: Vec<BodyId> = mechanism.body_ids().skip(self.first_body).collect();
        let is_pressed = |a: &str, b: &str| {
            let short = |name: &str| name.strip_prefix(self.prefix).map(str::to_owned);
            let (a, b) = (short(a), short(b));
            pressed.iter().any(|[c, d]| {
                let is = |x: &Option<String>, y: &str| x.as_deref() == Some(y);
                (is(&a, c) && is(&b, d)) || (is(&a, d) && is(&b, c))
            })
        };
        let mut carries = vec![false; mechanism.links().len()];
        for body in &own {
            carries[mechanism.body(*body).link.0] = true;
        }
        let mut pairs = Vec::new();
        for (k, a) in own.iter().enumerate() {
            for b in &own[k + 1..] {
                let name = |body: &BodyId| mechanism.body(*body).name.as_str();
                if are_neighbours(mechanism, &carries, (*a, *b)) || is_pressed(name(a), name(b)) {
                    pairs.push((*a, *b));
                }
            }
        }
        pairs
    }
}

/// Whether no other body lies between two bodies in the tree: on one link, or the next ones inwards or outwards.
/// `carries` says which links carry a body.
fn are_neighbours(mechanism: &Mechanism, carries: &[bool], (a, b): (BodyId, BodyId)) -> bool {
    let (a, b) = (mechanism.body(a).link, mechanism.body(b).link);
    let next_inwards = |link: LinkId| mechanism.path_inwards(link).skip(1).find(|inner| carries[inner.0]);
    a == b || next_inwards(a) == Some(b) || next_inwards(b) == Some(a)
}
