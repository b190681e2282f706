//! Which numbers does an accessor hold?
//!
//! # Law
//! Element `k` of `count` begins at byte `view.byteOffset + accessor.byteOffset + k · stride` of its buffer; the stride
//! is the view's `byteStride`, else the element's size. All of it must lie inside the view, the view inside the buffer.
//!
//! # Source
//! glTF 2.0 Specification, section 3.6.

use super::buffers::Buffers;
use super::json::{Json, Wrong};

/// Elements of one accessor.
const MOST_ELEMENTS: usize = 2_000_000;

const UNSIGNED_BYTE: usize = 5121;
const UNSIGNED_SHORT: usize = 5123;
const UNSIGNED_INT: usize = 5125;
const FLOAT: usize = 5126;

/// The positions of an accessor.
pub(super) fn positions(accessor: &Json<'_>, buffers: &mut Buffers<'_, '_>) -> Result<Vec<[f64; 3]>, Wrong> {
    if kind(accessor)? != (FLOAT, "VEC3") {
        return Err(
            accessor.wrong("these are no positions", "expected `componentType` 5126 (float) and `type` \"VEC3\"")
        );
    }
    let mut found = Vec::new();
    let elements = elements(accessor, 12, buffers)?;
    for (index, element) in elements.enumerate() {
        let mut position = [0.0; 3];
        for (coordinate, four) in position.iter_mut().zip(element.as_chunks().0) {
            *coordinate = f64::from(f32::from_le_bytes(*four));
        }
        if !position.iter().all(|x| x.is_finite()) {
            let what = format!("position {index} is {position:?}");
            return Err(accessor.wrong(what, "expected finite numbers"));
        }
        found.push(position);
    }
    Ok(found)
}

/// The indices of an accessor, each below `count`.
pub(super) fn indices(accessor: &Json<'_>, count: usize, buffers: &mut Buffers<'_, '_>) -> Result<Vec<usize>, Wrong> {
    let size = match kind(accessor)? {
        (UNSIGNED_BYTE, "SCALAR") => 1,
        (UNSIGNED_SHORT, "SCALAR") => 2,
        (UNSIGNED_INT, "SCALAR") => 4,
        _ => {
            let expected = "expected `componentType` 5121, 5123 or 5125 (unsigned) and `type` \"SCALAR\"";
            return Err(accessor.wrong("these are no indices", expected));
        }
    };
    let mut found = Vec::new();
    let elements = elements(accessor, size, buffers)?;
    for (place, element) in elements.enumerate() {
        let index = element.iter().rev().fold(0_usize, |number, byte| number << 8 | usize::from(*byte));
        if index >= count {
            let what = format!("index {place} is {index}");
            return Err(accessor.wrong(what, format!("expected indices below {count}, the number of positions")));
        }
        found.push(index);
    }
    Ok(found)
}

fn kind<'a>(accessor: &Json<'a>) -> Result<(usize, &'a str), Wrong> {
    Ok((accessor.needed("componentType")?.whole()?, accessor.needed("type")?.text()?))
}

/// The bytes of each element.
fn elements<'b>(
    accessor: &Json<'_>,
    size: usize,
    buffers: &'b mut Buffers<'_, '_>,
) -> Result<impl Iterator<Item = &'b [u8]> + use<'b>, Wrong> {
    if let Some(sparse) = accessor.get("sparse") {
        return Err(sparse.wrong("sparse accessors are not read", "expected one without `sparse`"));
    }
    let count = accessor.needed("count")?;
    let number = count.whole()?;
    if number == 0 || number > MOST_ELEMENTS {
        return Err(
            count.wrong(format!("the accessor has {number} elements"), format!("expected 1 to {MOST_ELEMENTS}"))
        );
    }
    buffers.spend(number, accessor)?;
    let view = buffers.refer("bufferViews", &accessor.needed("bufferView")?)?;
    let stride = view.whole_or("byteStride", size)?;
    if stride < size || stride > 252 {
        let at = view.get("byteStride").unwrap_or(view);
        return Err(at.wrong(format!("the stride is {stride} bytes"), format!("expected {size} to 252")));
    }
    let view_length = view.needed("byteLength")?.whole()?;
    let offset = accessor.whole_or("byteOffset", 0)?;
    let end = (number - 1).checked_mul(stride).and_then(|x| x.checked_add(size)).and_then(|x| x.checked_add(offset));
    if end.is_none_or(|end| end > view_length) {
        let what = format!("{number} elements do not fit into the {view_length} bytes of `{}`", view.path);
        return Err(accessor.wrong(what, "expected an accessor inside its buffer view"));
    }
    let bytes = buffers.view(&view, view_length)?;
    Ok((0..number).filter_map(move |k| bytes.get(offset + k * stride..).and_then(|rest| rest.get(..size))))
}
