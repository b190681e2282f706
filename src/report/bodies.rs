//! Which bodies does the program see, and where do they begin and end?

use serde::Serialize;

use super::Ink;
use super::number::{Rounding, fixed};
use super::text::table::{Cell, Set, Table};
use crate::check::BodyBox;

/// A body as machines read it.
#[derive(Serialize)]
struct Row<'a> {
    body: &'a str,
    class: &'static str,
    lowest_x_m: f64,
    lowest_y_m: f64,
    lowest_z_m: f64,
    highest_x_m: f64,
    highest_y_m: f64,
    highest_z_m: f64,
}

impl<'a> Row<'a> {
    fn of(body: &'a BodyBox) -> Self {
        Self {
            body: &body.name,
            class: body.class.word(),
            lowest_x_m: body.lowest.x,
            lowest_y_m: body.lowest.y,
            lowest_z_m: body.lowest.z,
            highest_x_m: body.highest.x,
            highest_y_m: body.highest.y,
            highest_z_m: body.highest.z,
        }
    }
}

/// A table for people: lowest ends rounded down, highest up.
pub fn bodies_text(bodies: &[BodyBox], ink: Ink) -> String {
    let mut table = Table::new([
        ("body", Set::Wrap),
        ("class", Set::Left),
        ("x from", Set::Right),
        ("to", Set::Right),
        ("y from", Set::Right),
        ("to", Set::Right),
        ("z from", Set::Right),
        ("to", Set::Right),
    ]);
    for body in bodies {
        let lowest = |k: usize| Cell::from(fixed(body.lowest[k], 3, Rounding::Down));
        let highest = |k: usize| Cell::from(fixed(body.highest[k], 3, Rounding::Up));
        table.row([
            body.name.as_str().into(),
            body.class.word().replace('_', " ").into(),
            lowest(0),
            highest(0),
            lowest(1),
            highest(1),
            lowest(2),
            highest(2),
        ]);
    }
    let mut out = String::new();
    table.write(ink, 0, &mut out);
    out.push_str(&format!("{} bodies at the start of the plan; metres in the structure's frame\n", bodies.len()));
    out
}

/// A JSON list, unrounded, ending in a new line.
///
/// # Errors
/// If a value cannot be written as JSON.
pub fn bodies_json(bodies: &[BodyBox]) -> serde_json::Result<String> {
    let rows: Vec<Row> = bodies.iter().map(Row::of).collect();
    serde_json::to_string_pretty(&rows).map(|text| text + "\n")
}

/// One row a body, unrounded, under a row of headings.
///
/// # Errors
/// If a row cannot be written.
pub fn bodies_csv(bodies: &[BodyBox]) -> csv::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for body in bodies {
        writer.serialize(Row::of(body))?;
    }
    writer.into_inner().map_err(|error| error.into_error().into())
}
