//! One value, or a list of them.

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::value::{MapAccessDeserializer, StrDeserializer};
use serde::de::{Deserialize, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde::ser::{Serialize, Serializer};
use std::borrow::Cow;
use std::fmt;
use std::marker::PhantomData;

/// Values of which there is mostly one: JSON writes one as itself and several as a list. (An untagged enum would do, but it can't
/// say which field of the inner value is wrong.)
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Few<T>(pub Vec<T>);

impl<T> Default for Few<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<T> Few<T> {
    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl<T: Serialize> Serialize for Few<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.0.as_slice() {
            [one] => one.serialize(serializer),
            all => all.serialize(serializer),
        }
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Few<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(OneOrMore(PhantomData))
    }
}

struct OneOrMore<T>(PhantomData<T>);

impl<'de, T: Deserialize<'de>> Visitor<'de> for OneOrMore<T> {
    type Value = Few<T>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("one value or a list of them")
    }

    fn visit_unit<E: Error>(self) -> Result<Few<T>, E> {
        Ok(Few::default())
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<Few<T>, E> {
        T::deserialize(StrDeserializer::new(text)).map(|one| Few(vec![one]))
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Few<T>, A::Error> {
        T::deserialize(MapAccessDeserializer::new(map)).map(|one| Few(vec![one]))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Few<T>, A::Error> {
        let mut all = Vec::new();
        while let Some(one) = list.next_element()? {
            all.push(one);
        }
        Ok(Few(all))
    }
}

impl<T: JsonSchema> JsonSchema for Few<T> {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        format!("Few_{}", T::schema_name()).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let one = generator.subschema_for::<T>();
        json_schema!({ "anyOf": [one, { "type": "array", "items": one }] })
    }
}
