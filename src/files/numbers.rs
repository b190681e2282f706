//! Is every number of a TOML file finite, of a sensible size, and of the sign and order that its key asks for?
//!
//! A key means the same in every kind of file, so one table of keys serves them all.

use crate::model::DEEPEST_OVERLAP;

use super::consistency::MOST_BAYS_OF_A_RUN;
use super::problem::Problems;
use super::toml_file::{Node, TomlFile};

/// No number of a plan is larger than this, either way, in whatever unit.
const LARGEST: f64 = 1e6;
/// No length, coordinate or slide is larger than this, either way, metres. An arm and a restraint of 12 joints each
/// then reach no coordinate beyond 7·10⁴ m, which is what the allowance for rounding in `motion` is made for.
pub(super) const LONGEST: f64 = 1e3;
/// A size or rate is at least this, in whatever unit.
const SMALLEST: f64 = 1e-6;
/// A quaternion's length differs from one by at most this.
const QUATERNION_SLACK: f64 = 1e-3;

/// What a key asks of its number, or of each number of its list.
#[derive(Clone, Copy)]
enum Rule {
    /// Above nought, and not next to it.
    Positive,
    /// Nought or more.
    NotNegative,
    /// Between two values, both allowed.
    Within(f64, f64),
    /// A list of numbers that are not all nought.
    Direction,
    /// Two numbers, the first below the second.
    Rising,
    /// Four numbers of length one.
    Quaternion,
}

use Rule::{Direction, NotNegative, Positive, Quaternion, Rising, Within};

const RULES: &[(&str, Rule)] = &[
    ("size_m", Positive),
    ("radius_m", Positive),
    ("length_m", Positive),
    ("bay_m", Positive),
    ("width_m", Positive),
    ("height_m", Positive),
    ("member_radius_m", Positive),
    ("boot_spacing_m", Positive),
    ("pack_m", Positive),
    ("helmet_radius_m", Positive),
    ("mass_kg", Positive),
    ("cap_m", Positive),
    ("singularity_length_m", Positive),
    ("rate_deg_s", Positive),
    ("rate_m_s", Positive),
    ("acceleration_deg_s2", Positive),
    ("acceleration_m_s2", Positive),
    ("unloaded", Positive),
    ("with_rider", Positive),
    ("with_payload", Positive),
    ("near_structure", Positive),
    ("duration_s", Positive),
    ("at_most_min", Positive),
    ("disc_m", Positive),
    ("stature_m", Positive),
    ("eye_height_m", Positive),
    ("cervicale_height_m", Positive),
    ("acromial_height_m", Positive),
    ("trochanterion_height_m", Positive),
    ("knee_height_m", Positive),
    ("ankle_height_m", Positive),
    ("upper_arm_m", Positive),
    ("forearm_m", Positive),
    ("hand_m", Positive),
    ("biacromial_breadth_m", Positive),
    ("hip_breadth_m", Positive),
    ("foot_length_m", Positive),
    ("thickness_m", NotNegative),
    ("approach_m", NotNegative),
    ("near_worksite_m", NotNegative),
    ("near_structure_m", NotNegative),
    ("within_m", NotNegative),
    ("overlap_m", Within(0.0, DEEPEST_OVERLAP)),
    ("tool_m", NotNegative),
    ("access_m", NotNegative),
    ("stop_reaction_s", NotNegative),
    ("tight", NotNegative),
    ("joint_deg", NotNegative),
    ("joint_m", NotNegative),
    ("base_m", NotNegative),
    ("base_deg", NotNegative),
    ("link_m", NotNegative),
    ("link_deg", NotNegative),
    ("shape_m", NotNegative),
    ("transit_nodes", Within(1.0, LARGEST)),
    ("bays", Within(1.0, MOST_BAYS_OF_A_RUN as f64)),
    ("percentile", Within(1.0, 99.0)),
    ("sight_share", Within(0.0, 1.0)),
    ("cone_deg", Within(0.0, 180.0)),
    ("view_sideways_deg", Within(1.0, 180.0)),
    ("view_up_deg", Within(1.0, 180.0)),
    ("view_down_deg", Within(1.0, 180.0)),
    ("axis", Direction),
    ("approach", Direction),
    ("post_m", Direction),
    ("limits_deg", Rising),
    ("limits_m", Rising),
    ("range_deg", Rising),
    ("quat_xyzw", Quaternion),
];

/// Keys whose whole numbers may be as large as they like.
const NO_MEASURE: &[&str] = &["seed"];

/// Looks at every number of a file.
pub(super) fn check(file: &TomlFile<'_>, problems: &mut Problems) {
    look(file.node(), problems);
}

