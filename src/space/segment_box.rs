//! Which points of a line segment and a box are nearest to one another?
//!
//! # Law
//! In the frame of the box, the squared distance of `p(t) = start + t·d` from it is convex in `t`, and half its slope,
//! `Σ d_k·excess_k(p(t))`, is a continuous piecewise linear function that never falls. It bends only where a coordinate
//! passes `±half`, at most six times. So its zero lies between two neighbouring bends, where it is a straight line: exact, no
//! iteration.

use super::point_box::BoxFrame;
use super::{Point, Vector};

/// A nearest point of the segment and of the box; none when they touch or overlap. The ends may coincide.
#[inline]
pub(super) fn nearest_points(
    [start, end]: [&Point; 2],
    centre: &Point,
    half_edges: &[Vector; 3],
) -> Option<(Point, Point)> {
    let frame = BoxFrame::new(centre, half_edges);
    let start_in_box = frame.coordinates(start);
    let along = frame.turned(&(end - start));
    let excess = |t: f64| frame.excess(&(start_in_box + along * t));
    let t = zero_of_slope(&start_in_box, &along, &frame.half, |t| along.dot(&excess(t)));
    let excess = excess(t);
    (excess != Vector::zeros()).then(|| {
        let on_segment = start + (end - start) * t;
        (on_segment, on_segment - frame.in_structure(&excess))
    })
}

/// Where in [0, 1] the slope passes zero: the end nearest to the box if it does not.
fn zero_of_slope(start: &Vector, along: &Vector, half: &Vector, slope: impl Fn(f64) -> f64) -> f64 {
    let mut low = (0.0, slope(0.0));
    if low.1 >= 0.0 {
        return low.0;
    }
    let mut high = (1.0, slope(1.0));
    if high.1 <= 0.0 {
        return high.0;
    }
    for k in 0..3 {
        for bound in [-half[k], half[k]] {
            // Not finite where the segment runs along the face: no bend there, and both comparisons are false.
            let bend = (bound - start[k]) / along[k];
            if bend > low.0 && bend < high.0 {
                let at_bend = (bend, slope(bend));
                if at_bend.1 <= 0.0 {
                    low = at_bend;
                } else {
                    high = at_bend;
                }
            }
        }
    }
    low.0 + (high.0 - low.0) * (-low.1 / (high.1 - low.1))
}
