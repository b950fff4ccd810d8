//! The keys of a JSON object that is read, and what is told where one is missing or wrong.

use serde_json::Map;
use serde_json::Value;

/// An object, and its name in messages.
pub(super) struct Keys<'v> {
    map: &'v Map<String, Value>,
    what: &'static str,
}

impl<'v> Keys<'v> {
    pub(super) fn of(value: &'v Value, what: &'static str) -> Result<Self, String> {
        let map = value
            .as_object()
            .ok_or_else(|| format!("{what} is not an object with keys"))?;
        Ok(Self { map, what })
    }

    pub(super) fn get(&self, key: &str) -> &'v Value {
        self.map.get(key).unwrap_or(&Value::Null)
    }

    pub(super) fn wrong(&self, key: &str) -> String {
        format!("'{key}' of {} is missing or has a wrong value", self.what)
    }

    pub(super) fn text(&self, key: &str) -> Result<&'v str, String> {
        self.get(key).as_str().ok_or_else(|| self.wrong(key))
    }

    /// A value that may be unknown, and then `null`.
    pub(super) fn known<T>(
        &self,
        key: &str,
        read: impl Fn(&'v Value) -> Option<T>,
    ) -> Result<Option<T>, String> {
        match self.get(key) {
            Value::Null => Ok(None),
            value => read(value).map(Some).ok_or_else(|| self.wrong(key)),
        }
    }

    pub(super) fn needed<T>(
        &self,
        key: &str,
        read: impl Fn(&'v Value) -> Option<T>,
    ) -> Result<T, String> {
        self.known(key, read)?.ok_or_else(|| self.wrong(key))
    }
}
