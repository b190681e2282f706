//! Which serving of each visit, and which ways between them, hold together?
//!
//! # Law
//! The servings of each visit make the layers of a graph. The path through all layers that is hoped to cost least
//! ([`super::price`], [`super::graph`]) is looked at: at rest, by the check of each visit ([`super::judge`]), and for ways
//! between them ([`super::way`]). What fails is struck out, what holds costs what it was found to cost, and the next path is
//! looked at, until all of it is known to hold: then nothing that is hoped for is cheaper. So the restraint's setting, which
//! can seldom be changed with the rider in it, is chosen for all visits together.
//!
//! # Limits
//! A first look at a transit has a part of the plan's nodes; what it does not find is sought with all of them only where
//! nothing else is left, and no more than a few times to each visit. After [`ENOUGH_WAYS`] transits were sought, the best of
//! what is known is taken; if none of it is in time, the search goes on, and is cut after [`MOST_WAYS`]. A way that is later
//! than its step may be is taken where nothing else is left; the check says so.

mod path;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::AtomicBool;

use rayon::prelude::*;

use super::broken::{Broken, Tally};
use super::judge::{Judged, judge};
use super::memory::Memory;
use super::options::{Options, Serving};
use super::price::Prices;
use super::tie::befores;
use super::way::{NoWay, Way, way};
use crate::check::{Progress, Stopped, go_on};
use crate::model::{Project, Waypoint};
use crate::state::{Moment, Scene};

use path::Trust;

/// Servings of a visit that are judged together.
const TOGETHER: usize = 3;
/// After so many of a visit that all break one limit no more are judged, which the count says.
const HOPELESS: usize = 60;
/// So many transits are sought for hope of better ones ...
const ENOUGH_WAYS: usize = 60;
/// ... and no more than these.
const MOST_WAYS: usize = 400;

/// How many servings were looked at, and what ruled them out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tried {
    /// Something is too near to something at rest; by what.
    pub too_near: Tally,
    pub judged: usize,
    /// Judged, and something of the visit breaks a limit; by what.
    pub violated: Tally,
    /// Whether others were left, which no longer gave hope.
    pub hopeless: bool,
    /// Not looked at, as the body breaks a limit in the same place of the plate.
    pub in_bad_place: usize,
}

/// One serving of each visit, with the ways between.
pub struct Settled {
    pub path: Vec<usize>,
    /// By visit, how the rider gets there.
    pub ways: Vec<Way>,
}

/// Why nothing holds together.
#[derive(Clone, Debug)]
pub struct Stuck {
    /// The first visit that cannot be settled.
    pub visit: usize,
    /// To how many of its servings there is no way, and why not to the last one; none where none keeps its limits.
    pub ways: Option<(usize, NoWay)>,
    /// Whether the searches are spent.
    pub spent: bool,
}

/// What is known of a serving.
enum Mark {
    /// The plan's own, which nobody looks at.
    Given,
    New,
    /// Nothing is too near at rest.
    Free,
    Good(Box<Judged>),
    Out,
}

/// The search for what holds together.
pub struct Settling<'a> {
    scene: &'a Scene<'a>,
    options: &'a [Options],
    prices: Prices,
    /// By visit and serving.
    groups: Vec<Vec<usize>>,
    marks: Vec<Vec<Mark>>,
    ways: BTreeMap<(usize, usize, usize), Result<Way, NoWay>>,
    /// Ways that were not found and were sought in full.
    sought_again: BTreeSet<(usize, usize, usize)>,
    /// How many transits were sought.
    sought: usize,
    /// The most visits and ways of one path that were known to hold.
    done: usize,
    pub tried: Vec<Tried>,
    /// By visit, the judged one with the fewest violations.
    pub nearest: Vec<Option<Judged>>,
    memory: &'a Memory,
    stop: &'a AtomicBool,
}

