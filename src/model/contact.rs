//! What may touch, when, and how far in?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// No two bodies may be said to overlap by more than this, m: pads, gloves and seats give by centimetres. What goes
/// deeper is another shape, which the plan must state. Common practice, no source.
pub const DEEPEST_OVERLAP: f64 = 0.10;

/// A pair of bodies that the work itself brings together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Contact {
    /// A body, or all bodies below a name that ends in `/`; never all of a kind, and no keep-out zone.
    pub a: String,
    /// The other: as `a`.
    pub b: String,
    /// Ids of the steps in which it holds; a motion belongs to its `transit` step, and to the step before it as it
    /// leaves.
    pub steps: Vec<String>,
    /// On a retreat or approach, the limit is zero where the tip is this near to the worksite, along its line.
    #[serde(default)]
    pub within_m: f64,
    /// Greatest overlap while in contact, 0 to 0.10.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = DEEPEST_OVERLAP))]
    pub overlap_m: f64,
    /// Why they may touch; printed.
    #[serde(default)]
    pub source: Option<String>,
}
