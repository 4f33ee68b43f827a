//! Pages of lists.

use serde::Serialize;
use utoipa::ToSchema;

/// One page of a list. Follow `next_cursor`, or the `Link` header with `rel="next"` (RFC 8288), until it is null.
#[derive(Debug, Serialize, ToSchema)]
pub struct Page<T> {
    /// The items, in the list's order.
    pub items: Vec<T>,
    /// Opaque start of the next page; null on the last.
    pub next_cursor: Option<String>,
}

impl<T> Page<T> {
    /// A list that is complete on one page.
    pub fn whole(items: Vec<T>) -> Self {
        Self { items, next_cursor: None }
    }
}
