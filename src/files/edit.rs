//! What does a plan's text say after one change?
//!
//! Only the changed value is written anew; comments, order, spacing and what stands after the value stay as they are.

use std::fmt;

use toml_edit::{Array, DocumentMut, InlineTable, Item, Table, TableLike, Value, value};

use crate::model::{Crew, Hands, PlanEdit, Regime, Survey, Who, step_id};

use super::problem::nearest;

/// Why a change cannot be made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CannotEdit(String);

impl fmt::Display for CannotEdit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for CannotEdit {}

fn cannot<T>(why: impl Into<String>) -> Result<T, CannotEdit> {
    Err(CannotEdit(why.into()))
}

/// The text of a plan after a change.
///
/// # Errors
/// The text is no TOML; what is to be changed isn't there.
pub fn edited(text: &str, edit: &PlanEdit) -> Result<String, CannotEdit> {
    let mut document: DocumentMut = text.parse().or_else(|_| cannot("the plan's text has mistakes"))?;
    let root = document.as_table_mut();
    match edit {
        PlanEdit::SetWaypoint { step, waypoint, joints } => {
            let waypoint = waypoint_of(step_of(root, step)?, *waypoint)?;
            waypoint.remove("tip");
            set(waypoint, "joints_deg_m", numbers(joints));
        }
        PlanEdit::AddWaypoint { step, waypoint, joints } => add_waypoint(step_of(root, step)?, *waypoint, joints)?,
        PlanEdit::RemoveWaypoint { step, waypoint } => remove_waypoint(step_of(root, step)?, *waypoint)?,
        PlanEdit::SetConfiguration { worksite, joints } => {
            set(named(root, "worksite", worksite)?, "joints_deg_m", numbers(joints));
        }
        PlanEdit::SetDetents { worksite, who, detents } => {
            let site = named(root, "worksite", worksite)?;
            match who {
                Who::Rider => set(site, "detents_deg", numbers(detents)),
                Who::SecondCrew => match site.get_mut("second_crew").and_then(Item::as_table_like_mut) {
                    Some(place) => set(place, "detents_deg", numbers(detents)),
                    None => return cannot(format!("the worksite `{worksite}` has no place for the second crew")),
                },
            }
        }
        PlanEdit::SetStand { worksite, stand } => {
            set(named(root, "worksite", worksite)?, "stand", stand.as_str().into())
        }
        PlanEdit::SetCrew { who, crew } => set_crew(root, *who, crew)?,
        PlanEdit::SetHands { worksite, target, hands } => {
            let site = named(root, "worksite", worksite)?;
            set(named(site, "target", target)?, "hands", word_of(*hands).into());
        }
        PlanEdit::SetClearance { regime, pair, at_least } => {
            let limits = table(root, "limits")?;
            let clearances = table(table(limits, regime_key(*regime))?, "clearance_m")?;
            match clearances.get_mut(pair).and_then(Item::as_table_like_mut) {
                Some(limit) => set(limit, "at_least", number(*at_least)),
                None => set(clearances, pair, number(*at_least)),
            }
        }
    }
    Ok(document.to_string())
}

const fn word_of(hands: Hands) -> &'static str {
    match hands {
        Hands::Left => "left",
        Hands::Right => "right",
        Hands::Either => "either",
        Hands::Both => "both",
    }
}

const fn regime_key(regime: Regime) -> &'static str {
    match regime {
        Regime::Moving => "moving",
        Regime::AtWork => "at_work",
        Regime::Stopping => "stopping",
    }
}

/// A number as short as the file's units allow: micrometres and millionths of a degree.
fn number(of: f64) -> Value {
    // Adding zero turns a negative zero into a plain one.
    let rounded = (of * 1e6).round() / 1e6 + 0.0;
    if rounded.fract() == 0.0 && rounded.abs() < 1e9 { (rounded as i64).into() } else { rounded.into() }
}

fn numbers(of: &[f64]) -> Value {
    Value::Array(of.iter().copied().map(number).collect::<Array>())
}

/// Writes a value under a key; what stands before and after the old one stays. The same value is not written anew.
fn set(table: &mut dyn TableLike, key: &str, new: Value) {
    match table.get_mut(key).and_then(Item::as_value_mut) {
        Some(old) if same(old, &new) => {}
        Some(old) => {
            let decor = old.decor().clone();
            *old = new;
            *old.decor_mut() = decor;
        }
        None => {
            table.insert(key, value(new));
        }
    }
}

fn same(a: &Value, b: &Value) -> bool {
    let as_number = |value: &Value| value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64));
    match (a, b) {
        (Value::Array(a), Value::Array(b)) => a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(a, b)),
        _ => match (as_number(a), as_number(b)) {
            (Some(a), Some(b)) => a == b,
            _ => a.as_str().is_some() && a.as_str() == b.as_str(),
        },
    }
}

