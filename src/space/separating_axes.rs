//! Along which direction is the gap between two polytopes greatest, or their overlap least?
//!
//! # Law
//! The difference of two overlapping polytopes is a polytope whose facets are perpendicular to a facet of either or to an
//! edge of each; its facet nearest to the origin gives the depth. So the greatest gap over all directions is the greatest over
//! the facet normals of both and the products of their edges. When both have no facet (points, line segments, collapsed
//! triangles) and no two edges span a plane, any perpendicular of the edges gives the depth, zero.
//!
//! Two edges of solids need a look only if their arcs on the sphere of normals cross (each arc joins the normals of the two
//! facets that meet in the edge); for two hulls that leaves few of many pairs. The test lets doubtful pairs in: an axis too
//! many costs time, never truth.
//!
//! # Source
//! Separating axes: Gottschalk, Lin & Manocha, *OBBTree*, 1996; arcs: Gregorius, *The Separating Axis Test between Convex
//! Polyhedra*, 2013 (both from memory).
//!
//! # Not covered
//! Cylinders have no such finite list: their axis alone is looked at, which is true but not the greatest.

use super::separation::core_gap;
use super::{Direction, Hull, Point, PosedCore, Vector};

/// A direction from `a` to `b` and the gap of the two cores along it, in metres.
#[derive(Clone)]
pub(super) struct Axis {
    pub normal: Direction,
    pub gap: f64,
}

impl Axis {
    pub fn along(a: &PosedCore, b: &PosedCore, normal: Direction) -> Axis {
        Axis { normal, gap: core_gap(a, b, &normal) }
    }

    /// The best of some directions and their opposites; the first of equals. At least one must be given.
    pub fn best_of(a: &PosedCore, b: &PosedCore, directions: &[Direction]) -> Axis {
        let mut best = Axis::none();
        for direction in directions {
            best.challenge(a, b, *direction);
            best.challenge(a, b, -*direction);
        }
        best
    }

    fn none() -> Axis {
        Axis { normal: Vector::x_axis(), gap: f64::NEG_INFINITY }
    }

    fn challenge(&mut self, a: &PosedCore, b: &PosedCore, normal: Direction) {
        let gap = core_gap(a, b, &normal);
        if gap > self.gap {
            *self = Axis { normal, gap };
        }
    }
}

/// The separating axis with the greatest gap.
pub(super) fn best_axis(a: &PosedCore, b: &PosedCore) -> Axis {
    let (of_a, of_b) = (Outline::of(a), Outline::of(b));
    let mut best = Axis::none();
    for outwards in &of_a.normals {
        best.challenge(a, b, *outwards);
    }
    for outwards in &of_b.normals {
        best.challenge(a, b, -*outwards);
    }
    for edge_a in &of_a.edges {
        for edge_b in &of_b.edges {
            if edge_a.may_meet(edge_b)
                && let Some(normal) = common_perpendicular(&edge_a.along, &edge_b.along)
            {
                best.challenge(a, b, normal);
                best.challenge(a, b, -normal);
            }
        }
    }
    if best.gap == f64::NEG_INFINITY {
        let edge = of_a.edges.iter().chain(&of_b.edges).next();
        let normal = edge.map_or(Vector::x_axis(), |edge| any_perpendicular(&edge.along));
        best.challenge(a, b, normal);
    }
    best
}

/// What separating axes are made of.
struct Outline {
    /// Outward normals of the facets.
    normals: Vec<Direction>,
    edges: Vec<Edge>,
}

struct Edge {
    along: Direction,
    /// Outward unit normals of the facets left and right of the edge, where they are known.
    sides: Option<(Direction, Direction)>,
}

impl Edge {
    /// False if no facet of the difference of the two solids is made by these two edges.
    fn may_meet(&self, other: &Edge) -> bool {
        /// Sines of angles below this are in doubt.
        const DOUBT: f64 = 1e-9;
        let (Some((a, b)), Some((c, d))) = (&self.sides, &other.sides) else {
            return true;
        };
        // The second solid is subtracted, so the normals −c and −d are meant. Each number tells on which side of the plane of
        // one arc an end of the other lies; the arcs cross if both pairs differ and the arcs are not on opposite sides.
        let (c_side, d_side) = (c.dot(&self.along), d.dot(&self.along));
        let (a_side, b_side) = (-a.dot(&other.along), -b.dot(&other.along));
        let surely = |x: f64, y: f64| x.abs() > DOUBT && y.abs() > DOUBT;
        let same = |x: f64, y: f64| surely(x, y) && (x > 0.0) == (y > 0.0);
        let opposite = |x: f64, y: f64| surely(x, y) && (x > 0.0) != (y > 0.0);
        !same(c_side, d_side) && !same(a_side, b_side) && !opposite(c_side, b_side)
    }
}

