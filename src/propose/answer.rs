//! What is the answer to a question for a path?

use serde::{Deserialize, Serialize};

/// What a planner says.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub enum Answer {
    /// A path, every edge of it certified.
    Found(Found),
    /// None was found, which proves nothing.
    NotFound(NotFound),
    /// Proven: there is none.
    Impossible(Impossible),
}

/// A certified path.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub struct Found {
    /// Between start and goal, on the grid that operators key in (rad or m).
    pub waypoints: Vec<Vec<f64>>,
    /// Its segments' times from rest to rest, s; none where the arm's file does not say what its joints can do.
    pub seconds: Option<f64>,
    /// Every pair of bodies keeps its limits, tolerances and stopping taken off, with at least so much to spare, m; no more
    /// is told than the objective has use for.
    pub margin: f64,
    /// Nodes of all trees.
    pub nodes: usize,
    /// Edges that were asked about.
    pub edges: usize,
}

/// What is known where nothing was found.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub struct NotFound {
    /// Nodes of all trees.
    pub nodes: usize,
    /// Edges that were asked about.
    pub edges: usize,
    /// The nearest that a tree from the start and a tree from the goal came to each other: joint values on either side
    /// (rad or m).
    pub nearest: [Vec<f64>; 2],
    /// How far that is: no point of arm or load would move farther between them, to first order, m.
    pub apart: f64,
    /// What refused edges between the trees, most frequent first, and how often.
    pub refused: Vec<(Refusal, usize)>,
}

/// Why an edge is not certified.
#[derive(Clone, Debug, Deserialize, Eq, Ord, PartialEq, PartialOrd, Serialize)]
pub enum Refusal {
    /// This pair of bodies breaks a limit on it.
    Pair([String; 2]),
    /// Whether this pair keeps its limits was not told within the budget of one edge; none: nor which pair might not.
    NotTold(Option<[String; 2]>),
    /// The tip's Jacobian comes, or may come, too near a singular one.
    Singular,
}

/// Why there is no path at all.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub enum Impossible {
    /// At an end, two bodies break a limit by at least so much, m.
    Pair { at: End, bodies: [String; 2], by: f64 },
    /// At the start, the second body lies inside the first, a solid.
    Inside { bodies: [String; 2] },
    /// At an end, a joint is so far (rad or m) from where its range and the limit for joints allow it.
    Joint { at: End, joint: String, by: f64 },
    /// At an end, the least singular value of the tip's Jacobian, m, is below its limit.
    Singular { at: End, value: f64 },
}

impl Impossible {
    /// At which end.
    pub fn at(&self) -> End {
        match self {
            Self::Pair { at, .. } | Self::Joint { at, .. } | Self::Singular { at, .. } => *at,
            Self::Inside { .. } => End::Start,
        }
    }
}

/// An end of a path.
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub enum End {
    Start,
    Goal,
}
