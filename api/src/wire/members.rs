//! The members of an object as they were written, for documents that are put together from others.

use std::fmt;

use serde::Deserialize;
use serde::de::{Deserializer, Error as _, MapAccess, Visitor};
use serde_json::value::RawValue;

/// The members of a JSON object, in their order, each value in the literals of its writer.
#[derive(Debug, Clone)]
pub(super) struct Members(Vec<(String, Box<RawValue>)>);

impl Members {
    /// The members of the object in these bytes.
    ///
    /// # Errors
    /// What serde_json says of bytes that are no object, or in which a name stands twice.
    pub(super) fn of(bytes: &[u8]) -> serde_json::Result<Self> {
        serde_json::from_slice(bytes)
    }

    /// Takes a member out.
    pub(super) fn take(&mut self, name: &str) -> Option<Box<RawValue>> {
        let index = self.0.iter().position(|(member, _)| member == name)?;
        Some(self.0.remove(index).1)
    }

    /// Sets a member to a text of JSON; it stands at the end when it was not there.
    pub(super) fn set(&mut self, name: &str, json: String) {
        let value = RawValue::from_string(json).unwrap_or_else(|_| RawValue::NULL.to_owned());
        match self.0.iter_mut().find(|(member, _)| member == name) {
            Some((_, old)) => *old = value,
            None => self.0.push((name.to_owned(), value)),
        }
    }
}

impl fmt::Display for Members {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("{")?;
        for (index, (name, value)) in self.0.iter().enumerate() {
            let comma = if index == 0 { "" } else { "," };
            write!(f, "{comma}{}:{}", serde_json::Value::from(name.as_str()), value.get())?;
        }
        f.write_str("}")
    }
}

impl<'de> Deserialize<'de> for Members {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Object;

        impl<'de> Visitor<'de> for Object {
            type Value = Members;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Members, A::Error> {
                let mut members: Vec<(String, Box<RawValue>)> = Vec::new();
                while let Some((name, value)) = map.next_entry()? {
                    if members.iter().any(|(known, _)| *known == name) {
                        return Err(A::Error::custom(format!("duplicate field `{name}`")));
                    }
                    members.push((name, value));
                }
                Ok(Members(members))
            }
        }

        deserializer.deserialize_map(Object)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn literals_stay_as_they_were_written() {
        let mut members = Members::of(br#"{ "b" : 1.50e2, "a":[ 1,  2 ], "c \"d\"": null }"#).unwrap();
        assert_eq!(members.take("c \"d\"").map(|raw| raw.get().to_owned()).as_deref(), Some("null"));
        members.set("a", "7".to_owned());
        members.set("e", "\"x\"".to_owned());
        assert_eq!(members.to_string(), r#"{"b":1.50e2,"a":7,"e":"x"}"#);
    }

    #[test]
    fn a_name_stands_once() {
        assert!(Members::of(br#"{"a":1,"a":1}"#).unwrap_err().to_string().contains("duplicate field `a`"));
        assert!(Members::of(b"[]").is_err());
    }
}