impl Outline {
    fn of(core: &PosedCore) -> Outline {
        let both_ways = |n: Direction| [n, -n];
        match core {
            PosedCore::Point(_) => Outline { normals: vec![], edges: vec![] },
            PosedCore::Segment(a, b) => Outline { normals: vec![], edges: edges_between(&[*a, *b]) },
            PosedCore::Triangle([a, b, c]) => Outline {
                normals: common_perpendicular(&(b - a), &(c - a)).into_iter().flat_map(both_ways).collect(),
                edges: edges_between(&[*a, *b, *c, *a]),
            },
            PosedCore::Box { half_edges, .. } => {
                let axes = half_edges.map(Direction::new_normalize);
                Outline {
                    normals: axes.into_iter().flat_map(both_ways).collect(),
                    edges: axes.into_iter().map(|along| Edge { along, sides: None }).collect(),
                }
            }
            PosedCore::Cylinder { half_axis, .. } => {
                let along = Direction::new_normalize(*half_axis);
                Outline { normals: both_ways(along).into(), edges: vec![Edge { along, sides: None }] }
            }
            PosedCore::Hull { structure_from_link, hull } => {
                outline_of_hull(hull, |v| structure_from_link.rotation * v)
            }
        }
    }
}

/// Edges from each point to the next; those of no length are left out.
fn edges_between(points: &[Point]) -> Vec<Edge> {
    points
        .windows(2)
        .filter_map(|pair| Direction::try_new(pair[1] - pair[0], 0.0))
        .map(|along| Edge { along, sides: None })
        .collect()
}

fn outline_of_hull(hull: &Hull, in_structure: impl Fn(Direction) -> Direction) -> Outline {
    /// Facets that meet at a smaller sine than this are one facet, cut into triangles.
    const FLAT: f64 = 1e-10;
    let flat = |n: &Direction, m: &Direction| n.cross(m).norm() <= FLAT && n.dot(m) > 0.0;
    let mut normals = Vec::with_capacity(hull.facets.len());
    let mut half_edges = Vec::with_capacity(3 * hull.facets.len());
    for &[i, j, k] in &hull.facets {
        let [a, b, c] = [i, j, k].map(|at| hull.corners[at]);
        let normal = facet_normal(&a, &b, &c).map(&in_structure);
        half_edges.extend([(i, j), (j, k), (k, i)].map(|(from, to)| (from, to, normal)));
        if let Some(normal) = normal
            && normals.last().is_none_or(|last| !flat(last, &normal))
        {
            normals.push(normal);
        }
    }
    // Sorted so that the two directions of an edge become neighbours.
    half_edges.sort_by_key(|&(from, to, _)| (from.min(to), from.max(to), from));
    let mut edges = Vec::with_capacity(half_edges.len() / 2);
    let mut rest = half_edges.as_slice();
    while let [(from, to, left), after @ ..] = rest {
        rest = after;
        let twin = after.first().filter(|(twin_from, twin_to, _)| twin_from == to && twin_to == from);
        let sides = twin.and_then(|(_, _, right)| (*left).zip(*right));
        if twin.is_some() {
            rest = &after[1..];
        }
        let inside_facet = sides.is_some_and(|(left, right)| flat(&left, &right));
        if let Some(along) = Direction::try_new(hull.corners[*to] - hull.corners[*from], 0.0)
            && !inside_facet
        {
            edges.push(Edge { along: in_structure(along), sides });
        }
    }
    Outline { normals, edges }
}

/// The outward unit normal of a facet; none if it is too thin for its normal to be more than rounding. Then its edges still count.
pub(super) fn facet_normal(a: &Point, b: &Point, c: &Point) -> Option<Direction> {
    const THIN: f64 = 1e-6;
    let (u, v) = (b - a, c - a);
    let longest = u.norm_squared().max(v.norm_squared()).max((c - b).norm_squared());
    (u.cross(&v).norm() > THIN * longest).then(|| common_perpendicular(&u, &v)).flatten()
}

/// A unit vector perpendicular to both; none if they are parallel as far as rounding can tell.
fn common_perpendicular(u: &Vector, v: &Vector) -> Option<Direction> {
    const PARALLEL: f64 = 1e-14;
    let across = u.cross(v);
    if across.norm() <= PARALLEL * u.norm() * v.norm() {
        return None;
    }
    // For nearly parallel vectors the product has lost digits; what it has left along `u` is taken out.
    let corrected = across - u * (across.dot(u) / u.norm_squared());
    Direction::try_new(corrected, 0.0)
}

/// A unit vector perpendicular to a vector of any length but zero.
pub(super) fn any_perpendicular(v: &Vector) -> Direction {
    let least = v.iamin();
    let mut unit = Vector::zeros();
    unit[least] = 1.0;
    Direction::new_normalize(v.cross(&unit))
}
