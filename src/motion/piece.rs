//! Which bodies move as one?
//!
//! # Law
//! Bodies that hang on the same outermost driven joint never move against each other, play aside; one box about all of
//! them tells what none of them comes near. What play lies between that joint and a body strays it by at most its own
//! tolerance as seen from the joint's link, which is the same at every pose.

use std::collections::BTreeMap;

use crate::mechanism::{BodyId, BodyMotion, Extent, LinkId, Mechanism};
use crate::space::Point;

use super::present::Mover;

/// The bodies that one joint carries.
pub(super) struct Piece {
    /// The link of that joint; where no joint is driven, the innermost link of what has play.
    pub link: LinkId,
    /// Whether a joint is driven at all.
    pub driven: bool,
    pub movers: Vec<Mover>,
    /// All of it in the link's frame, grown by the play within the piece.
    pub extent: Extent,
    /// How long it is, m.
    pub length: f64,
    /// Greatest play within the piece and growth of its bodies together, m.
    pub stray: f64,
}

/// Sorts moving bodies, given in order, into pieces.
pub(super) fn pieces(mechanism: &Mechanism, bodies: impl Iterator<Item = BodyId>) -> Vec<Piece> {
    let mut carried: BTreeMap<LinkId, Vec<(Mover, BodyId)>> = BTreeMap::new();
    for (number, body) in bodies.enumerate() {
        carried.entry(carrier(mechanism, mechanism.body(body).link)).or_default().push((Mover(number), body));
    }
    let at_zero = mechanism.pose(&vec![0.0; mechanism.variable_count()]);
    let still = vec![0.0; mechanism.variable_count()];
    carried
        .into_iter()
        .map(|(link, bodies)| {
            let (mut points, mut radius, mut stray): (Vec<Point>, f64, f64) = (Vec::new(), 0.0, 0.0);
            for (_, id) in &bodies {
                let (body, extent) = (mechanism.body(*id), Extent::of(mechanism, *id));
                let link_from_body = at_zero.link(link).inv_mul(at_zero.link(body.link));
                points.extend(extent.points.iter().map(|point| link_from_body * point));
                radius = radius.max(extent.radius);
                let within = BodyMotion::of(mechanism, &at_zero, (body.link, link), &extent, (&still, &[]));
                stray = stray.max(within.tolerance + body.growth);
            }
            let extent = Extent { points, radius: radius + stray }.boxed();
            let length = length(&extent);
            let driven = mechanism.link(link).joint.variable.is_some();
            Piece { link, driven, movers: bodies.into_iter().map(|(mover, _)| mover).collect(), extent, length, stray }
        })
        .collect()
}

/// Greatest distance of two of its points, and its radius on either side, m.
fn length(extent: &Extent) -> f64 {
    let from = |a: &Point| extent.points.iter().map(|b| (a - b).norm()).fold(0.0, f64::max);
    extent.points.iter().map(from).fold(0.0, f64::max) + 2.0 * extent.radius
}

/// The nearest link inwards that a joint drives, else the innermost.
fn carrier(mechanism: &Mechanism, link: LinkId) -> LinkId {
    let path = || mechanism.path_inwards(link);
    path().find(|on| mechanism.link(*on).joint.variable.is_some()).or_else(|| path().last()).unwrap_or(link)
}
