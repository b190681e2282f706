//! Does every contact, and every target's `on`, name bodies that exist, and no whole class of them?
//!
//! A name means the body itself, or, where it ends in `/`, all bodies below it. Nothing is exempt as a class: a name
//! that means every body of a kind is refused where there is more than one, and so is a keep-out zone, which nothing
//! may enter.

use crate::model::{BodyNames, Project};

use super::names::MOVING_BODIES;
use super::problem::{COMPARED_NAMES, Problem, Problems, nearest, shortened};
use super::toml_file::Node;

/// Looks at the bodies that a plan's contacts and targets name.
pub(super) fn check(project: &Project, file: Node<'_>, problems: &mut Problems) {
    let kinds = project.body_names();
    for worksite in file.key("worksite").items() {
        for target in worksite.key("target").items() {
            for body in target.key("on").items() {
                look(project, &kinds, body, problems);
            }
        }
    }
    for contact in file.key("contact").items() {
        look(project, &kinds, contact.key("a"), problems);
        look(project, &kinds, contact.key("b"), problems);
    }
}

fn look(project: &Project, kinds: &[BodyNames], node: Node<'_>, problems: &mut Problems) {
    let Some(written) = node.text() else { return };
    let first = written.split('/').next().unwrap_or_default();
    if project.structure.keep_out.iter().any(|zone| zone.id == first) {
        let what = format!("`{first}` is a keep-out zone");
        return problems.add(node.place(), what, "expected a body: nothing may enter the zone");
    }
    let meant = kinds.iter().map(|kind| (kind, count(&kind.names, written))).find(|(_, count)| *count > 0);
    match meant {
        Some((kind, count)) if is_whole(kind, count) => {
            let what = format!("`{written}` means every body of {}", kind.of);
            problems.add(node.place(), what, "expected some of them: a whole class is never exempt");
        }
        Some(_) => {}
        None => {
            let is_socket = project.structure.socket.iter().any(|socket| socket.id == first);
            nothing(kinds, (written, first), is_socket, node, problems);
        }
    }
}

/// Whether so many of its names are a whole class.
fn is_whole(kind: &BodyNames, count: usize) -> bool {
    count > 1 && count == kind.names.len()
}

/// How many of sorted names a written one means.
fn count(sorted: &[String], written: &str) -> usize {
    let first = sorted.partition_point(|name| name.as_str() < written);
    let meant = |name: &&String| *name == written || (written.ends_with('/') && name.starts_with(written));
    // Those that begin alike stand together.
    sorted[first..].partition_point(|name| meant(&name))
}

/// Tells a name that means nothing; not where its first part is unknown, which is told with all misspelt ids.
fn nothing(
    kinds: &[BodyNames],
    (written, first): (&str, &str),
    is_socket: bool,
    node: Node<'_>,
    problems: &mut Problems,
) {
    let below = format!("{first}/");
    let like: Vec<&str> = kinds
        .iter()
        .flat_map(|kind| &kind.names)
        .map(String::as_str)
        .filter(|name| *name == first || name.starts_with(&below))
        .collect();
    if like.is_empty() && !is_socket && !MOVING_BODIES.contains(&first) {
        return;
    }
    let is_some = |kind: &BodyNames| {
        let count = count(&kind.names, &below);
        count > 0 && !is_whole(kind, count)
    };
    let several = kinds.iter().any(is_some).then_some(below.as_str());
    problems.push(Problem {
        at: node.place(),
        what: format!("`{}` means no body", shortened(written)),
        expected: "expected a body, or, with `/` at the end, the beginning of several names".to_owned(),
        nearest: nearest(written, several.into_iter().chain(like).take(COMPARED_NAMES)),
    });
}

#[cfg(test)]
mod tests {
    use super::count;

    #[test]
    fn a_name_that_ends_in_a_slash_means_all_below_it() {
        let names = ["rack", "rack-plate", "rack/a", "rack/a/b", "rack/c", "racket"].map(str::to_owned);
        let mut names = names.to_vec();
        names.sort();
        assert_eq!(count(&names, "rack"), 1);
        assert_eq!(count(&names, "rack/"), 3);
        assert_eq!(count(&names, "rack/a/"), 1);
        assert_eq!(count(&names, "rac"), 0);
        assert_eq!(count(&names, "rack/d/"), 0);
    }
}
