//! Against which value is a result held, and from which side?

use std::borrow::Cow;
use std::fmt;
use std::marker::PhantomData;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{self, IntoDeserializer, MapAccess, Visitor};
use serde::ser::SerializeMap;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A limit: in files a number, or a table with its value, its tight band and its source, in the unit of the key that it
/// stands under. `UPPER` says which side of it is the good one.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit<V, const UPPER: bool> {
    /// The value on the good side of which a result must lie.
    pub value: V,
    /// Results nearer than this to the limit are `tight`; the check's own default where it is missing.
    pub tight: Option<V>,
    /// Where the limit comes from; printed.
    pub source: Option<String>,
}

/// A limit below which no result may lie: `{ at_least, tight, source }`.
pub type AtLeast<V = f64> = Limit<V, false>;
/// A limit above which no result may lie: `{ at_most, tight, source }`.
pub type AtMost<V = f64> = Limit<V, true>;

impl<V, const UPPER: bool> Limit<V, UPPER> {
    /// The key of its value.
    const KEY: &str = if UPPER { "at_most" } else { "at_least" };

    /// A bare value.
    pub const fn new(value: V) -> Self {
        Self { value, tight: None, source: None }
    }

    /// A default of the program, which says so.
    pub fn default_of(value: V, source: &str) -> Self {
        Self { value, tight: None, source: Some(source.to_owned()) }
    }
}

impl<V: Serialize, const UPPER: bool> Serialize for Limit<V, UPPER> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut table = serializer.serialize_map(None)?;
        table.serialize_entry(Self::KEY, &self.value)?;
        if let Some(tight) = &self.tight {
            table.serialize_entry("tight", tight)?;
        }
        if let Some(source) = &self.source {
            table.serialize_entry("source", source)?;
        }
        table.end()
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LowerTable<V> {
    at_least: V,
    tight: Option<V>,
    source: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct UpperTable<V> {
    at_most: V,
    tight: Option<V>,
    source: Option<String>,
}

impl<'de, V: Deserialize<'de>, const UPPER: bool> Deserialize<'de> for Limit<V, UPPER> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(LimitVisitor(PhantomData))
    }
}

struct LimitVisitor<V, const UPPER: bool>(PhantomData<V>);

impl<'de, V: Deserialize<'de>, const UPPER: bool> Visitor<'de> for LimitVisitor<V, UPPER> {
    type Value = Limit<V, UPPER>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "a number or a table with `{}`", Limit::<V, UPPER>::KEY)
    }

    fn visit_f64<E: de::Error>(self, number: f64) -> Result<Self::Value, E> {
        V::deserialize(number.into_deserializer()).map(Limit::new)
    }

    fn visit_i64<E: de::Error>(self, number: i64) -> Result<Self::Value, E> {
        self.visit_f64(number as f64)
    }

    fn visit_u64<E: de::Error>(self, number: u64) -> Result<Self::Value, E> {
        self.visit_f64(number as f64)
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Self::Value, A::Error> {
        let table = de::value::MapAccessDeserializer::new(map);
        if UPPER {
            let UpperTable { at_most: value, tight, source } = UpperTable::deserialize(table)?;
            Ok(Limit { value, tight, source })
        } else {
            let LowerTable { at_least: value, tight, source } = LowerTable::deserialize(table)?;
            Ok(Limit { value, tight, source })
        }
    }
}

impl<V, const UPPER: bool> JsonSchema for Limit<V, UPPER> {
    fn schema_name() -> Cow<'static, str> {
        if UPPER { "AtMost" } else { "AtLeast" }.into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A limit: a number, or a table with its source.",
            "anyOf": [
                { "type": "number" },
                {
                    "type": "object",
                    "properties": {
                        (Self::KEY): { "type": "number" },
                        "tight": { "type": "number" },
                        "source": { "type": "string" }
                    },
                    "required": [Self::KEY],
                    "additionalProperties": false
                }
            ]
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Angle;

    fn read(text: &str) -> Result<AtMost<Angle>, String> {
        #[derive(Deserialize)]
        struct File {
            turn: AtMost<Angle>,
        }
        toml::from_str(text).map(|file: File| file.turn).map_err(|error| error.message().to_owned())
    }

    #[test]
    fn an_upper_limit_is_read_and_written_as_one() {
        let half_turn = Limit::new(Angle::from_degrees(180.0));
        assert_eq!(read("turn = 180"), Ok(half_turn.clone()));
        assert_eq!(read("turn = { at_most = 180.0 }"), Ok(half_turn.clone()));
        let lower = read("turn = { at_least = 180.0 }").expect_err("the other side");
        assert!(lower.contains("unknown field `at_least`") && lower.contains("`at_most`"), "{lower}");
        let written = serde_json::to_value(&half_turn).map_err(|error| error.to_string());
        assert_eq!(written, Ok(serde_json::json!({ "at_most": 180.0 })));
    }
}
