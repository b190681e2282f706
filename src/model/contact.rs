//! What may touch, when, and how far in?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A pair of bodies that the work itself brings together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Contact {
    /// A body, or all bodies below a name that ends in `/`.
    pub a: String,
    /// A body, or all bodies below a name that ends in `/`.
    pub b: String,
    /// Ids of the steps in which it holds; a motion belongs to its `transit` step, and to the step before it as it
    /// leaves.
    pub steps: Vec<String>,
    /// On a retreat or approach, the limit is zero where the tip is this near to the worksite, along its line.
    #[serde(default)]
    pub within_m: f64,
    /// Greatest overlap while in contact.
    #[serde(default)]
    pub overlap_m: f64,
    /// Why they may touch; printed.
    #[serde(default)]
    pub source: Option<String>,
}
