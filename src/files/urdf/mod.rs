//! What is the arm between two links of a URDF?
//!
//! # Law
//! A joint's `<origin>` is its frame in its parent link's frame, and the child link's frame at zero; `rpy` turns about
//! fixed axes: `R = Rz(yaw) · Ry(pitch) · Rx(roll)`. Joints that are fixed are folded into the next place, and the
//! shapes of links that are fixed to a link of the chain become that link's.
//!
//! # Source
//! The file format's own definition, version 1.0.
//!
//! # Limits
//! - The XML is read with `roxmltree`: the library for this format, `urdf-rs`, tells no lines, drops words that are no
//!   numbers, and takes a missing limit for nought.
//! - Nothing is guessed: a turning or sliding joint on the chain must state `lower`, `upper` and `velocity`.
//! - A `continuous` joint gets limits of one turn either way.
//! - The format has no accelerations; without those from the plan's `arm_shapes` file, they are not known.
//! - A link that has only a mesh needs its shapes from that file.
//! - Soft limits, masses, transmissions and mimicking joints are not read; a mimicking joint on the chain is refused.
//! - What hangs on the chain by a joint that moves is left out, and said so.

mod chain;
mod geometry;
mod guard;
mod robot;
mod xml;

pub(super) use chain::{Wanted, read};
