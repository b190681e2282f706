//! Which links and joints has a URDF, and do they make a tree?

use std::collections::{BTreeMap, BTreeSet};

use roxmltree::{Document, Node};

use crate::files::names::cannot_be_a_name;
use crate::files::problem::{Place, shortened};

use super::xml::{Attributes, tag_place};

/// Links and joints by name, with their elements.
pub(super) struct Robot<'a, 't> {
    pub links: BTreeMap<&'a str, Node<'a, 't>>,
    pub joints: Vec<Joint<'a, 't>>,
    /// The joint that each link hangs on.
    pub holder: BTreeMap<&'a str, usize>,
    /// The joints that hang on each link.
    held: BTreeMap<&'a str, Vec<usize>>,
}

/// A joint and the links that it joins.
#[derive(Clone, Copy)]
pub(super) struct Joint<'a, 't> {
    pub name: &'a str,
    pub kind: &'a str,
    pub parent: &'a str,
    pub child: &'a str,
    pub node: Node<'a, 't>,
}

/// The kinds of joint that the format has.
const KINDS: [&str; 6] = ["revolute", "continuous", "prismatic", "fixed", "floating", "planar"];

impl<'a, 't> Robot<'a, 't> {
    /// The links and joints of a file; what is no tree goes to the problems.
    pub fn read(document: &'a Document<'t>, xml: &mut Attributes<'_>) -> Option<Self> {
        let before = xml.problems.count();
        let root = document.root_element();
        if root.tag_name().name() != "robot" {
            let what = format!("the file is a `<{}>`", root.tag_name().name());
            xml.problems.add(tag_place(xml.path, root), what, "expected a URDF, whose outermost element is `<robot>`");
            return None;
        }
        let elements = |name: &'static str| {
            root.children().filter(move |child| child.is_element() && child.tag_name().name() == name)
        };
        let mut links = BTreeMap::new();
        for node in elements("link") {
            if let Some(name) = named(node, xml)
                && links.insert(name, node).is_some()
            {
                twice(node, name, "link", xml);
            }
        }
        let mut robot = Self { links, joints: Vec::new(), holder: BTreeMap::new(), held: BTreeMap::new() };
        let mut names = BTreeMap::new();
        for node in elements("joint") {
            let Some(name) = named(node, xml) else { continue };
            if names.insert(name, node).is_some() {
                twice(node, name, "joint", xml);
            }
            robot.add_joint(name, node, xml);
        }
        if xml.problems.count() == before {
            robot.look_at_tree(root, xml);
        }
        (xml.problems.count() == before).then_some(robot)
    }

    /// A tree has one root, and all links hang on it.
    fn look_at_tree(&self, whole: Node<'_, '_>, xml: &mut Attributes<'_>) {
        let roots: Vec<&str> = self.links.keys().copied().filter(|link| !self.holder.contains_key(link)).collect();
        if roots.len() > 1 {
            let what = format!("{} links hang on nothing: {}", roots.len(), shortened(&roots.join(", ")));
            xml.problems.add(tag_place(xml.path, whole), what, "expected a tree with one root");
            return;
        }
        let mut reached: BTreeSet<&str> = roots.iter().copied().collect();
        let mut open = roots;
        while let Some(link) = open.pop() {
            let children = self.held_by(link).map(|joint| joint.child);
            open.extend(children.filter(|child| reached.insert(child)));
        }
        if let Some((link, node)) = self.links.iter().find(|(link, _)| !reached.contains(**link)) {
            let what = format!("the link `{link}` hangs on itself: the joints run in a circle");
            xml.problems.add(tag_place(xml.path, *node), what, "expected a tree with one root");
        }
    }

    /// The joints that hang on a link, in the order of the file.
    pub fn held_by(&self, link: &str) -> impl Iterator<Item = &Joint<'a, 't>> {
        self.held.get(link).into_iter().flatten().filter_map(|index| self.joints.get(*index))
    }

    fn add_joint(&mut self, name: &'a str, node: Node<'a, 't>, xml: &mut Attributes<'_>) {
        let Some(kind) = xml.needed(node, "type") else { return };
        if !KINDS.contains(&kind.value()) {
            xml.problems.misspelt(xml.place(&kind), kind.value(), "a kind of joint", KINDS);
        }
        let (parent, child) = (self.joined(node, "parent", xml), self.joined(node, "child", xml));
        let (Some(parent), Some((child, at))) = (parent, child) else { return };
        if self.holder.insert(child, self.joints.len()).is_some() {
            let what = format!("`{child}` hangs on two joints");
            xml.problems.add(at, what, "expected a link that no other joint has as its child");
        }
        self.held.entry(parent.0).or_default().push(self.joints.len());
        self.joints.push(Joint { name, kind: kind.value(), parent: parent.0, child, node });
    }

    /// The link that a joint's parent or child element names.
    fn joined(&self, joint: Node<'a, 't>, role: &str, xml: &mut Attributes<'_>) -> Option<(&'a str, Place)> {
        let Some(node) = Attributes::child(joint, role) else {
            let what = format!("the joint has no `<{role}>`");
            xml.problems.add(tag_place(xml.path, joint), what, format!("expected `<{role} link=\"…\"/>`"));
            return None;
        };
        let link = xml.needed(node, "link")?;
        let at = xml.place(&link);
        if !self.links.contains_key(link.value()) {
            xml.problems.misspelt(at, link.value(), "a link", self.links.keys().copied());
            return None;
        }
        Some((link.value(), at))
    }
}

fn named<'a>(node: Node<'a, '_>, xml: &mut Attributes<'_>) -> Option<&'a str> {
    let name = xml.needed(node, "name")?;
    if let Some((what, expected)) = cannot_be_a_name(name.value()) {
        xml.problems.add(xml.place(&name), what, expected);
        return None;
    }
    Some(name.value())
}

fn twice(node: Node<'_, '_>, name: &str, kind: &str, xml: &mut Attributes<'_>) {
    let at = node.attribute_node("name").map_or_else(|| tag_place(xml.path, node), |name| xml.place(&name));
    xml.problems.add(at, format!("the {kind} `{name}` is there twice"), format!("expected one {kind} of each name"));
}
