//! Which path through all visits is looked at next?
//!
//! # Law
//! The one that costs least: what is known by what it was found to cost, the rest by what is hoped. Visits that are bound to
//! each other ([`Bond`]) get servings that agree.

use super::{Mark, Settling, TOGETHER};
use crate::propose::answer::Answer;
use crate::propose::graph::{Vertex, cheapest};
use crate::propose::options::Bond;
use crate::propose::price::Prices;
use crate::propose::visit::moved_to;
use crate::propose::way::NoWay;

/// So many transits to a visit that a first look did not find are sought in full.
const AGAIN: usize = 4;
/// What a transit costs more that a first look did not find, s: more than all that was found.
const NOT_FOUND: f64 = 1e6;

/// What a path may rest on.
#[derive(Clone, Copy, PartialEq)]
pub enum Trust {
    /// What is known to hold.
    Known,
    /// That, too, and what nobody has looked at.
    Hoped,
    /// That, too, and transits that a first look did not find.
    SoughtAgain,
}

impl Settling<'_> {
    /// The cheapest path through all visits; else the first visit that none gets to.
    pub(super) fn path(&self, trust: Trust) -> Result<Vec<usize>, usize> {
        let vertex = |n: usize, k: usize| Vertex { group: self.groups[n][k], cost: self.cost(n, k, trust) };
        let all: Vec<Vec<Vertex>> = (0..self.options.len())
            .map(|n| (0..self.options[n].servings.len()).map(|k| vertex(n, k)).collect())
            .collect();
        let mut layers = all.clone();
        // Servings that no path with them keeps its bonds.
        let mut barred: Vec<(usize, usize)> = Vec::new();
        let mut bound: Vec<(usize, usize)> = Vec::new();
        loop {
            match cheapest(&layers, |n, a, b| self.edge(n, a, b, trust)) {
                Ok(path) => {
                    let Some(n) = (0..path.len()).find(|n| !self.keeps_bond(*n, &path)) else { return Ok(path) };
                    let earlier = self.options[n].bond.map_or(n, Bond::earlier);
                    bound.push((earlier, path[earlier]));
                    self.bind(&mut layers, (n, earlier, path[earlier]));
                }
                Err(n) => {
                    let Some((earlier, k)) = bound.pop() else { return Err(n) };
                    barred.push((earlier, k));
                    bound.clear();
                    layers.clone_from(&all);
                    for (earlier, k) in &barred {
                        layers[*earlier][*k].cost = f64::INFINITY;
                    }
                }
            }
        }
    }

    fn keeps_bond(&self, n: usize, path: &[usize]) -> bool {
        let Some(bond) = self.options[n].bond else { return true };
        let earlier = &self.options[bond.earlier()].servings[path[bond.earlier()]];
        self.options[n].agrees(earlier, &self.options[n].servings[path[n]])
    }

    /// Leaves of two visits nothing but one serving of the earlier, and what agrees with it.
    fn bind(&self, layers: &mut [Vec<Vertex>], (n, earlier, k): (usize, usize, usize)) {
        let kept = &self.options[earlier].servings[k];
        for (_, vertex) in layers[earlier].iter_mut().enumerate().filter(|(other, _)| *other != k) {
            vertex.cost = f64::INFINITY;
        }
        for (vertex, serving) in layers[n].iter_mut().zip(&self.options[n].servings) {
            if !self.options[n].agrees(kept, serving) {
                vertex.cost = f64::INFINITY;
            }
        }
    }

    fn cost(&self, n: usize, k: usize, trust: Trust) -> f64 {
        match &self.marks[n][k] {
            Mark::Given => 0.0,
            Mark::Out => f64::INFINITY,
            Mark::Good(judged) => Prices::of_judged(judged),
            Mark::New | Mark::Free if trust == Trust::Known => f64::INFINITY,
            Mark::New | Mark::Free => self.prices.of_strain(n, self.options[n].servings[k].strain),
        }
    }

    /// What it costs to get from one serving to the next, s.
    fn edge(&self, n: usize, a: usize, b: usize, trust: Trust) -> Option<f64> {
        let [before, here] = [&self.options[n - 1], &self.options[n]];
        let (from, to) = (&before.servings[a], &here.servings[b]);
        if here.bond.is_some_and(|bond| bond.earlier() == n - 1 && !here.agrees(from, to)) {
            return None;
        }
        let project = self.scene.project;
        if here.visit.is_ingress(project) {
            return Some(0.0);
        }
        let steps = &project.plan.step[before.visit.arriving..here.visit.arriving];
        if moved_to(steps).unwrap_or(&from.setting.stand) != &to.setting.stand {
            return None;
        }
        let at_most =
            project.plan.step[here.visit.arriving].at_most_min.map_or(f64::INFINITY, |minutes| 60.0 * minutes);
        let (way, more) = match self.ways.get(&(n, a, b)) {
            Some(Ok(way)) => (Some(way), 0.0),
            Some(Err(_)) if trust == Trust::SoughtAgain && self.may_be_sought_again((n, a, b)) => (None, NOT_FOUND),
            None if trust != Trust::Known => (None, 0.0),
            Some(Err(_)) | None => return None,
        };
        Some(self.prices.of_way(n, [from, to], way, at_most) + more)
    }

    /// Whether a first look did not find a way, and a full one may: it was not had yet, nor too often to this visit.
    pub(super) fn may_be_sought_again(&self, way: (usize, usize, usize)) -> bool {
        matches!(self.ways.get(&way), Some(Err(NoWay::Transit(Answer::NotFound(_)))))
            && !self.sought_again.contains(&way)
            && self.sought_again.iter().filter(|(n, ..)| *n == way.0).count() < AGAIN
    }

    /// A few servings that might take the place of a path's at a visit, the cheapest first.
    pub(super) fn alike(&self, n: usize, path: &[usize]) -> Vec<usize> {
        let local = |k: usize| {
            let before = if n == 0 { Some(0.0) } else { self.edge(n, path[n - 1], k, Trust::Hoped) };
            let after = path.get(n + 1).map_or(Some(0.0), |next| self.edge(n + 1, k, *next, Trust::Hoped));
            Some(before? + after? + self.cost(n, k, Trust::Hoped))
        };
        let mut others: Vec<(usize, f64)> = (0..self.marks[n].len())
            .filter(|k| *k != path[n] && matches!(self.marks[n][*k], Mark::Free))
            .filter_map(|k| Some((k, local(k)?)))
            .collect();
        others.sort_by(|(_, a), (_, b)| a.total_cmp(b));
        others.truncate(TOGETHER - 1);
        others.into_iter().map(|(k, _)| k).collect()
    }
}
