//! Which plans does the program carry inside?

/// A plan's files: path as seen from the plan's folder, and bytes.
pub type Scene = &'static [(&'static str, &'static [u8])];

macro_rules! scene {
    ($folder:literal: $($file:literal),+) => {
        &[$(($file, include_bytes!(concat!("../../scenes/", $folder, "/", $file)))),+]
    };
}

/// The small commented plan that `new` writes.
pub const STARTER: Scene = scene!("starter": "plan.toml", "structure.toml", "arm.toml", "restraint.toml", "suit.toml");

/// The plan that is checked where none is named.
pub const DEMO: Scene = scene!("demo": "plan.toml", "structure.toml", "arm.toml", "restraint.toml", "suit.toml");