impl<'a> Settling<'a> {
    /// Nothing is known yet.
    pub fn new(scene: &'a Scene<'a>, options: &'a [Options], memory: &'a Memory, stop: &'a AtomicBool) -> Self {
        let mut numbers: BTreeMap<Vec<u64>, usize> = BTreeMap::new();
        let mut group = |serving: &Serving| {
            let key: Vec<u64> = serving.setting.detents.iter().map(|detent| detent.to_bits()).collect();
            let next = numbers.len();
            *numbers.entry(key).or_insert(next)
        };
        let groups = options.iter().map(|options| options.servings.iter().map(&mut group).collect()).collect();
        let mark = |options: &Options| if options.open.is_some() { Mark::New } else { Mark::Given };
        Self {
            scene,
            options,
            prices: Prices::new(scene, options),
            groups,
            marks: options.iter().map(|options| options.servings.iter().map(|_| mark(options)).collect()).collect(),
            ways: BTreeMap::new(),
            sought_again: BTreeSet::new(),
            sought: 0,
            done: 0,
            tried: vec![Tried::default(); options.len()],
            nearest: options.iter().map(|options| options.nearest.clone()).collect(),
            memory,
            stop,
        }
    }

    /// The servings of a visit that were judged and keep every limit.
    pub fn good(&self, n: usize) -> impl Iterator<Item = &Judged> {
        self.marks[n].iter().filter_map(|mark| if let Mark::Good(judged) = mark { Some(&**judged) } else { None })
    }

    /// What was judged of a serving, if it keeps every limit.
    pub fn judged(&self, n: usize, k: usize) -> Option<&Judged> {
        if let Mark::Good(judged) = &self.marks[n][k] { Some(judged) } else { None }
    }

    /// Looks for what holds together.
    ///
    /// # Errors
    /// [`Stopped`] when the flag goes up.
    pub fn settle(&mut self, progress: &dyn Progress) -> Result<Result<Settled, Stuck>, Stopped> {
        loop {
            go_on(self.stop)?;
            if let Some(visit) = self.hopeless() {
                return Ok(Err(self.stuck(visit, false)));
            }
            let in_time = |path: &Vec<usize>| self.ways_of(path).all(|way| way.late <= 0.0);
            let known = if self.sought < ENOUGH_WAYS { None } else { self.path(Trust::Known).ok().filter(in_time) };
            let hoped = known.map_or_else(|| self.path(Trust::Hoped), Ok);
            let path = match hoped.or_else(|visit| self.path(Trust::SoughtAgain).map_err(|_| visit)) {
                Ok(path) if self.sought < MOST_WAYS => path,
                Ok(_) => return Ok(Err(self.stuck(self.options.len() - 1, true))),
                Err(visit) => return Ok(Err(self.stuck(visit, false))),
            };
            self.tell(&path, progress);
            let is_known = !self.look_at_rest(&path)
                && !self.judge_visits(&path)?
                && !self.look_for_ways(&path, false)?
                && !self.look_for_ways(&path, true)?;
            if is_known {
                return Ok(Ok(self.settled(path)));
            }
        }
    }

    /// The plan with a path's servings in place.
    fn served(&self, path: &[usize]) -> Project {
        let mut project = self.scene.project.clone();
        for (options, k) in self.options.iter().zip(path).filter(|(options, _)| options.open.is_some()) {
            for site in project.plan.worksite.iter_mut().filter(|site| site.id == options.visit.site) {
                options.servings[*k].setting.serve(self.scene.project, site);
            }
        }
        project
    }

    /// The plan with a path's servings in place, and the waypoints that are known for it.
    pub fn complete(&self, path: &[usize]) -> Project {
        let mut project = self.served(path);
        for n in 1..path.len() {
            if let Some(Ok(Way { found: Some(found), .. })) = self.ways.get(&(n, path[n - 1], path[n])) {
                let written = |q: &Vec<f64>| super::as_written(self.scene.project, q);
                let waypoint = |q: &Vec<f64>| Waypoint { joints: Some(written(q)), ..Waypoint::default() };
                let arriving = self.options[n].visit.arriving;
                project.plan.step[arriving].waypoint = found.waypoints.iter().map(waypoint).collect();
            }
        }
        project
    }

    /// Strikes out the serving of a visit; whether that is possible.
    pub fn strike(&mut self, n: usize, k: usize) -> bool {
        let possible = !matches!(self.marks[n][k], Mark::Given);
        if possible {
            self.marks[n][k] = Mark::Out;
        }
        possible
    }

    /// Strikes out a way.
    pub fn strike_way(&mut self, n: usize, [from, to]: [usize; 2], why: NoWay) {
        self.ways.insert((n, from, to), Err(why));
    }

    /// The ways of a path that are known.
    fn ways_of(&self, path: &[usize]) -> impl Iterator<Item = &Way> {
        (1..path.len()).filter_map(|n| self.ways.get(&(n, path[n - 1], path[n]))?.as_ref().ok())
    }

