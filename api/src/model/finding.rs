//! Broken rules with their places.

/// One broken rule: where (JSON Pointer, RFC 6901), which (stable code), what to do (sentence).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// JSON Pointer into the record.
    pub pointer: String,
    /// Stable code of the rule.
    pub code: &'static str,
    /// What is wrong and what to do.
    pub detail: String,
}

impl Finding {
    /// A finding at `pointer`.
    pub fn new(pointer: impl Into<String>, code: &'static str, detail: impl Into<String>) -> Self {
        Self { pointer: pointer.into(), code, detail: detail.into() }
    }
}

/// Collects findings, so that a caller learns of every broken rule at once.
#[derive(Debug, Default)]
pub struct Findings(Vec<Finding>);

impl Findings {
    /// Notes a broken rule.
    pub fn add(&mut self, pointer: impl Into<String>, code: &'static str, detail: impl Into<String>) {
        self.0.push(Finding::new(pointer, code, detail));
    }

    /// `value` if nothing was found.
    ///
    /// # Errors
    /// The findings, in the order they were made.
    pub fn into_result<T>(self, value: Option<T>) -> Result<T, Vec<Finding>> {
        match value {
            Some(value) if self.0.is_empty() => Ok(value),
            _ => Err(self.0),
        }
    }
}