/// The table under a key; made where it is missing.
fn table<'t>(of: &'t mut dyn TableLike, key: &str) -> Result<&'t mut dyn TableLike, CannotEdit> {
    let implicit = || {
        let mut table = Table::new();
        table.set_implicit(true);
        Item::Table(table)
    };
    let item = of.entry(key).or_insert_with(implicit);
    item.as_table_like_mut().map_or_else(|| cannot(format!("`{key}` is no table")), Ok)
}

/// The tables of a list, `[[list]]` or `list = [{ … }]`.
fn items(list: &mut Item) -> Vec<&mut dyn TableLike> {
    match list {
        Item::ArrayOfTables(tables) => tables.iter_mut().map(|table| table as &mut dyn TableLike).collect(),
        Item::Value(Value::Array(array)) => array
            .iter_mut()
            .filter_map(|value| value.as_inline_table_mut().map(|table| table as &mut dyn TableLike))
            .collect(),
        _ => Vec::new(),
    }
}

/// The table of a list that has this id.
fn named<'t>(of: &'t mut dyn TableLike, list: &str, id: &str) -> Result<&'t mut dyn TableLike, CannotEdit> {
    let mut tables = of.get_mut(list).map(items).unwrap_or_default();
    let ids: Vec<String> =
        tables.iter().map(|table| table.get("id").and_then(Item::as_str).unwrap_or_default().to_owned()).collect();
    match ids.iter().position(|known| known == id) {
        Some(at) => Ok(tables.swap_remove(at)),
        None => missing(list, id, &ids),
    }
}

fn missing<T>(list: &str, id: &str, ids: &[String]) -> Result<T, CannotEdit> {
    let near = nearest(id, ids.iter().map(String::as_str));
    let near = near.map(|near| format!("; nearest: `{near}`")).unwrap_or_default();
    cannot(format!("the plan has no {list} `{id}`{near}"))
}

/// The step of this id, or of the number that its id stands for.
fn step_of<'t>(root: &'t mut Table, id: &str) -> Result<&'t mut dyn TableLike, CannotEdit> {
    let mut steps = root.get_mut("step").map(items).unwrap_or_default();
    let id_of = |(number, step): (usize, &&mut dyn TableLike)| {
        step.get("id").and_then(Item::as_str).map_or_else(|| step_id(number), str::to_owned)
    };
    let ids: Vec<String> = steps.iter().enumerate().map(id_of).collect();
    match ids.iter().position(|known| known == id) {
        Some(at) => Ok(steps.swap_remove(at)),
        None => missing("step", id, &ids),
    }
}

fn waypoint_of(step: &mut dyn TableLike, number: usize) -> Result<&mut dyn TableLike, CannotEdit> {
    let mut waypoints = step.get_mut("waypoint").map(items).unwrap_or_default();
    if number < waypoints.len() {
        Ok(waypoints.swap_remove(number))
    } else {
        cannot(format!("the step has {} waypoints, none of number {}", waypoints.len(), number + 1))
    }
}

fn add_waypoint(step: &mut dyn TableLike, before: usize, joints: &[f64]) -> Result<(), CannotEdit> {
    let list = step.entry("waypoint").or_insert_with(|| Item::ArrayOfTables(toml_edit::ArrayOfTables::new()));
    match list {
        Item::ArrayOfTables(tables) => {
            let mut added = Table::new();
            added.insert("joints_deg_m", value(numbers(joints)));
            tables.insert(before.min(tables.len()), added);
            Ok(())
        }
        Item::Value(Value::Array(array)) => {
            let mut added = InlineTable::new();
            added.insert("joints_deg_m", numbers(joints));
            array.insert(before.min(array.len()), added);
            Ok(())
        }
        _ => cannot("the step's `waypoint` is no list"),
    }
}

fn remove_waypoint(step: &mut dyn TableLike, number: usize) -> Result<(), CannotEdit> {
    waypoint_of(step, number)?;
    match step.get_mut("waypoint") {
        Some(Item::ArrayOfTables(tables)) => {
            tables.remove(number);
        }
        Some(Item::Value(Value::Array(array))) => {
            array.remove(number);
        }
        _ => return cannot("the step's `waypoint` is no list"),
    }
    Ok(())
}

