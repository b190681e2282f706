//! Who checks the plan while the viewer draws?
//!
//! A thread of its own, which drops what it does when newer work comes. The findings of the place that is looked at come
//! first, then all others; then, for the band of time, how the clearance of each motion runs.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

use bevy::prelude::*;

use crate::check::{self, Checked, Finding, First, Known, MoveCase, Place, Profile, Progress};
use crate::files::Loaded;
use crate::state::Scene;

/// Pieces of each segment in the band of time, by the number of segments: about so many in all.
const PIECES: usize = 64;

/// A plan to be checked.
struct Job {
    number: u64,
    loaded: Arc<Loaded>,
    known: Known,
    /// The place that is looked at.
    first: Option<Place>,
    stop: Arc<AtomicBool>,
}

/// What the engine has to say.
pub enum Answer {
    /// What was found in the place that is looked at; all else is still being checked.
    First { job: u64, place: Place, findings: Vec<Finding> },
    /// The plan is checked; how long it took.
    Checked { job: u64, checked: Arc<Checked>, took: Duration },
    /// How the clearance of a span of the playback runs.
    Profile { job: u64, span: usize, profile: Arc<Profile> },
}

/// The engine's thread, seen from the viewer.
#[derive(Resource)]
pub struct Engine {
    jobs: Sender<Job>,
    answers: Mutex<Receiver<Answer>>,
    newest: u64,
    /// The place that is looked at: what is found there is told first.
    pub looked_at: Option<Place>,
    stop: Arc<AtomicBool>,
    progress: Arc<Shown>,
}

impl Engine {
    /// Starts the thread; it ends when this is dropped.
    ///
    /// # Errors
    /// The system has no thread to give.
    pub fn start() -> std::io::Result<Self> {
        let (jobs, to_do) = channel();
        let (told, answers) = channel();
        let progress = Arc::new(Shown::default());
        let shown = Arc::clone(&progress);
        thread::Builder::new().name("engine".to_owned()).spawn(move || work(&to_do, &told, &shown))?;
        let stop = Arc::new(AtomicBool::new(false));
        Ok(Self { jobs, answers: Mutex::new(answers), newest: 0, looked_at: None, stop, progress })
    }

    /// Asks for a plan to be checked; what was asked before is dropped.
    pub fn ask(&mut self, loaded: Arc<Loaded>, known: Known) -> u64 {
        self.stop.store(true, Ordering::Relaxed);
        self.stop = Arc::new(AtomicBool::new(false));
        self.newest += 1;
        let first = self.looked_at.clone();
        let job = Job { number: self.newest, loaded, known, first, stop: Arc::clone(&self.stop) };
        self.jobs.send(job).expect("the engine's thread lives as long as the viewer");
        self.newest
    }

    /// What has come since it was last asked; answers to older work are left out.
    pub fn answers(&self) -> Vec<Answer> {
        let answers = self.answers.lock().expect("nobody panics while holding the answers");
        let newest = |answer: &Answer| match answer {
            Answer::First { job, .. } | Answer::Checked { job, .. } | Answer::Profile { job, .. } => {
                *job == self.newest
            }
        };
        answers.try_iter().filter(newest).collect()
    }

    /// How far the check is, 0 to 1, and what it is doing.
    pub fn progress(&self) -> (f32, String) {
        self.progress.read()
    }
}

impl Drop for Engine {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

fn work(jobs: &Receiver<Job>, answers: &Sender<Answer>, progress: &Shown) {
    let mut profiles: Vec<(Arc<MoveCase>, Arc<Profile>)> = Vec::new();
    while let Ok(mut job) = jobs.recv() {
        while let Ok(newer) = jobs.try_recv() {
            job = newer;
        }
        let began = Instant::now();
        let (project, meshes) = (&job.loaded.project, &job.loaded.meshes);
        let tell = |place: &Place, findings| {
            // The viewer may have been closed.
            let _ = answers.send(Answer::First { job: job.number, place: place.clone(), findings });
        };
        let first = job.first.as_ref().map(|place| First { place, tell: &tell });
        let again = check::again_first((project, meshes), &job.known, first, progress, &job.stop);
        let Ok(checked) = again else { continue };
        let checked = Arc::new(checked);
        let answer = Answer::Checked { job: job.number, checked: Arc::clone(&checked), took: began.elapsed() };
        if answers.send(answer).is_err() {
            return;
        }
        profiles = draw_profiles(&job, &checked, profiles, answers);
    }
}

/// Bounds the run of each motion, until newer work comes; what was bounded before is used again.
fn draw_profiles(
    job: &Job,
    checked: &Checked,
    known: Vec<(Arc<MoveCase>, Arc<Profile>)>,
    answers: &Sender<Answer>,
) -> Vec<(Arc<MoveCase>, Arc<Profile>)> {
    let scene = Scene::new(&job.loaded.project, &job.loaded.meshes);
    let spans = &checked.playback.spans;
    let is_of = |case: &Arc<MoveCase>| spans.iter().any(|span| span.motion().is_some_and(|of| Arc::ptr_eq(of, case)));
    let mut drawn: Vec<_> = known.into_iter().filter(|(case, _)| is_of(case)).collect();
    for (number, span) in spans.iter().enumerate() {
        let Some(case) = span.motion() else { continue };
        let profile = match drawn.iter().find(|(of, _)| Arc::ptr_eq(of, case)) {
            Some((_, profile)) => Arc::clone(profile),
            None => {
                let pieces = PIECES.div_ceil(span.segments().len());
                let Ok(profile) = check::profile(&scene, case, pieces, &job.stop) else { break };
                drawn.push((Arc::clone(case), Arc::new(profile)));
                Arc::clone(&drawn[drawn.len() - 1].1)
            }
        };
        if answers.send(Answer::Profile { job: job.number, span: number, profile }).is_err() {
            break;
        }
    }
    drawn
}

/// Progress as the viewer reads it.
#[derive(Default)]
pub struct Shown {
    task: Mutex<String>,
    units: AtomicU64,
    done: AtomicU64,
}

impl Shown {
    /// How far the task is, 0 to 1 or more where it takes longer than it seemed; which it is, and how much of it is done.
    pub fn read(&self) -> (f32, String) {
        let task = self.task.lock().expect("nobody panics while holding it").clone();
        if task.is_empty() {
            return (0.0, "about to begin".to_owned());
        }
        let units = self.units.load(Ordering::Relaxed).max(1);
        let done = self.done.load(Ordering::Relaxed);
        let said = if done > units { format!("{task}: {done} done") } else { format!("{task}: {done} of {units}") };
        (done as f32 / units as f32, said)
    }
}

impl Progress for Shown {
    fn begin(&self, task: &str, units: u64) {
        task.clone_into(&mut self.task.lock().expect("nobody panics while holding it"));
        self.units.store(units, Ordering::Relaxed);
        self.done.store(0, Ordering::Relaxed);
    }

    fn advance(&self) {
        self.done.fetch_add(1, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn progress_is_told_by_the_name_of_its_task_and_before_the_first_as_none() {
        let shown = Shown::default();
        assert_eq!(shown.read(), (0.0, "about to begin".to_owned()));
        shown.begin("motions", 4);
        shown.advance();
        assert_eq!(shown.read(), (0.25, "motions: 1 of 4".to_owned()));
        (0..5).for_each(|_| shown.advance());
        assert_eq!(shown.read(), (1.5, "motions: 6 done".to_owned()));
    }
}
