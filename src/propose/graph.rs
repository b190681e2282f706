//! Which vertices, one of each layer, make the cheapest path?
//!
//! # Law
//! Dynamic programming: the cheapest path to a vertex is the cheapest to one of the layer before, and an edge. Vertices of
//! one group are all joined to each other; from another group, only its cheapest vertex may be left. So a change of group is
//! found where it pays, and the work stays near the sum of squares of the groups.

use std::collections::BTreeMap;

/// A vertex of a layer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vertex {
    pub group: usize,
    pub cost: f64,
}

/// The cheapest path through all layers, as the number of a vertex in each; else the first layer that no path gets to.
///
/// A vertex whose cost is not finite is none. `edge(n, a, b)` is what it costs to get from vertex `a` of layer `n - 1` to
/// vertex `b` of layer `n`; none where it cannot be done.
pub fn cheapest(
    layers: &[Vec<Vertex>],
    edge: impl Fn(usize, usize, usize) -> Option<f64>,
) -> Result<Vec<usize>, usize> {
    let mut reached: Vec<Vec<Reached>> = Vec::new();
    for (n, layer) in layers.iter().enumerate() {
        let here: Vec<Reached> = match reached.last() {
            None => layer.iter().map(|vertex| Reached { cost: vertex.cost, from: 0 }).collect(),
            Some(before) => {
                let groups = groups(&layers[n - 1], before);
                let of = |(b, vertex): (usize, &Vertex)| {
                    best(&groups, before, vertex, |a| edge(n, a, b)).unwrap_or(Reached { cost: f64::INFINITY, from: 0 })
                };
                layer.iter().enumerate().map(of).collect()
            }
        };
        if here.iter().all(|reached| !reached.cost.is_finite()) {
            return Err(n);
        }
        reached.push(here);
    }
    let Some(last) = reached.last() else { return Ok(Vec::new()) };
    let (mut at, _) =
        last.iter().enumerate().min_by(|(_, a), (_, b)| a.cost.total_cmp(&b.cost)).expect("some are reached");
    let mut path = vec![at];
    for here in reached[1..].iter().rev() {
        at = here[at].from;
        path.push(at);
    }
    path.reverse();
    Ok(path)
}

#[derive(Clone, Copy)]
struct Reached {
    cost: f64,
    from: usize,
}

/// The vertices of each group that are reached, cheapest first.
fn groups(layer: &[Vertex], reached: &[Reached]) -> BTreeMap<usize, Vec<usize>> {
    let mut groups: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (a, vertex) in layer.iter().enumerate().filter(|(a, _)| reached[*a].cost.is_finite()) {
        groups.entry(vertex.group).or_default().push(a);
    }
    for group in groups.values_mut() {
        group.sort_by(|a, b| reached[*a].cost.total_cmp(&reached[*b].cost));
    }
    groups
}

fn best(
    groups: &BTreeMap<usize, Vec<usize>>,
    before: &[Reached],
    vertex: &Vertex,
    edge: impl Fn(usize) -> Option<f64>,
) -> Option<Reached> {
    if !vertex.cost.is_finite() {
        return None;
    }
    let own = groups.get(&vertex.group).into_iter().flatten();
    let others = groups.iter().filter(|(group, _)| **group != vertex.group).filter_map(|(_, group)| group.first());
    let mut best: Option<Reached> = None;
    for a in own.chain(others) {
        let so_far = before[*a].cost + vertex.cost;
        if best.is_some_and(|best| so_far >= best.cost) {
            continue;
        }
        let Some(edge) = edge(*a) else { continue };
        if best.is_none_or(|best| so_far + edge < best.cost) {
            best = Some(Reached { cost: so_far + edge, from: *a });
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every path, tried one by one.
    fn cheapest_of_all(layers: &[Vec<Vertex>], edge: &dyn Fn(usize, usize, usize) -> Option<f64>) -> f64 {
        let mut paths: Vec<(Vec<usize>, f64)> = (0..layers[0].len()).map(|a| (vec![a], layers[0][a].cost)).collect();
        for (n, layer) in layers.iter().enumerate().skip(1) {
            paths = paths
                .iter()
                .flat_map(|(path, cost)| {
                    let last = path[path.len() - 1];
                    (0..layer.len()).filter_map(move |b| {
                        let longer = path.iter().copied().chain([b]).collect();
                        Some((longer, cost + edge(n, last, b)? + layer[b].cost))
                    })
                })
                .collect();
        }
        paths.into_iter().map(|(_, cost)| cost).fold(f64::INFINITY, f64::min)
    }

    fn layers(groups: usize) -> Vec<Vec<Vertex>> {
        let vertex = |n: usize| Vertex { group: n % groups, cost: (n * 37 % 11) as f64 };
        (0..4).map(|layer| (0..6).map(|n| vertex(layer * 7 + n)).collect()).collect()
    }

    fn edge(n: usize, a: usize, b: usize) -> Option<f64> {
        let mixed = (n * 31 + a * 17 + b * 7) % 13;
        (mixed > 3).then_some(mixed as f64)
    }

    #[test]
    fn in_one_group_no_path_is_cheaper() {
        let layers = layers(1);
        let path = cheapest(&layers, edge).expect("there is one");
        let steps = (1..4).map(|n| edge(n, path[n - 1], path[n]).expect("an edge"));
        let cost = steps.sum::<f64>() + path.iter().zip(&layers).map(|(v, layer)| layer[*v].cost).sum::<f64>();
        assert_eq!(cost, cheapest_of_all(&layers, &edge));
    }

    #[test]
    fn a_group_is_left_where_it_ends() {
        let layers = vec![
            vec![Vertex { group: 0, cost: 1.0 }, Vertex { group: 1, cost: 5.0 }],
            vec![Vertex { group: 0, cost: f64::INFINITY }, Vertex { group: 2, cost: 0.0 }],
        ];
        assert_eq!(cheapest(&layers, |_, _, _| Some(1.0)), Ok(vec![0, 1]));
    }

    #[test]
    fn a_layer_that_no_edge_leads_to_is_told() {
        assert_eq!(cheapest(&layers(2), |n, _, _| (n != 2).then_some(1.0)), Err(2));
    }
}