    fn settled(&self, path: Vec<usize>) -> Settled {
        let way = |n: usize| match n.checked_sub(1).and_then(|before| self.ways.get(&(n, path[before], path[n]))) {
            Some(Ok(way)) => way.clone(),
            _ => Way::default(),
        };
        let ways = (0..path.len()).map(way).collect();
        Settled { path, ways }
    }

    fn stuck(&self, visit: usize, spent: bool) -> Stuck {
        let mut no_ways = self.ways.iter().filter_map(|((n, _, _), way)| Some((*n, way.as_ref().err()?)));
        let ways = no_ways.by_ref().filter(|(n, _)| *n == visit).map(|(_, no)| no.clone());
        let ways: Vec<NoWay> = ways.collect();
        let tried = ways.len();
        Stuck { visit, ways: ways.into_iter().next_back().map(|last| (tried, last)), spent }
    }

    /// A visit that no longer gives hope: none of its servings keeps its limits, and one limit rules out all that were judged.
    fn hopeless(&mut self) -> Option<usize> {
        let is_hopeless =
            |n: &usize| self.tried[*n].violated.by_one(HOPELESS).is_some() && self.good(*n).next().is_none();
        let hopeless = (0..self.options.len()).find(is_hopeless)?;
        self.tried[hopeless].hopeless = true;
        Some(hopeless)
    }

    /// Tells how much of a path is known to hold, and how much was looked at so far.
    fn tell(&mut self, path: &[usize], progress: &dyn Progress) {
        let judged: usize = self.tried.iter().map(|tried| tried.judged).sum();
        let told = format!("visits and ways, {judged} settings judged, {} transits sought", self.sought);
        self.done = self.done.max(self.is_done(path));
        progress.begin(&told, (2 * self.options.len()).saturating_sub(1) as u64);
        (0..self.done).for_each(|_| progress.advance());
    }

    /// How many visits and ways of a path are known to hold.
    fn is_done(&self, path: &[usize]) -> usize {
        let visits =
            path.iter().enumerate().filter(|(n, k)| matches!(self.marks[*n][**k], Mark::Good(_) | Mark::Given));
        visits.count() + self.ways_of(path).count()
    }

    /// Looks at rest at servings that nobody has looked at, and at all of the same group; whether there were any.
    fn look_at_rest(&mut self, path: &[usize]) -> bool {
        let mut asked: Vec<(usize, usize)> = Vec::new();
        for (n, k) in path.iter().enumerate().filter(|(n, k)| matches!(self.marks[*n][**k], Mark::New)) {
            let group = self.groups[n][*k];
            let alike = |other: &usize| self.groups[n][*other] == group && matches!(self.marks[n][*other], Mark::New);
            asked.extend((0..self.marks[n].len()).filter(alike).map(|other| (n, other)));
        }
        let too_near = |(n, k): &(usize, usize)| {
            let (options, setting) = (&self.options[*n], &self.options[*n].servings[*k].setting);
            self.memory.too_near(*n, setting).unwrap_or_else(|| {
                let broken = options.too_near(self.scene, setting).unwrap_or_default();
                self.memory.keep_too_near(*n, setting, &broken);
                broken
            })
        };
        let found: Vec<Vec<Broken>> = asked.par_iter().map(too_near).collect();
        for ((n, k), broken) in asked.iter().zip(found) {
            self.marks[*n][*k] = if broken.is_empty() { Mark::Free } else { Mark::Out };
            if !broken.is_empty() {
                self.tried[*n].too_near.add(broken);
            }
        }
        !asked.is_empty()
    }

    /// Has visits judged that nobody has judged, with their like; whether there were any.
    fn judge_visits(&mut self, path: &[usize]) -> Result<bool, Stopped> {
        let mut asked: Vec<(usize, usize)> = Vec::new();
        for (n, k) in path.iter().enumerate().filter(|(n, k)| matches!(self.marks[*n][**k], Mark::Free)) {
            asked.push((n, *k));
            asked.extend(self.alike(n, path).into_iter().map(|other| (n, other)));
        }
        let served = self.served(path);
        let befores = self.befores(&served);
        let judged: Vec<Result<Judged, Stopped>> = asked
            .par_iter()
            .map(|(n, k)| {
                let (options, setting) = (&self.options[*n], &self.options[*n].servings[*k].setting);
                if let Some(known) = self.memory.judged(*n, setting) {
                    return Ok(known);
                }
                let visit = (&options.visit, &befores[*n]);
                let enough = |judged: &Judged| !judged.violations.is_empty();
                let judged = judge((&served, self.scene.meshes), visit, setting, enough, self.stop)?;
                self.memory.keep_judged(*n, &judged);
                Ok(judged)
            })
            .collect();
        for ((n, k), judged) in asked.iter().zip(judged) {
            self.note((*n, *k), judged?);
        }
        Ok(!asked.is_empty())
    }

