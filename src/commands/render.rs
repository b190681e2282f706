//! `render`: what does the plan look like at a moment, as a picture?

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::Result;

/// Draw a picture of a plan at a moment, without a window
#[derive(clap::Args)]
pub struct Args {
    /// Plan folder, or the plan file in it; the built-in demo where it is missing
    plan: Option<PathBuf>,
    /// Which moment: a worksite, a motion, or a moment of it in seconds; the beginning where it is missing
    #[arg(long, value_name = "WORKSITE|MOTION[@SECONDS]")]
    at: Option<String>,
    /// From where: orbit, tip, visor, second-visor, or the id of a worksite or of a camera of the plan
    #[arg(long, default_value = "orbit")]
    camera: String,
    /// Width and height, pixels
    #[arg(long, value_name = "WIDTHxHEIGHT", default_value = "1280x720")]
    size: super::size::Size,
    /// Draw the panels of the viewer, too
    #[arg(long)]
    panels: bool,
    /// Draw a grid of metres
    #[arg(long)]
    scale: bool,
    /// Write to this PNG file
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

/// Draws the picture.
///
/// # Errors
/// The program was built without the viewer; the plan's mistakes; an unknown moment or camera; no graphics driver; a
/// file that cannot be written.
#[cfg(feature = "viewer")]
pub fn run(args: &Args) -> Result<ExitCode> {
    use crate::model::Who;
    use crate::viewer::{Camera, Picture, take};

    let draft = super::plan::untouched(args.plan.as_deref())?;
    let camera = match args.camera.as_str() {
        "orbit" => Camera::Orbit,
        "tip" => Camera::Tip,
        "visor" => Camera::Visor(Who::Rider),
        "second-visor" => Camera::Visor(Who::SecondCrew),
        id => Camera::Named(id.to_owned()),
    };
    let picture = Picture { at: args.at.clone(), camera, size: args.size.0, panels: args.panels, scale: args.scale };
    crate::files::atomic::write(&args.out, &take(draft, &picture)?)?;
    Ok(ExitCode::SUCCESS)
}

/// Says how to build the viewer.
///
/// # Errors
/// Always.
#[cfg(not(feature = "viewer"))]
pub fn run(args: &Args) -> Result<ExitCode> {
    use super::shell;

    let plan = args.plan.as_ref().map(|plan| format!(" {}", shell::path(plan))).unwrap_or_default();
    let at = args.at.as_ref().map(|at| format!(" --at {}", shell::word(at))).unwrap_or_default();
    let panels = [(args.panels, " --panels"), (args.scale, " --scale")];
    let panels: String = panels.into_iter().filter(|(on, _)| *on).map(|(_, word)| word).collect();
    anyhow::bail!(
        "this program was built without what draws; to build it and draw this picture:\n    cargo run --release \
         --features viewer -- render{plan}{at} --camera {} --size {}{panels} --out {}",
        shell::word(&args.camera),
        args.size,
        shell::path(&args.out)
    )
}
