//! What does a plan's text become by one change?
//!
//! Only the values that change are written anew; order, comments, spacing and the style of keys stay. What a change
//! names must be there.

use serde::Serialize;
use toml_edit::{Item, TableLike, TomlError};

use crate::model::{self, ClassPair, Crew, PlanEdit, Regime, Who, step_id};

use super::plan_path::PlanPath;
use super::problem::{Place, Problems};
use super::toml_text::{
    Seg,
    Seg::{At, Key},
    TomlText,
};

/// The text of a plan after a change; `file` is the plan, for messages. Whether it still is a sound plan is for its
/// reader to say.
///
/// # Errors
/// The text has syntax errors, what the change names is not there (with the nearest name), or a number is not finite.
pub fn apply(text: &str, file: &PlanPath, edit: &PlanEdit) -> Result<String, Problems> {
    let text = TomlText::new(text).map_err(|error| unreadable(file, &error))?;
    let mut editing = Editing { text, file, problems: Problems::default() };
    match editing.apply(edit) {
        Some(Ok(())) => Ok(editing.text.into_string()),
        Some(Err(error)) => Err(unreadable(file, &error)),
        None => Err(editing.problems),
    }
}

/// The text of a plan after several changes, one after the other.
///
/// # Errors
/// As [`apply`], for any of them.
pub fn apply_all(text: &str, file: &PlanPath, edits: &[PlanEdit]) -> Result<String, Problems> {
    edits.iter().try_fold(text.to_owned(), |text, edit| apply(&text, file, edit))
}

fn unreadable(file: &PlanPath, error: &TomlError) -> Problems {
    let mut problems = Problems::default();
    problems.add(Place::text(file, error.span().unwrap_or_default()), error.message(), "expected a TOML file");
    problems
}

/// The target of a change is missing, and `problems` says which.
type Done = Option<Result<(), TomlError>>;

struct Editing<'a> {
    text: TomlText,
    file: &'a PlanPath,
    problems: Problems,
}