    fn note(&mut self, (n, k): (usize, usize), judged: Judged) {
        self.tried[n].judged += 1;
        if judged.keeps_all() {
            self.prices.hear_of_judged(n, &judged);
            self.marks[n][k] = Mark::Good(Box::new(judged));
            return;
        }
        self.tried[n].violated.add(judged.broken());
        self.marks[n][k] = Mark::Out;
        if judged.is_the_bodys() {
            self.rule_out(n, self.options[n].servings[k].place);
        }
        let fewer = |known: &Judged| judged.violations.len() < known.violations.len();
        if self.nearest[n].as_ref().is_none_or(fewer) {
            self.nearest[n] = Some(judged);
        }
    }

    /// Every serving in a place of the plate that nobody has judged is out.
    fn rule_out(&mut self, n: usize, place: usize) {
        for (serving, mark) in self.options[n].servings.iter().zip(&mut self.marks[n]) {
            if serving.place == place && matches!(mark, Mark::New | Mark::Free) {
                *mark = Mark::Out;
                self.tried[n].in_bad_place += 1;
            }
        }
    }

    /// Looks for ways that nobody has looked for, or not as thoroughly; whether there were any.
    fn look_for_ways(&mut self, path: &[usize], thorough: bool) -> Result<bool, Stopped> {
        let is_asked = |n: &usize| match self.ways.get(&(*n, path[n - 1], path[*n])) {
            None => true,
            Some(Ok(way)) => thorough && way.found.is_some() && !way.thorough,
            Some(Err(_)) => thorough && self.may_be_sought_again((*n, path[n - 1], path[*n])),
        };
        let asked: Vec<usize> = (1..path.len()).filter(is_asked).collect();
        let served = self.served(path);
        let befores = self.befores(&served);
        let look = |n: &usize| {
            if self.is_given(*n) {
                return Ok(Ok(Way::default()));
            }
            let setting = |visit: usize| &self.options[visit].servings[path[visit]].setting;
            let ends = [setting(*n - 1), setting(*n)];
            if let Some(known) = self.memory.way(*n, ends, thorough) {
                return Ok(known);
            }
            let visit = (&self.options[*n].visit, &befores[*n]);
            let found = way((&served, self.scene.meshes), visit, thorough, self.stop)?;
            self.memory.keep_way(*n, ends, (thorough, &found));
            Ok(found)
        };
        let found: Vec<Result<Result<Way, NoWay>, Stopped>> = asked.par_iter().map(look).collect();
        for (n, found) in asked.iter().zip(found) {
            let found = found?;
            let is_sought = !matches!(found, Err(NoWay::Violated(_)) | Ok(Way { found: None, .. }));
            self.sought += usize::from(is_sought && !thorough);
            if let (Ok(way), false) = (&found, thorough) {
                let ends = [&self.options[n - 1].servings[path[n - 1]], &self.options[*n].servings[path[*n]]];
                self.prices.hear_of_way(*n, ends, way);
            }
            let way = (*n, path[n - 1], path[*n]);
            if thorough && found.is_err() {
                self.sought_again.insert(way);
            }
            self.ways.insert(way, found);
        }
        Ok(!asked.is_empty())
    }

    /// Whether all of the way to a visit is the plan's: nothing that is looked for can better it, and the check of the whole
    /// says what it breaks.
    fn is_given(&self, n: usize) -> bool {
        let [from, to] = [&self.options[n - 1], &self.options[n]];
        let step = &self.scene.project.plan.step[to.visit.arriving];
        from.open.is_none() && to.open.is_none() && !step.waypoint.is_empty()
    }

    fn befores(&self, served: &Project) -> Vec<Moment> {
        let visits: Vec<_> = self.options.iter().map(|options| options.visit.clone()).collect();
        befores(&Scene::new(served, self.scene.meshes), &visits)
    }
}
