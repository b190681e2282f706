//! What may stand in each kind of file, as a JSON Schema for editors?

use schemars::{JsonSchema, schema_for};

use crate::model::{Arm, ArmShapes, Plan, Restraint, Structure, Suit};

/// The kinds of TOML file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SchemaKind {
    Plan,
    Structure,
    Arm,
    /// What a URDF leaves out.
    ArmShapes,
    Restraint,
    Suit,
}

impl SchemaKind {
    /// Every kind.
    pub const ALL: [Self; 6] = [Self::Plan, Self::Structure, Self::Arm, Self::ArmShapes, Self::Restraint, Self::Suit];

    /// The word for it on the command line.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Plan => "plan",
            Self::Structure => "structure",
            Self::Arm => "arm",
            Self::ArmShapes => "arm-shapes",
            Self::Restraint => "restraint",
            Self::Suit => "suit",
        }
    }
}

/// The JSON Schema (draft 2020-12) of a kind of file; keys, units and defaults are those of the reader.
pub fn schema(kind: SchemaKind) -> String {
    match kind {
        SchemaKind::Plan => of::<Plan>(),
        SchemaKind::Structure => of::<Structure>(),
        SchemaKind::Arm => of::<Arm>(),
        SchemaKind::ArmShapes => of::<ArmShapes>(),
        SchemaKind::Restraint => of::<Restraint>(),
        SchemaKind::Suit => of::<Suit>(),
    }
}

fn of<T: JsonSchema>() -> String {
    format!("{:#}\n", schema_for!(T).as_value())
}

#[cfg(test)]
mod tests {
    use serde_json::Value;

    use super::*;

    #[test]
    fn a_schema_has_the_keys_of_the_files_with_their_units() {
        let schema: Value = serde_json::from_str(&schema(SchemaKind::Arm)).expect("JSON");
        let joint = &schema["$defs"]["ArmJoint"];
        assert!(joint["properties"]["limits_deg"].is_object(), "{joint}");
        assert_eq!(joint["additionalProperties"], Value::Bool(false));
    }

    #[test]
    fn every_kind_has_a_schema_of_its_own() {
        let titles: Vec<Value> = SchemaKind::ALL
            .iter()
            .map(|kind| serde_json::from_str::<Value>(&schema(*kind)).expect("JSON")["title"].clone())
            .collect();
        assert_eq!(titles, ["Plan", "Structure", "Arm", "ArmShapes", "Restraint", "Suit"]);
    }
}
