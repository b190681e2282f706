//! Which numbers do the accessors of a primitive hold?
//!
//! # Law
//! Element `k` of `count` begins at byte `view.byteOffset + accessor.byteOffset + k · stride` of its buffer; the stride
//! is the view's `byteStride`, else the element's size. All of it must lie inside the view, the view inside the buffer.
//! The library reads by that law and takes for granted that it is kept: so it is looked at first.
//!
//! # Source
//! glTF 2.0 Specification, section 3.6.

use std::panic::{AssertUnwindSafe, catch_unwind};

use gltf::Semantic;
use gltf::json::Index;
use gltf::json::accessor::{Accessor, ComponentType, GenericComponentType, Type};
use gltf::json::buffer::MAX_BYTE_STRIDE;
use gltf::json::mesh::Primitive;
use gltf::json::validation::{Checked, USize64};

use super::buffers::Buffers;
use super::document::refer;
use super::wrong::Wrong;

/// Elements of one accessor.
const MOST_ELEMENTS: usize = 2_000_000;

/// What an accessor must hold.
struct Kind {
    /// Bytes of an element; none for another kind.
    size: fn(&Accessor) -> Option<usize>,
    wrong: &'static str,
    expected: &'static str,
}

const POSITIONS: Kind = Kind {
    size: |accessor| match (component(accessor)?, &accessor.type_) {
        (ComponentType::F32, Checked::Valid(Type::Vec3)) => Some(12),
        _ => None,
    },
    wrong: "these are no positions",
    expected: "expected `componentType` 5126 (float) and `type` \"VEC3\"",
};

const INDICES: Kind = Kind {
    size: |accessor| match (component(accessor)?, &accessor.type_) {
        (ComponentType::U8, Checked::Valid(Type::Scalar)) => Some(1),
        (ComponentType::U16, Checked::Valid(Type::Scalar)) => Some(2),
        (ComponentType::U32, Checked::Valid(Type::Scalar)) => Some(4),
        _ => None,
    },
    wrong: "these are no indices",
    expected: "expected `componentType` 5121, 5123 or 5125 (unsigned) and `type` \"SCALAR\"",
};

fn component(accessor: &Accessor) -> Option<ComponentType> {
    match accessor.component_type {
        Checked::Valid(GenericComponentType(component)) => Some(component),
        Checked::Invalid => None,
    }
}

/// The positions of a primitive, and the indices of its corners, each below the number of positions; `at` is its path.
pub(super) fn corners(
    primitive: &gltf::Primitive<'_>,
    stated: &Primitive,
    at: &str,
    buffers: &mut Buffers<'_, '_>,
) -> Result<(Vec<[f64; 3]>, Vec<usize>), Wrong> {
    let position = stated.attributes.get(&Checked::Valid(Semantic::Positions)).copied();
    let position =
        position.ok_or_else(|| Wrong::at(format!("{at}.attributes"), "the key `POSITION` is missing", ""))?;
    look_at_elements(position, &POSITIONS, &format!("{at}.attributes.POSITION"), buffers)?;
    if let Some(index) = stated.indices {
        look_at_elements(index, &INDICES, &format!("{at}.indices"), buffers)?;
    }
    let read = AssertUnwindSafe(|| {
        let reader = primitive.reader(|buffer| buffers.held(buffer.index()));
        let positions: Vec<[f32; 3]> = reader.read_positions()?.collect();
        let indices: Option<Vec<u32>> = reader.read_indices().map(|indices| indices.into_u32().collect());
        (indices.is_some() == stated.indices.is_some()).then_some((positions, indices))
    });
    // What the library is known to trip over has been looked at; this is for what is not known.
    let (positions, indices) = catch_unwind(read).ok().flatten().ok_or_else(|| {
        Wrong::at(at, "the library that reads glTF cannot read this primitive", "expected one that keeps to the format")
    })?;
    if let Some((place, found)) = positions.iter().enumerate().find(|(_, p)| !p.iter().all(|x| x.is_finite())) {
        let what = format!("position {place} is {found:?}");
        return Err(Wrong::at(format!("accessors[{position}]"), what, "expected finite numbers"));
    }
    let count = positions.len();
    let indices: Vec<usize> = match indices {
        None => (0..count).collect(),
        Some(indices) => indices.into_iter().map(|index| index as usize).collect(),
    };
    if let (Some((place, index)), Some(accessor)) =
        (indices.iter().enumerate().find(|(_, index)| **index >= count), stated.indices)
    {
        let expected = format!("expected indices below {count}, the number of positions");
        return Err(Wrong::at(format!("accessors[{accessor}]"), format!("index {place} is {index}"), expected));
    }
    Ok((positions.into_iter().map(|position| position.map(f64::from)).collect(), indices))
}

/// Looks whether all elements of an accessor are there, and fetches the buffer that holds them.
fn look_at_elements(
    index: Index<Accessor>,
    kind: &Kind,
    named_at: &str,
    buffers: &mut Buffers<'_, '_>,
) -> Result<(), Wrong> {
    let accessor = refer(buffers.root, "accessors", index, named_at)?;
    let at = format!("accessors[{index}]");
    let size = (kind.size)(accessor).ok_or_else(|| Wrong::at(&at, kind.wrong, kind.expected))?;
    if accessor.sparse.is_some() {
        let at = format!("{at}.sparse");
        return Err(Wrong::at(at, "sparse accessors are not read", "expected one without `sparse`"));
    }
    let count = whole(accessor.count);
    if count == 0 || count > MOST_ELEMENTS {
        let what = format!("the accessor has {count} elements");
        return Err(Wrong::at(format!("{at}.count"), what, format!("expected 1 to {MOST_ELEMENTS}")));
    }
    buffers.spend(count, &at)?;
    let view_index = accessor.buffer_view.ok_or_else(|| Wrong::at(&at, "the key `bufferView` is missing", ""))?;
    let view = refer(buffers.root, "bufferViews", view_index, &format!("{at}.bufferView"))?;
    let stride = view.byte_stride.map_or(size, |stride| stride.0);
    if stride < size || stride > MAX_BYTE_STRIDE {
        let at = format!("bufferViews[{view_index}].byteStride");
        let expected = format!("expected {size} to {MAX_BYTE_STRIDE}");
        return Err(Wrong::at(at, format!("the stride is {stride} bytes"), expected));
    }
    let length = whole(view.byte_length);
    let offset = accessor.byte_offset.map_or(0, whole);
    let end = (count - 1).checked_mul(stride).and_then(|x| x.checked_add(size)).and_then(|x| x.checked_add(offset));
    if end.is_none_or(|end| end > length) {
        let what = format!("{count} elements do not fit into the {length} bytes of `bufferViews[{view_index}]`");
        return Err(Wrong::at(at, what, "expected an accessor inside its buffer view"));
    }
    buffers.fetch_view(view_index)
}

/// A size or offset; where it is too large to be held, the largest.
pub(super) fn whole(size: USize64) -> usize {
    usize::try_from(size.0).unwrap_or(usize::MAX)
}
