//! Which paths would do?
//!
//! What this layer proposes it has certified by the same bounds that `check` uses; what it does not find is not proven
//! impossible unless it says so.

mod answer;
mod edge;
mod metric;
mod objective;
mod random;
mod shorten;
mod transit;
mod tree;
mod world;

pub use answer::{Answer, End, Found, Impossible, NotFound, Refusal};
pub use objective::Objective;
pub use transit::{Settings, transit};
