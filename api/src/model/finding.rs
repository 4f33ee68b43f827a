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
        // What was sent is quoted, and may be as long as a body may be.
        Self { pointer: shortened(pointer.into(), 300), code, detail: shortened(detail.into(), 1000) }
    }
}

/// Collects findings, so that a caller learns of every broken rule at once.
#[derive(Debug, Default)]
pub struct Findings {
    listed: Vec<Finding>,
    more: usize,
}

/// So many findings are listed; whoever breaks more rules corrects these first.
const MOST_LISTED: usize = 100;

/// At most so many letters of a text.
fn shortened(mut text: String, most: usize) -> String {
    if let Some((end, _)) = text.char_indices().nth(most) {
        text.truncate(end);
        text.push('…');
    }
    text
}

impl Findings {
    /// Notes a broken rule.
    pub fn add(&mut self, pointer: impl Into<String>, code: &'static str, detail: impl Into<String>) {
        if self.listed.len() < MOST_LISTED {
            self.listed.push(Finding::new(pointer, code, detail));
        } else {
            self.more += 1;
        }
    }

    /// `value` if nothing was found.
    ///
    /// # Errors
    /// The findings, in the order they were made.
    pub fn into_result<T>(mut self, value: Option<T>) -> Result<T, Vec<Finding>> {
        match value {
            Some(value) if self.listed.is_empty() => Ok(value),
            _ => {
                if self.more > 0 {
                    let detail = format!("{} more are not listed. Correct these first.", self.more);
                    self.listed.push(Finding::new("", "more_findings", detail));
                }
                Err(self.listed)
            }
        }
    }
}
