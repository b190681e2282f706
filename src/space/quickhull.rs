//! Which triangles enclose some points most tightly?
//!
//! # Law
//! Begin with a tetrahedron of four of the points. While a facet has points outside it, the farthest of them is joined to the rim
//! of the region that it sees, and that region goes. A facet in whose plane the point lies counts as seen when it adjoins: so
//! the many points that a face of a box may hold do not split it into slivers.
//!
//! # Domain
//! Points that span a solid about as long as wide as thick, of size one: then one tolerance serves all directions.
//!
//! # Source
//! Barber, Dobkin & Huhdanpaa, *The Quickhull Algorithm for Convex Hulls*, 1996 (from memory).
//!
//! # Why not the library's
//! Of sets with many points in one plane it gets one in a thousand quite wrong, of thin plates one in six.

use std::collections::BTreeMap;

use super::{Point, Vector};

struct Facet {
    corners: [usize; 3],
    normal: Vector,
    height: f64,
    /// Points that this facet must still give way to.
    outside: Vec<usize>,
}

/// Facets as indices into `points`, counter-clockwise seen from outside; none if rounding broke the surface.
///
/// `start` names four of the points that span a solid. Points within `rounding` of a plane are in it.
pub(super) fn facets_around(points: &[Point], start: [usize; 4], rounding: f64) -> Option<Vec<[usize; 3]>> {
    let mut surface =
        Surface { points, rounding, facets: BTreeMap::new(), facet_at: BTreeMap::new(), done: 0, made: 0 };
    let [a, b, c, d] = start;
    let up = (points[b] - points[a]).cross(&(points[c] - points[a])).dot(&(points[d] - points[a]));
    let [b, c] = if up > 0.0 { [c, b] } else { [b, c] };
    let first = [[a, b, c], [a, d, b], [b, d, c], [c, d, a]];
    surface.replace(&[], &first, (0..points.len()).collect())?;
    // Each round adds a point for good, but for the few that rounding drops and brings back.
    for _ in 0..2 * points.len() {
        let Some((facet, apex)) = surface.next_apex() else {
            return Some(surface.facets.values().map(|facet| facet.corners).collect());
        };
        let seen = surface.seen_from(apex, facet);
        let mut rim = Vec::new();
        let mut orphans = Vec::new();
        for id in &seen {
            let facet = &surface.facets[id];
            orphans.extend(facet.outside.iter().chain(&facet.corners));
            for (from, to) in edges(facet.corners) {
                if !seen.contains(surface.facet_at.get(&(to, from))?) {
                    rim.push([from, to, apex]);
                }
            }
        }
        orphans.sort_unstable();
        orphans.dedup();
        surface.replace(&seen, &rim, orphans)?;
    }
    None
}

/// Facets by number, and by each of their directed edges.
struct Surface<'a> {
    points: &'a [Point],
    rounding: f64,
    facets: BTreeMap<usize, Facet>,
    facet_at: BTreeMap<(usize, usize), usize>,
    /// Facets below this number have no points outside.
    done: usize,
    made: usize,
}

impl Surface<'_> {
    /// A facet that has points outside, and the farthest of them.
    fn next_apex(&mut self) -> Option<(usize, usize)> {
        let (id, facet) = self.facets.range(self.done..).find(|(_, facet)| !facet.outside.is_empty())?;
        self.done = *id;
        let height = |k: &usize| self.height(facet, *k);
        let apex = facet.outside.iter().copied().max_by(|p, q| height(p).total_cmp(&height(q)))?;
        Some((*id, apex))
    }

    /// The facets that the point is outside of or in the plane of, as far as they hang together with the first.
    fn seen_from(&self, apex: usize, first: usize) -> Vec<usize> {
        let mut seen = vec![first];
        let mut looked_at = 0;
        while let Some(id) = seen.get(looked_at) {
            looked_at += 1;
            for (from, to) in edges(self.facets[id].corners) {
                if let Some(beyond) = self.facet_at.get(&(to, from))
                    && !seen.contains(beyond)
                    && self.height(&self.facets[beyond], apex) > -self.rounding
                {
                    seen.push(*beyond);
                }
            }
        }
        seen
    }

    /// Puts facets in the place of others and deals the points to those that they are outside of.
    ///
    /// None if a facet has no normal or two facets claim the same side of an edge.
    fn replace(&mut self, old: &[usize], new: &[[usize; 3]], loose: Vec<usize>) -> Option<()> {
        for id in old {
            let facet = self.facets.remove(id)?;
            for edge in edges(facet.corners) {
                self.facet_at.remove(&edge);
            }
        }
        let first_new = self.made;
        for &corners in new {
            let [a, b, c] = corners.map(|k| self.points[k]);
            let normal = (b - a).cross(&(c - a)).try_normalize(0.0)?;
            let facet = Facet { corners, normal, height: normal.dot(&a.coords), outside: Vec::new() };
            for edge in edges(corners) {
                if self.facet_at.insert(edge, self.made).is_some() {
                    return None;
                }
            }
            self.facets.insert(self.made, facet);
            self.made += 1;
        }
        for point in loose {
            let claims = self.facets.range(first_new..).map(|(id, facet)| (self.height(facet, point), *id));
            let (height, id) = claims.max_by(|p, q| p.0.total_cmp(&q.0))?;
            // Twice, so that a point once dropped does not come back.
            if height > 2.0 * self.rounding {
                self.facets.get_mut(&id)?.outside.push(point);
            }
        }
        Some(())
    }

    fn height(&self, facet: &Facet, point: usize) -> f64 {
        facet.normal.dot(&self.points[point].coords) - facet.height
    }
}

fn edges([a, b, c]: [usize; 3]) -> [(usize, usize); 3] {
    [(a, b), (b, c), (c, a)]
}
