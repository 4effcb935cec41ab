//! A map that keeps the order of its file and refuses a key twice.

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::de::{Deserialize, Deserializer, Error, MapAccess, Visitor};
use serde::ser::{Serialize, Serializer};
use std::{borrow::Cow, fmt, marker::PhantomData};

/// Keys and values in the order of the file; no key twice.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Map<K, V>(Vec<(K, V)>);

impl<K, V> Default for Map<K, V> {
    fn default() -> Self {
        Map(Vec::new())
    }
}

impl<K: PartialEq, V> Map<K, V> {
    /// The value of a key.
    pub fn get<Q: ?Sized + PartialEq>(&self, key: &Q) -> Option<&V>
    where
        K: std::borrow::Borrow<Q>,
    {
        self.0
            .iter()
            .find(|(known, _)| known.borrow() == key)
            .map(|(_, value)| value)
    }

    /// Whether the key is there.
    pub fn contains<Q: ?Sized + PartialEq>(&self, key: &Q) -> bool
    where
        K: std::borrow::Borrow<Q>,
    {
        self.get(key).is_some()
    }

    /// The keys, in the file's order.
    pub fn keys(&self) -> impl Iterator<Item = &K> {
        self.0.iter().map(|(key, _)| key)
    }

    /// Keys and values, in the file's order.
    pub fn iter(&self) -> impl Iterator<Item = (&K, &V)> {
        self.0.iter().map(|(key, value)| (key, value))
    }

    /// How many keys there are.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl<K, V> FromIterator<(K, V)> for Map<K, V> {
    fn from_iter<I: IntoIterator<Item = (K, V)>>(entries: I) -> Self {
        Map(entries.into_iter().collect())
    }
}

/// A key that stands twice. Found by sorting: a hostile file has a hundred thousand keys.
fn twice<K: Ord, V>(entries: &[(K, V)]) -> Option<&K> {
    let mut keys: Vec<&K> = entries.iter().map(|(key, _)| key).collect();
    keys.sort_unstable();
    let mut pairs = keys.windows(2);
    pairs.find(|pair| pair[0] == pair[1]).map(|pair| pair[0])
}

impl<'de, K, V> Deserialize<'de> for Map<K, V>
where
    K: Deserialize<'de> + Ord + fmt::Display,
    V: Deserialize<'de>,
{
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Entries<K, V>(PhantomData<(K, V)>);
        impl<'de, K, V> Visitor<'de> for Entries<K, V>
        where
            K: Deserialize<'de> + Ord + fmt::Display,
            V: Deserialize<'de>,
        {
            type Value = Map<K, V>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a map of keys and values")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut access: A) -> Result<Map<K, V>, A::Error> {
                let mut entries: Vec<(K, V)> = Vec::new();
                while let Some(entry) = access.next_entry::<K, V>()? {
                    entries.push(entry);
                }
                match twice(&entries) {
                    Some(key) => Err(A::Error::custom(format!("duplicate key `{key}`"))),
                    None => Ok(Map(entries)),
                }
            }
        }
        deserializer.deserialize_map(Entries(PhantomData))
    }
}

impl<K: Serialize, V: Serialize> Serialize for Map<K, V> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(key, value)| (key, value)))
    }
}

impl<K: JsonSchema, V: JsonSchema> JsonSchema for Map<K, V> {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        format!("Map_of_{}", V::schema_name()).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let names = K::json_schema(generator);
        let value = generator.subschema_for::<V>();
        let mut schema = schemars::json_schema!({
            "type": "object",
            "additionalProperties": value,
        });
        if names.get("pattern").is_some() {
            schema.insert("propertyNames".into(), names.into());
        }
        schema
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_map_keeps_the_files_order_and_refuses_a_key_twice() {
        let read = serde_yaml::from_str::<Map<String, u8>>;
        let map = read("{b: 1, a: 2, c: 3}").unwrap();
        assert_eq!(map.keys().collect::<Vec<_>>(), ["b", "a", "c"]);
        let refused = read("{b: 1, a: 2, b: 1}").unwrap_err().to_string();
        assert!(refused.contains("duplicate key `b`"), "{refused}");
    }
}
