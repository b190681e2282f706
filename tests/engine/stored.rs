//! How is a stored reference read, and how is a comparison with it put on record?

use std::fs;
use std::path::PathBuf;

use serde::Deserialize;
use serde::de::DeserializeOwned;

use trusswalk::space::{Pose, Vector};

/// The folder of the stored references.
pub fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/references")
}

/// A reference with what it was made with.
#[derive(Deserialize)]
pub struct Stored<T> {
    version: String,
    #[serde(flatten)]
    pub content: T,
}

impl<T: DeserializeOwned> Stored<T> {
    /// Reads `name.json`.
    pub fn read(name: &str) -> Self {
        let path = folder().join(format!("{name}.json"));
        let text = fs::read_to_string(&path).expect("a stored reference can be read");
        serde_json::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
    }
}

impl<T> Stored<T> {
    /// Library and version, as the file names them.
    pub fn made_with(&self, library: &str) -> String {
        let named = self.version.split(", ").find(|named| named.split(' ').next() == Some(library));
        named.unwrap_or_else(|| panic!("{library} made nothing of this")).to_owned()
    }
}

/// A pose written as nine numbers of the rotation, row by row, then x y z.
pub fn pose_of(numbers: &[f64; 12]) -> Pose {
    let rotation = nalgebra::Rotation3::from_matrix_unchecked(nalgebra::Matrix3::from_row_slice(&numbers[..9]));
    let place = Vector::new(numbers[9], numbers[10], numbers[11]);
    Pose::from_parts(place.into(), nalgebra::UnitQuaternion::from_rotation_matrix(&rotation))
}

/// The greatest difference of two poses: entries of the rotation matrix, and coordinates (m).
pub fn difference(pose: &Pose, numbers: &[f64; 12]) -> f64 {
    let rotation = pose.rotation.to_rotation_matrix();
    let rows = rotation.matrix().transpose();
    let own = rows.iter().chain(pose.translation.vector.iter());
    own.zip(numbers).map(|(own, stored)| (own - stored).abs()).fold(0.0, f64::max)
}

/// How far the engine is from a reference at most, over all that was compared.
#[derive(Clone, Debug)]
pub struct Deviation {
    /// What was compared, and in which unit.
    pub check: String,
    /// Library and version, or another outside source.
    pub reference: String,
    pub largest: f64,
    /// The tolerance of the test, for the reason that its file states.
    pub allowed: f64,
}

impl Deviation {
    pub fn of(check: &str, reference: &str, allowed: f64, seen: impl IntoIterator<Item = f64>) -> Self {
        let mut seen = seen.into_iter().peekable();
        assert!(seen.peek().is_some(), "{check}: nothing was compared");
        // A NaN must not be lost in a maximum.
        let largest = seen.fold(0.0_f64, |a, b| if b.is_nan() { f64::INFINITY } else { a.max(b) });
        Self { check: check.to_owned(), reference: reference.to_owned(), largest, allowed }
    }
}

/// Every comparison keeps its tolerance.
pub fn assert_allowed(deviations: &[Deviation]) {
    for deviation in deviations {
        assert!(deviation.largest <= deviation.allowed, "{deviation:?}");
    }
}
