//! What is the convex hull of a set of points?

use super::{Hull, Point};

/// Why points have no hull of full rank.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HullError {
    /// Flat, collinear, too few or not finite.
    NoVolume,
}

/// The convex hull of points.
///
/// # Errors
/// [`HullError`] if they span no volume.
pub fn hull(points: &[Point]) -> Result<Hull, HullError> {
    use rapier3d::parry::{math::Vector as LibraryVector, transformation::try_convex_hull};
    let given: Vec<LibraryVector> = points.iter().map(|p| LibraryVector::new(p.x, p.y, p.z)).collect();
    let (corners, facets) = try_convex_hull(&given).map_err(|_| HullError::NoVolume)?;
    let corners = corners.iter().map(|p| Point::new(p.x, p.y, p.z)).collect();
    let facets = facets.iter().map(|facet| facet.map(|k| k as usize)).collect();
    Ok(Hull { corners, facets })
}
