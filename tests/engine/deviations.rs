//! Is the table of deviations in `tests/references/README.md` the one that this build measures?
//!
//! Deviations are rounded up to one digit. Rounding of f64 differs from machine to machine: what is under [`FLOOR`], or
//! under a thousandth of what is allowed, is shown as that. With the environment variable `TRUSSWALK_REWRITE_DEVIATIONS` set, the table is written anew.

use std::fs;

use super::stored::{Deviation, folder};
use super::{bound_clearance, reference_sight, reference_time};
use super::{reference_distances, reference_figure, reference_kinematics, reference_six_joint};

const FLOOR: f64 = 1e-12;
const SHARE: f64 = 1e-3;
const BEGIN: &str = "<!-- deviations: begin -->\n";
const END: &str = "<!-- deviations: end -->";

fn all() -> Vec<Deviation> {
    [
        reference_kinematics::deviations(),
        reference_six_joint::deviations(),
        reference_distances::deviations(),
        reference_time::deviations(),
        reference_figure::deviations(),
        reference_sight::deviations(),
        bound_clearance::deviations(),
    ]
    .concat()
}

fn table(deviations: &[Deviation]) -> String {
    let mut text = String::from("| check | reference | largest deviation | allowed |\n| --- | --- | --- | --- |\n");
    for Deviation { check, reference, largest, allowed } in deviations {
        text += &format!(
            "| {check} | {reference} | {} | {allowed:.0e} |\n",
            rounded_up(largest.max(FLOOR).max(SHARE * allowed))
        );
    }
    text
}

/// One digit, rounded up.
fn rounded_up(value: f64) -> String {
    let decade = 10_f64.powf(value.log10().floor());
    // What is a whole number of decades but for rounding stays what it is.
    format!("{:.0e}", (value / decade - 1e-9).ceil() * decade)
}

#[test]
fn the_table_of_deviations_is_the_one_that_is_measured() {
    let path = folder().join("README.md");
    let text = fs::read_to_string(&path).expect("the references have a README");
    let (before, rest) = text.split_once(BEGIN).expect("the README has a marker where the table begins");
    let (stored, after) = rest.split_once(END).expect("the README has a marker where the table ends");
    let measured = table(&all());
    if std::env::var_os("TRUSSWALK_REWRITE_DEVIATIONS").is_some() {
        fs::write(&path, format!("{before}{BEGIN}{measured}{END}{after}")).expect("the README can be written");
    } else {
        assert_eq!(stored, measured, "set TRUSSWALK_REWRITE_DEVIATIONS to write the table anew");
    }
}

#[test]
fn deviations_are_rounded_up_to_one_digit() {
    let shown = [1e-12, 1.01e-10, 1e-9, 9.5e-8, 0.02].map(rounded_up);
    assert_eq!(shown, ["1e-12", "2e-10", "1e-9", "1e-7", "2e-2"]);
}
