//! What does a plan look like, and what does a change of it do?
//!
//! One plugin a file. They show what the engine computed and send what the user asks for; they own no mathematics but
//! that of drawing.

mod app;
mod band;
mod bodies;
mod cameras;
mod change;
mod chosen;
mod clock;
mod compared;
mod difference;
mod edit_moment;
mod effect;
mod engine;
mod findings;
mod follow;
mod frames;
mod handle;
mod help;
mod keys;
mod labels;
mod leaving;
mod legend;
mod moment;
mod news;
mod offers;
mod overlay;
mod panels;
mod pick;
mod picture;
mod place;
mod pointer;
mod question;
mod rate;
mod search;
mod session;
mod solid;
#[cfg(test)]
mod testing;
mod theme;
mod top;
mod typed_number;
mod typing;

pub use app::{Opened, Start, open};
pub use picture::{Camera, Picture, take};
pub use rate::{Doing, Rate, measure};
