//! `poses`: where is every body at moments of a motion?

use std::collections::BTreeMap;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;
use std::str::FromStr;
use std::sync::atomic::AtomicBool;

use anyhow::{Context, Result, bail};
use clap::ArgGroup;

use super::{interrupt, output, plan};
use crate::check::go_on;
use crate::files::unknown_name;
use crate::report::{MotionMoment, write_bodies, write_moment};
use crate::state::{Assembly, Event, Extras, Move, Scene, walk};

/// Print joint values, poses and shapes of every body at moments of a motion, as JSON lines
#[derive(clap::Args)]
#[command(
    allow_missing_positional = true,
    override_usage = "trusswalk poses [OPTIONS] [PLAN] <MOTION> <--moments <N>|--at <SEGMENT:FRACTION>>",
    group(ArgGroup::new("when").required(true).multiple(true).args(["moments", "at"]))
)]
pub struct Args {
    /// Plan folder, or the plan file in it; the built-in demo where it is missing
    plan: Option<PathBuf>,
    /// Id of the motion, such as step-2/transit
    motion: String,
    /// So many moments, spread evenly over the motion's segments, both ends included
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    moments: Option<u32>,
    /// One moment, as in a finding: segment, counted from 0, and fraction along it; may be given several times
    #[arg(long, value_name = "SEGMENT:FRACTION")]
    at: Vec<At>,
    /// Write to a file instead of stdout
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// A moment of a motion.
#[derive(Clone, Copy, Debug, PartialEq)]
struct At {
    segment: usize,
    fraction: f64,
}

impl FromStr for At {
    type Err = &'static str;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let expected = "expected a segment and a fraction from 0 to 1, such as 2:0.25";
        let (segment, fraction) = text.split_once(':').ok_or(expected)?;
        let at = Self { segment: segment.parse().or(Err(expected))?, fraction: fraction.parse().or(Err(expected))? };
        if (0.0..=1.0).contains(&at.fraction) { Ok(at) } else { Err(expected) }
    }
}

/// Writes the bodies, then each moment.
///
/// # Errors
/// The plan's mistakes, an unknown motion, a moment that the motion does not have, a result that cannot be written, a
/// request to stop.
pub fn run(args: &Args) -> Result<ExitCode> {
    let loaded = plan::load(args.plan.as_deref())?;
    let stop = interrupt::stop_flag()?;
    let scene = Scene::new(&loaded.project, &loaded.meshes);
    let walk = walk(&scene);
    let moves = walk.events.iter().filter_map(|event| match event {
        Event::Move(moved) => Some((moved.id.as_str(), &**moved)),
        Event::Stance(_) | Event::Stay(_) | Event::NotChecked { .. } => None,
    });
    let moves: BTreeMap<&str, &Move> = moves.collect();
    let Some(moved) = moves.get(args.motion.as_str()) else {
        return Err(unknown_name(&args.motion, "motion", moves.into_keys()));
    };
    let moments = moments(moved, args)?;
    let mut out = output::open(args.out.as_deref())?;
    output::forgive_closed_pipe(write(&scene, moved, &moments, (&mut out, &stop)))?;
    Ok(ExitCode::SUCCESS)
}

/// Writes the bodies of a motion, then each moment, until the stop flag goes up.
fn write(
    scene: &Scene,
    moved: &Move,
    moments: &[(usize, f64)],
    (out, stop): (&mut dyn Write, &AtomicBool),
) -> Result<()> {
    let extras = Extras { base: moved.base, ..Extras::default() };
    let assembly = Assembly::with(scene, &moved.moment, &extras);
    let driven = assembly.driven(moved.kind);
    let (mechanism, mut q) = (&assembly.mechanism, assembly.q);
    let mut posed = mechanism.workspace();
    write_bodies(mechanism, out).context("writing bodies")?;
    for (segment, fraction) in moments.iter().copied() {
        go_on(stop)?;
        q.splice(driven.clone(), moved.segments[segment].at(fraction));
        mechanism.pose_into(&q, &mut posed);
        let moment = MotionMoment { motion: &moved.id, segment, fraction, q: &q, moving: driven.clone() };
        write_moment(mechanism, &posed, &moment, out).context("writing a moment")?;
    }
    out.flush().context("writing a moment")
}

/// The moments that were asked for, each a segment and a fraction along it: those named, then those spread evenly.
fn moments(moved: &Move, args: &Args) -> Result<Vec<(usize, f64)>> {
    let segments = moved.segments.len();
    if segments == 0 {
        bail!("the way of motion `{}` is not given", moved.id);
    }
    if let Some(At { segment, .. }) = args.at.iter().find(|at| at.segment >= segments) {
        bail!("motion `{}` has no segment {segment}; its segments are 0 to {}", moved.id, segments - 1);
    }
    let named = args.at.iter().map(|at| (at.segment, at.fraction));
    let spread = args.moments.into_iter().flat_map(|count| (0..count).map(move |k| spread(segments, k, count)));
    Ok(named.chain(spread).collect())
}

/// The `k`-th of `count` moments over all segments, each segment as long as any other.
fn spread(segments: usize, k: u32, count: u32) -> (usize, f64) {
    let along = segments as f64 * f64::from(k) / f64::from(count.saturating_sub(1).max(1));
    let segment = (along as usize).min(segments - 1);
    (segment, along - segment as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spread_moments_hold_both_ends_of_the_motion() {
        let all: Vec<_> = (0..5).map(|k| spread(2, k, 5)).collect();
        assert_eq!(all, [(0, 0.0), (0, 0.5), (1, 0.0), (1, 0.5), (1, 1.0)]);
        assert_eq!(spread(3, 0, 1), (0, 0.0));
    }

    #[test]
    fn a_moment_needs_a_segment_and_a_fraction_from_0_to_1() {
        assert_eq!("2:0.25".parse(), Ok(At { segment: 2, fraction: 0.25 }));
        for text in ["2", "2:1.5", "-1:0.5", "2:nan", ":", "x:0"] {
            assert!(text.parse::<At>().is_err(), "{text}");
        }
    }
}
