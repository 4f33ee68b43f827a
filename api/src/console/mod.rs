//! The console: pages for people.

use actix_web::web::ServiceConfig;

/// Registers the pages.
pub fn register(_config: &mut ServiceConfig) {}
