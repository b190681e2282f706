//! How many frames a second are drawn, and how soon does an edit show its findings?
//!
//! Measured without a window, so that no display holds the frames back.

use std::time::{Duration, Instant};

use anyhow::{Context, Result};
use bevy::prelude::*;

use crate::files::Draft;
use crate::model::{Crew, Deed, PlanEdit, Stature, Survey, Who};

use super::app;
use super::clock::Clock;
use super::picture::until_checked;
use super::session::{Ask, Session};

/// Frames that are drawn before any is counted.
const WARM_UP: usize = 20;

/// What goes on while frames are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doing {
    /// The plan is played.
    Playing,
    /// A waypoint is moved to and fro, and all that it touches checked again.
    Editing,
    /// The rider grows and shrinks, which touches everything.
    Sizing,
}

/// What was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Rate {
    pub frames: usize,
    pub seconds: f64,
    /// From each edit to the first of its findings, which are those of the moment that is shown.
    pub firsts: Vec<Duration>,
    /// From each edit to all of its findings.
    pub edits: Vec<Duration>,
}

impl Rate {
    /// Frames a second.
    pub fn per_second(&self) -> f64 {
        self.frames as f64 / self.seconds
    }
}

/// Draws a plan for so long into an image of so many pixels, panels included.
///
/// # Errors
/// No graphics driver, a plan with mistakes, or, for edits, one without a waypoint.
pub fn measure(draft: Draft, size: [u32; 2], doing: Doing, lasts: Duration) -> Result<Rate> {
    let mut app = app::offscreen(draft, size)?;
    app.finish();
    app.cleanup();
    until_checked(&mut app, true)?;
    let edits = match doing {
        Doing::Playing | Doing::Editing => {
            waypoint_edits(app.world().resource::<Session>()).context("the plan has no waypoint to move")?
        }
        Doing::Sizing => [60.0, 61.0].map(|percentile| {
            let crew = Crew { stature: Some(Stature { percentile, of: Survey::Women }), ..Crew::default() };
            PlanEdit::SetCrew { who: Who::Rider, crew }
        }),
    };
    let mut clock = app.world_mut().resource_mut::<Clock>();
    clock.playing = doing == Doing::Playing;
    (0..WARM_UP).for_each(|_| app.update());
    let (began, mut frames, mut took, mut firsts) = (Instant::now(), 0, Vec::new(), Vec::new());
    let (mut asked, mut first_came): (Option<Instant>, bool) = (None, false);
    while began.elapsed() < lasts {
        if doing != Doing::Playing && asked.is_none() {
            app.world_mut().write_message(Ask::EditOn(edits[took.len() % 2].clone()));
            (asked, first_came) = (Some(Instant::now()), false);
        }
        app.update();
        frames += 1;
        let session = app.world().resource::<Session>();
        if let Some(since) = asked.filter(|_| !first_came && session.first.is_some()) {
            firsts.push(since.elapsed());
            first_came = true;
        }
        if let Some(since) = asked.filter(|_| !session.checking) {
            took.push(since.elapsed());
            asked = None;
        }
    }
    Ok(Rate { frames, seconds: began.elapsed().as_secs_f64(), firsts, edits: took })
}

/// Two edits that move a waypoint of the plan to and fro by a tenth of a degree.
fn waypoint_edits(session: &Session) -> Option<[PlanEdit; 2]> {
    let plan = &session.loaded.as_ref()?.project.plan;
    let transits = plan.step.iter().enumerate().filter(|(_, step)| step.deed == Deed::Transit);
    let (number, joints) =
        transits.filter_map(|(number, step)| Some((number, step.waypoint.first()?.joints.clone()?))).next()?;
    let step = plan.step[number].id_at(number);
    let moved = |by: f64| {
        let mut joints = joints.clone();
        joints[0] += by;
        PlanEdit::SetWaypoint { step: step.clone(), waypoint: 0, joints }
    };
    Some([moved(0.1), moved(0.0)])
}
