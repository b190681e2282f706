//! Which points of two cores are nearest to one another, when all that is known of them is their support functions?
//!
//! # Law
//! The difference of the cores, all `q − p`, is convex; its point nearest to the origin is `q − p` of the nearest points. A
//! simplex of at most four of its points is kept, and in it the point `v` nearest to the origin. The support point farthest
//! against `v` gives a support plane, hence a lower bound; it joins the simplex, and the points that the new nearest point
//! does not need leave it. `|v|` falls until the two bounds meet.
//!
//! In the simplex every face that holds the newest point is tried and the best valid one taken: dearer than a walk over
//! its regions, but a rounding error then costs digits, never the answer.
//!
//! # Source
//! Gilbert, Johnson & Keerthi, *A fast procedure for computing the distance between complex objects*, 1988 (from memory).
//!
//! # Why not the library's
//! Its search is exact for polytopes and as quick, but ends up to 1e-5 m too far where a cylinder is concerned, refuses
//! numbers that are not finite by a panic, and calls a search that did not converge a distance of zero. The tests compare with it.

use super::separation::TOUCHING;
use super::{Point, PosedCore, Vector};

/// The search ends when its bounds are this near, in metres.
const MET: f64 = 1e-10;

const MOST_ROUNDS: usize = 100;

/// A point of the difference of two cores, and the two points that it is the difference of.
#[derive(Clone, Copy)]
struct Vertex {
    difference: Vector,
    p: Point,
    q: Point,
}

impl Vertex {
    fn against(direction: &Vector, a: &PosedCore, b: &PosedCore) -> Vertex {
        let (p, q) = (a.farthest(direction), b.farthest(&-direction));
        Vertex { difference: q - p, p, q }
    }
}

/// Up to four vertices and the weights that make the point nearest to the origin.
#[derive(Clone, Copy)]
struct Simplex {
    vertices: [Vertex; 4],
    weights: [f64; 4],
    count: usize,
    nearest: Vector,
}

/// A nearest point of each core; none when they overlap.
pub(super) fn nearest_points(a: &PosedCore, b: &PosedCore) -> Option<(Point, Point)> {
    let first = Vertex::against(&(b.middle() - a.middle()), a, b);
    let mut simplex =
        Simplex { vertices: [first; 4], weights: [1.0, 0.0, 0.0, 0.0], count: 1, nearest: first.difference };
    let mut separated = false;
    for _ in 0..MOST_ROUNDS {
        let distance = simplex.nearest.norm();
        if distance <= TOUCHING && !separated {
            return None;
        }
        let direction = simplex.direction();
        let vertex = Vertex::against(&direction, a, b);
        let lower = direction.dot(&vertex.difference);
        separated |= lower > 0.0;
        if distance - lower <= MET {
            break;
        }
        match simplex.nearer_with(vertex) {
            Some(nearer) => simplex = nearer,
            None => break,
        }
    }
    Some(simplex.points())
}

impl Simplex {
    fn points(&self) -> (Point, Point) {
        let mut p = Vector::zeros();
        let mut q = Vector::zeros();
        for (vertex, weight) in self.vertices.iter().zip(self.weights).take(self.count) {
            p += vertex.p.coords * weight;
            q += vertex.q.coords * weight;
        }
        (Point::from(p), Point::from(q))
    }

    /// The unit vector from the origin to the nearest point.
    ///
    /// Close to the origin what is left of that point is rounding, so it is taken perpendicular to the edge or triangle.
    fn direction(&self) -> Vector {
        let start = self.vertices[0].difference;
        let edge = |k: usize| self.vertices[k].difference - start;
        let perpendicular = match self.count {
            2 => {
                let u = edge(1);
                self.nearest - u * (u.dot(&self.nearest) / u.norm_squared())
            }
            3 => {
                let normal = edge(1).cross(&edge(2));
                if normal.dot(&self.nearest) < 0.0 { -normal } else { normal }
            }
            _ => self.nearest,
        };
        perpendicular.try_normalize(0.0).unwrap_or_else(|| self.nearest.normalize())
    }

    /// The simplex with a new vertex, reduced to what its nearest point needs; none if that is no nearer.
    fn nearer_with(&self, newest: Vertex) -> Option<Simplex> {
        let mut best: Option<Simplex> = None;
        let mut least = self.nearest.norm_squared();
        // Bit k of a subset says that the old vertex k belongs to it.
        for subset in 0_usize..1 << self.count.min(3) {
            let mut vertices = [newest; 4];
            let mut count = 1;
            for (k, vertex) in self.vertices.iter().enumerate().take(self.count) {
                if subset >> k & 1 == 1 {
                    vertices[count] = *vertex;
                    count += 1;
                }
            }
            let Some(weights) = weights_of_nearest(&vertices, count) else {
                continue;
            };
            let nearest =
                (1..count).fold(newest.difference * weights[0], |sum, k| sum + vertices[k].difference * weights[k]);
            if nearest.norm_squared() < least {
                least = nearest.norm_squared();
                best = Some(Simplex { vertices, weights, count, nearest });
            }
        }
        best
    }
}

/// Weights of the point nearest to the origin in the plane, line or space of the first `count` vertices; none if it lies
/// outside their hull or they span too little.
fn weights_of_nearest(vertices: &[Vertex; 4], count: usize) -> Option<[f64; 4]> {
    let start = vertices[0].difference;
    let edge = |k: usize| vertices[k].difference - start;
    let rest = match count {
        1 => [0.0; 3],
        2 => {
            let u = edge(1);
            [-start.dot(&u) / u.norm_squared(), 0.0, 0.0]
        }
        3 => {
            let (u, v) = (edge(1), edge(2));
            let normal = u.cross(&v);
            let area = normal.norm_squared();
            [-start.dot(&v.cross(&normal)) / area, start.dot(&u.cross(&normal)) / area, 0.0]
        }
        _ => {
            let (u, v, w) = (edge(1), edge(2), edge(3));
            let volume = u.dot(&v.cross(&w));
            let weight = |across: Vector| -start.dot(&across) / volume;
            [weight(v.cross(&w)), weight(w.cross(&u)), weight(u.cross(&v))]
        }
    };
    let first = 1.0 - rest[0] - rest[1] - rest[2];
    // A division by zero gives what is not finite, and then no weight passes.
    (first >= 0.0 && rest.iter().all(|weight| (0.0..=1.0).contains(weight)))
        .then_some([first, rest[0], rest[1], rest[2]])
}