impl Editing<'_> {
    fn apply(&mut self, edit: &PlanEdit) -> Done {
        match edit {
            PlanEdit::SetWaypoint { step, waypoint, joints } => {
                let joints = self.numbers(joints)?;
                let step = self.step(step)?;
                self.waypoint(step, *waypoint)?;
                let path = [Key("step"), At(step), Key("waypoint"), At(*waypoint)];
                Some(self.text.set_in_place_of(&path, ("tip", "joints_deg_m"), &joints))
            }
            PlanEdit::AddWaypoint { step, waypoint, joints } => {
                let joints = self.numbers(joints)?;
                let step = self.step(step)?;
                let table = toml::Table::from_iter([("joints_deg_m".to_owned(), joints)]);
                Some(self.text.insert_table((&[Key("step"), At(step)], "waypoint"), *waypoint, &table))
            }
            PlanEdit::RemoveWaypoint { step, waypoint } => {
                let step = self.step(step)?;
                self.waypoint(step, *waypoint)?;
                Some(self.text.remove(&[Key("step"), At(step), Key("waypoint"), At(*waypoint)]))
            }
            PlanEdit::SetConfiguration { worksite, joints } => {
                let joints = self.numbers(joints)?;
                let worksite = self.worksite(worksite)?;
                Some(self.text.set(&[Key("worksite"), At(worksite), Key("joints_deg_m")], &joints))
            }
            PlanEdit::SetDetents { worksite, who, detents } => self.set_detents(worksite, *who, detents),
            PlanEdit::SetStand { worksite, stand } => {
                let worksite = self.worksite(worksite)?;
                self.named(&[Key("stand")], stand, "a stand")?;
                Some(self.text.set(&[Key("worksite"), At(worksite), Key("stand")], &stand.as_str().into()))
            }
            PlanEdit::SetStandPlace { stand, place } => self.set_stand_place(stand, place),
            PlanEdit::SetCrew { who, crew } => self.set_crew(*who, crew),
            PlanEdit::SetHands { worksite, target, hands } => {
                let [list, at, targets, target] = self.target(worksite, target)?;
                let hands = self.value(hands)?;
                Some(self.text.set(&[list, at, targets, target, Key("hands")], &hands))
            }
            PlanEdit::SetTargetPlace { worksite, target, at_m } => {
                let place = self.numbers(at_m)?;
                let [list, at, targets, target] = self.target(worksite, target)?;
                Some(self.text.set(&[list, at, targets, target, Key("at_m")], &place))
            }
            PlanEdit::SetDuration { step, waypoint, seconds } => {
                let seconds = toml::Value::Float(*seconds);
                if !self.finite([&seconds]) {
                    return None;
                }
                let step = self.step(step)?;
                self.waypoint(step, *waypoint)?;
                let path = [Key("step"), At(step), Key("waypoint"), At(*waypoint), Key("duration_s")];
                Some(self.text.set(&path, &seconds))
            }
            PlanEdit::SetClearance { regime, pair, at_least } => self.set_clearance(*regime, pair, *at_least),
        }
    }

    fn set_detents(&mut self, worksite: &str, who: Who, detents: &[f64]) -> Done {
        let detents = self.numbers(detents)?;
        let at = self.worksite(worksite)?;
        let path = [Key("worksite"), At(at), Key("second_crew"), Key("detents_deg")];
        if who == Who::Rider {
            return Some(self.text.set(&[path[0], path[1], path[3]], &detents));
        }
        if !self.text.look(&path[..3], |place| place.is_some()) {
            let what = format!("the second crew has no place at `{worksite}`");
            return self.wrong(what, "expected a worksite with a `second_crew`");
        }
        Some(self.text.set(&path, &detents))
    }

    fn set_stand_place(&mut self, stand: &str, place: &model::Place) -> Done {
        let at = self.named(&[Key("stand")], stand, "a stand")?;
        let toml::Value::Table(place) = self.value(place)? else { return None };
        if !self.finite(place.values().filter_map(toml::Value::as_array).flatten()) {
            return None;
        }
        Some(self.set_table(&[Key("stand"), At(at), Key("place")], &place))
    }

    fn set_crew(&mut self, who: Who, crew: &Crew) -> Done {
        let whose = self.value(&who)?;
        let toml::Value::Table(crew) = self.value(crew)? else { return None };
        let whose = Key(whose.as_str()?);
        if !self.finite(crew.values().filter_map(toml::Value::as_table).flat_map(|part| part.values())) {
            return None;
        }
        for part in ["stature", "measures"] {
            let none = toml::Table::new();
            let new = crew.get(part).and_then(toml::Value::as_table).unwrap_or(&none);
            if let Err(error) = self.set_table(&[whose, Key(part)], new) {
                return Some(Err(error));
            }
        }
        Some(Ok(()))
    }

    /// Makes a table hold these values and no others; an empty one goes.
    fn set_table(&mut self, path: &[Seg<'_>], new: &toml::Table) -> Result<(), TomlError> {
        let old: Option<Vec<String>> =
            self.text.look(path, |table| Some(table?.as_table_like()?.iter().map(|(key, _)| key.to_owned()).collect()));
        match old {
            None if new.is_empty() => Ok(()),
            None => self.text.set(path, &toml::Value::Table(new.clone())),
            Some(old) if new.is_empty() && !old.is_empty() => self.text.remove(path),
            Some(old) => {
                for (key, value) in new {
                    self.text.set(&[path, &[Key(key)]].concat(), value)?;
                }
                for key in old.iter().filter(|key| !new.contains_key(*key)) {
                    self.text.remove(&[path, &[Key(key)]].concat())?;
                }
                Ok(())
            }
        }
    }

    fn set_clearance(&mut self, regime: Regime, pair: &str, at_least: f64) -> Done {
        let at_least = toml::Value::Float(at_least);
        if !self.finite([&at_least]) {
            return None;
        }
        let regime = self.value(&regime)?;
        let limits = [Key("limits"), Key(regime.as_str()?), Key("clearance_m")];
        let wanted = ClassPair::from_key(pair);
        if wanted.is_none() && pair != "default" {
            let names: Vec<String> = ClassPair::all().map(|pair| pair.to_string()).collect();
            let names = names.iter().map(String::as_str).chain(["default"]);
            self.problems.misspelt(Place::file(self.file), pair, "a pair of classes of bodies", names);
            return None;
        }
        // The file may name the two classes the other way round.
        let as_written = self.text.look(&limits, |limits| {
            let mut keys = limits?.as_table_like()?.iter().map(|(key, _)| key);
            let same = |key: &&str| if wanted.is_some() { ClassPair::from_key(key) == wanted } else { *key == pair };
            keys.find(same).map(str::to_owned)
        });
        let pair = as_written.as_deref().unwrap_or(pair);
        let limit = [&limits[..], &[Key(pair)]].concat();
        let is_table = self.text.look(&limit, |limit| limit.is_some_and(Item::is_table_like));
        let path = if is_table { [&limit[..], &[Key("at_least")]].concat() } else { limit };
        Some(self.text.set(&path, &at_least))
    }

    /// The number of a step; one without an id is named by the law of [`step_id`].
    fn step(&mut self, id: &str) -> Option<usize> {
        self.find(&[Key("step")], id, "a step", |index, step| {
            step.get("id").and_then(Item::as_str).map_or_else(|| step_id(index), str::to_owned)
        })
    }

    fn worksite(&mut self, id: &str) -> Option<usize> {
        self.named(&[Key("worksite")], id, "a worksite")
    }

    /// The way to a target of a worksite.
    fn target(&mut self, worksite: &str, target: &str) -> Option<[Seg<'static>; 4]> {
        let at = self.worksite(worksite)?;
        let targets = [Key("worksite"), At(at), Key("target")];
        let target = self.named(&targets, target, &format!("a target of `{worksite}`"))?;
        let [list, at, targets] = targets;
        Some([list, at, targets, At(target)])
    }

    /// The number of a thing in a list, by its id.
    fn named(&mut self, list: &[Seg<'_>], id: &str, kind: &str) -> Option<usize> {
        self.find(list, id, kind, |_, item| {
            item.get("id").and_then(Item::as_str).map(str::to_owned).unwrap_or_default()
        })
    }

    fn find(
        &mut self,
        list: &[Seg<'_>],
        id: &str,
        kind: &str,
        name: impl Fn(usize, &dyn TableLike) -> String,
    ) -> Option<usize> {
        let names: Vec<String> = self
            .text
            .look(list, |list| tables(list).into_iter().enumerate().map(|(index, table)| name(index, table)).collect());
        let found = names.iter().position(|name| name == id);
        if found.is_none() {
            self.problems.misspelt(Place::file(self.file), id, kind, names.iter().map(String::as_str));
        }
        found
    }

    /// That a step has a waypoint of this number.
    fn waypoint(&mut self, step: usize, waypoint: usize) -> Option<()> {
        let count = self.text.look(&[Key("step"), At(step), Key("waypoint")], |list| tables(list).len());
        if waypoint < count {
            return Some(());
        }
        let what = format!("there is no waypoint {} in the step", waypoint + 1);
        self.wrong(what, &if count == 0 { "it has none".to_owned() } else { format!("expected 1 to {count}") })
    }

    /// Numbers as a list, all of them finite.
    fn numbers(&mut self, numbers: &[f64]) -> Option<toml::Value> {
        let list: Vec<toml::Value> = numbers.iter().copied().map(toml::Value::Float).collect();
        self.finite(&list).then_some(toml::Value::Array(list))
    }

    fn finite<'v>(&mut self, values: impl IntoIterator<Item = &'v toml::Value>) -> bool {
        let odd = values.into_iter().filter_map(toml::Value::as_float).find(|number| !number.is_finite());
        if let Some(number) = odd {
            let what = format!("{number} is no value");
            self.problems.add(Place::file(self.file), what, "expected a finite number");
        }
        odd.is_none()
    }

    /// A value of the model as it is written in files.
    fn value(&mut self, value: &impl Serialize) -> Option<toml::Value> {
        match toml::Value::try_from(value) {
            Ok(value) => Some(value),
            Err(error) => self.wrong(error.to_string(), ""),
        }
    }

    fn wrong<T>(&mut self, what: String, expected: &str) -> Option<T> {
        self.problems.add(Place::file(self.file), what, expected);
        None
    }
}

/// The tables of a list, in brackets or each with a header.
fn tables(list: Option<&Item>) -> Vec<&dyn TableLike> {
    match list {
        Some(Item::ArrayOfTables(list)) => list.iter().map(|table| table as &dyn TableLike).collect(),
        Some(Item::Value(toml_edit::Value::Array(list))) => {
            list.iter().filter_map(toml_edit::Value::as_inline_table).map(|table| table as &dyn TableLike).collect()
        }
        _ => Vec::new(),
    }
}