fn look(node: Node<'_>, problems: &mut Problems) {
    for (key, value) in node.entries() {
        if NO_MEASURE.contains(&key) {
            continue;
        }
        let sound = sizes(value, if key.ends_with("_m") { LONGEST } else { LARGEST }, problems);
        if let Some((_, rule)) = RULES.iter().find(|(name, _)| *name == key)
            && sound
        {
            obey(key, value, *rule, problems);
        }
        look(value, problems);
    }
    let both = node.key("quat_xyzw");
    if both.exists() && node.key("rpy_deg").exists() {
        problems.add(both.key_place(), "this place has two rotations", "expected `rpy_deg` or `quat_xyzw`, not both");
    }
    for item in node.items() {
        look(item, problems);
    }
}

/// Whether a number, or all numbers of a list, are finite and not absurd; those that are not go to `problems`.
fn sizes(value: Node<'_>, largest: f64, problems: &mut Problems) -> bool {
    let mut sound = true;
    if let Some(number) = value.number()
        && (number.is_nan() || number.abs() > largest)
    {
        let what = if number.is_finite() { format!("{number:e} is absurdly large") } else { not_finite(number) };
        problems.add(value.place(), what, format!("expected a number of at most {largest}, either way"));
        sound = false;
    }
    for item in value.items() {
        sound &= sizes(item, largest, problems);
    }
    sound
}

/// Says that a number is none.
pub(super) fn not_finite(number: f64) -> String {
    format!("{number} is not a finite number")
}

fn obey(key: &str, value: Node<'_>, rule: Rule, problems: &mut Problems) {
    let numbers = value.numbers();
    match (rule, value.number(), numbers) {
        (Positive, Some(number), _) if number < SMALLEST => {
            problems.add(value.place(), format!("`{key}` is {number}"), format!("expected {SMALLEST} or more"));
        }
        (NotNegative, Some(number), _) if number < 0.0 => {
            problems.add(value.place(), format!("`{key}` is {number}"), "expected 0 or more");
        }
        (Within(lowest, highest), Some(number), _) if !(lowest..=highest).contains(&number) => {
            let expected = format!("expected a number from {lowest} to {highest}");
            problems.add(value.place(), format!("`{key}` is {number}"), expected);
        }
        (Positive | NotNegative, None, Some(_)) => {
            for item in value.items() {
                obey(key, item, rule, problems);
            }
        }
        (Direction, _, Some(numbers)) if numbers.len() == 3 && length(&numbers) < SMALLEST => {
            problems.add(value.place(), format!("`{key}` has no direction"), "expected a vector that is not zero");
        }
        (Rising, _, Some(numbers)) => {
            if let [lowest, highest] = numbers.as_slice()
                && lowest >= highest
            {
                let what = format!("the limits {lowest} and {highest} are reversed or equal");
                problems.add(value.place(), what, "expected the lowest value first, then a higher one");
            }
        }
        (Quaternion, _, Some(numbers)) if (length(&numbers) - 1.0).abs() > QUATERNION_SLACK => {
            let what = format!("the quaternion's length is {:.6}", length(&numbers));
            problems.add(value.place(), what, "expected x, y, z, w of length 1");
        }
        _ => {}
    }
}

fn length(numbers: &[f64]) -> f64 {
    numbers.iter().map(|x| x * x).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::files::plan_path::PlanPath;

    fn found(text: &str) -> Vec<String> {
        let text: Arc<str> = text.into();
        let mut problems = Problems::default();
        let file = TomlFile::parse(&PlanPath::plan(), &text, &mut problems).expect("no syntax error");
        check(&file, &mut problems);
        problems.list().iter().map(|problem| problem.what.clone()).collect()
    }

    #[test]
    fn a_number_that_is_not_finite_is_found_at_any_depth() {
        assert_eq!(found("a = [[{ b = nan }]]"), ["NaN is not a finite number"]);
        assert_eq!(found("a = [1, [2, inf]]"), ["inf is not a finite number"]);
        assert_eq!(found("a = 1e6\nb_m = 1e3\nc_m_s = 1e6"), [""; 0]);
        assert_eq!(found("b_m = [[1, 1001]]"), ["1.001e3 is absurdly large"]);
        assert_eq!(found("a = 1e7\nseed = 12345678901"), ["1e7 is absurdly large"]);
        assert_eq!(found("a = 1e999"), ["inf is not a finite number"]);
    }

    #[test]
    fn a_key_has_its_rule_wherever_it_stands() {
        assert_eq!(found("[[a]]\nradius_m = 0"), ["`radius_m` is 0"]);
        assert_eq!(found("a = { size_m = [1, -1, 1] }"), ["`size_m` is -1"]);
        assert_eq!(found("limits_deg = [10, -10]"), ["the limits 10 and -10 are reversed or equal"]);
        assert_eq!(found("axis = [0, 0, 0]"), ["`axis` has no direction"]);
        assert_eq!(found("quat_xyzw = [0, 0, 0, 0.5]"), ["the quaternion's length is 0.500000"]);
        assert_eq!(found("rpy_deg = [0, 0, 0]\nquat_xyzw = [0, 0, 0, 1]"), ["this place has two rotations"]);
        assert!(found("size_m = [1, 1, 1]\nlimits_deg = [-10, 10]\naxis = [0, 0, 1]").is_empty());
    }
}
