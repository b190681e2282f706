//! Where does the arm come to rest when it is stopped?
//!
//! # Question
//! Stopped at any moment of a motion: how near can anything come to anything?
//! # Law
//! Joint *k* may overrun by q̇_k·t_react + q̇_k²/(2a_k), each joint on its own: a tolerance of that size on each joint, in
//! a clearance bound of its own. q̇_k is the joint's greatest rate within t_react of the moment of the word to stop, as the
//! arm goes on by its profile until the brakes act; either way, so that what is told holds for the way back, too.
//! # Source
//! Constant-acceleration kinematics; the limit is the plan's, else: no overlap.
//! # Limits
//! Only motions that are timed; a restraint is set by hand, joint by joint, and nothing overruns.
//! # Findings
//! One a motion and group: for the governing pair where all keep the limit, else for every pair that breaks it.

use crate::mechanism::JointMotion;
use crate::state::{MotionKind, Scene};

use super::case::{MoveCase, stopping_overrun};
use super::clearance::Told;
use super::finding::{Finding, Place, Unit};
use super::judge::key;
use super::piece::Piece;

pub const NAME: &str = "stopping";

/// Findings of a motion.
pub fn findings(scene: &Scene, piece: Piece) -> Vec<Finding> {
    let Piece::Move(moved) = piece else { return Vec::new() };
    if moved.moved.kind == MotionKind::Setting {
        return Vec::new();
    }
    if moved.seconds().is_none() || moved.moved.segments.is_empty() {
        let place = Place::Motion { motion: moved.moved.id.clone() };
        let key = key(NAME, place, None, "all pairs");
        return vec![Finding::not_checked(key, Unit::Metre, "the motion is not timed")];
    }
    let found = Told::of_move(scene, moved)
        .findings(&moved.clearance, NAME, |entry| (entry.stopping, entry.rule.stopping_limit));
    found.into_iter().map(|finding| explained(scene, moved, finding)).collect()
}

/// A violation with what the joints overrun on its segment, and what would shorten that.
fn explained(scene: &Scene, moved: &MoveCase, finding: Finding) -> Finding {
    let at = finding.at.as_ref().filter(|_| finding.status.is_violation());
    let segment = at.and_then(|at| at.segment);
    let Some(overrun) = at.and_then(|at| overrun(scene, moved, (at.segment?, at.fraction))) else { return finding };
    let fixed = segment.and_then(|segment| moved.moved.fixed_seconds.get(segment)).is_some_and(Option::is_some);
    let slower = if fixed { "a longer `duration_s`" } else { "a lower tip speed" };
    let shorter = format!("{slower}, a higher acceleration or a shorter `stop_reaction_s` shortens the overrun");
    let help = finding.help.as_ref().map_or_else(|| shorter.clone(), |help| format!("{help}; {shorter}"));
    let note = finding.note.as_ref().map_or_else(|| overrun.clone(), |note| format!("{note}; {overrun}"));
    finding.noted(note).helped(Some(help))
}

/// How far each joint overruns when it is stopped at a fraction of a segment, in words; none where untimed.
fn overrun(scene: &Scene, moved: &MoveCase, (segment, fraction): (usize, f64)) -> Option<String> {
    let (line, time) = (moved.moved.segments.get(segment)?, moved.times.get(segment)?.as_ref()?);
    let paces = moved.paces.as_deref()?;
    let overrun = stopping_overrun(scene, line, Some(time), Some(paces));
    let (mut overruns, pace) = (Vec::new(), overrun.rate_within([fraction; 2])?);
    overrun.within([fraction; 2], &mut overruns);
    let mut joints: Vec<(f64, String)> = overruns
        .iter()
        .zip(line.change())
        .zip(paces)
        .enumerate()
        .filter(|(_, ((by, _), _))| **by > 0.0)
        .map(|(variable, ((by, change), can))| {
            let link = moved.arm.mechanism.link(moved.arm.mechanism.link_of_variable(variable));
            let rate = change.abs() * pace;
            let (scale, unit) = match link.joint.motion {
                JointMotion::Prismatic => (1e3, " mm"),
                _ => (1f64.to_degrees(), "°"),
            };
            let [by, rate, acceleration] = [*by, rate, can.acceleration].map(|value| value * scale);
            (by, format!("{} {by:.2}{unit} (from {rate:.2}{unit}/s at {acceleration:.2}{unit}/s²)", link.name))
        })
        .collect();
    joints.sort_by(|a, b| b.0.total_cmp(&a.0));
    let joints: Vec<String> = joints.into_iter().map(|(_, said)| said).collect();
    let reaction = scene.project.plan.limits.stop_reaction_s;
    (!joints.is_empty())
        .then(|| format!("overrun, rate · {reaction:.2} s + rate² / (2 · acceleration): {}", joints.join(", ")))
}