fn set_crew(root: &mut Table, who: Who, crew: &Crew) -> Result<(), CannotEdit> {
    let key = match who {
        Who::Rider => "rider",
        Who::SecondCrew => "second_crew",
    };
    let Some(stature) = crew.stature else { return cannot("only a stature by percentile can be set") };
    let of = table(root, key)?;
    if !of.contains_key("stature") {
        of.insert("stature", value(InlineTable::new()));
    }
    let written = table(of, "stature")?;
    set(written, "percentile", number(stature.percentile));
    let survey = match stature.of {
        Survey::Women => "women",
        Survey::Men => "men",
    };
    set(written, "of", survey.into());
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAN: &str = r#"# a plan
[limits.moving.clearance_m]
default = { at_least = 0.30, source = "invented" } # why
[[worksite]]
id = "gate" # first
joints_deg_m = [1.0, 2.0] # keyed in
stand = 'near' # a stand
[[step]]
do = "transit"
waypoint = [{ tip = { at_m = [1, 2, 3] }, duration_s = 9 }, { joints_deg_m = [0, 1] }]
[[step]]
id = "home"
do = "transit"
[[step.waypoint]]
joints_deg_m = [3, 4] # last
"#;

    /// The lines that differ, before and after.
    fn differing(edit: &PlanEdit) -> Vec<(String, String)> {
        let after = edited(PLAN, edit).expect("the edit can be made");
        assert_eq!(after.lines().count(), PLAN.lines().count(), "{after}");
        let pairs = PLAN.lines().zip(after.lines());
        pairs.filter(|(a, b)| a != b).map(|(a, b)| (a.to_owned(), b.to_owned())).collect()
    }

    fn line(before: &str, after: &str) -> Vec<(String, String)> {
        vec![(before.to_owned(), after.to_owned())]
    }

    #[test]
    fn only_the_changed_value_is_written_anew() {
        let joints = vec![1.5, -0.0];
        let configuration = PlanEdit::SetConfiguration { worksite: "gate".to_owned(), joints };
        assert_eq!(
            differing(&configuration),
            line("joints_deg_m = [1.0, 2.0] # keyed in", "joints_deg_m = [1.5, 0] # keyed in")
        );
        let stand = PlanEdit::SetStand { worksite: "gate".to_owned(), stand: "far".to_owned() };
        assert_eq!(differing(&stand), line("stand = 'near' # a stand", "stand = \"far\" # a stand"));
        let limit = PlanEdit::SetClearance { regime: Regime::Moving, pair: "default".to_owned(), at_least: 0.1 + 0.2 };
        assert_eq!(
            differing(&limit),
            line(
                "default = { at_least = 0.30, source = \"invented\" } # why",
                "default = { at_least = 0.30, source = \"invented\" } # why"
            )
            .into_iter()
            .filter(|(a, b)| a != b)
            .collect::<Vec<_>>(),
            "0.30 is what it was"
        );
    }

    #[test]
    fn a_tip_waypoint_becomes_joints_and_keeps_its_duration() {
        let edit = PlanEdit::SetWaypoint { step: "step-1".to_owned(), waypoint: 0, joints: vec![7.0, 8.25] };
        let after = &differing(&edit)[0].1;
        assert!(after.contains("duration_s = 9") && after.contains("joints_deg_m = [7, 8.25]"), "{after}");
        assert!(!after.contains("tip"), "{after}");
    }

    #[test]
    fn waypoints_are_added_and_taken_out_in_both_ways_of_writing() {
        for (step, count) in [("step-1", 2), ("home", 1)] {
            let add = PlanEdit::AddWaypoint { step: step.to_owned(), waypoint: 0, joints: vec![5.0, 6.0] };
            let longer = edited(PLAN, &add).expect("it can be added");
            assert_eq!(longer.matches("[5, 6]").count(), 1);
            let remove = PlanEdit::RemoveWaypoint { step: step.to_owned(), waypoint: 0 };
            let again = edited(&longer, &remove).expect("it can be taken out");
            assert_eq!(again.matches("joints_deg_m").count(), PLAN.matches("joints_deg_m").count());
            let beyond = PlanEdit::RemoveWaypoint { step: step.to_owned(), waypoint: count };
            assert!(edited(PLAN, &beyond).is_err());
        }
    }

    #[test]
    fn what_is_not_there_is_answered_with_the_nearest_name() {
        let edit = PlanEdit::SetStand { worksite: "gatte".to_owned(), stand: "far".to_owned() };
        let told = edited(PLAN, &edit).map_err(|error| error.to_string());
        assert_eq!(told, Err("the plan has no worksite `gatte`; nearest: `gate`".to_owned()));
    }

    #[test]
    fn a_size_of_the_crew_is_written_where_none_was() {
        let stature = Some(crate::model::Stature { percentile: 55.0, of: Survey::Women });
        let edit = PlanEdit::SetCrew { who: Who::Rider, crew: Crew { stature, ..Crew::default() } };
        let after = edited(PLAN, &edit).expect("it can be set");
        let read: toml::Table = after.parse().expect("it is TOML");
        assert_eq!(read["rider"]["stature"]["percentile"].as_integer(), Some(55));
        assert_eq!(read["rider"]["stature"]["of"].as_str(), Some("women"));
    }
}
