//! The stylesheet and the icon, under addresses that change with their content, so that browsers may keep them for ever.

use std::sync::LazyLock;

use actix_web::HttpResponse;
use actix_web::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use actix_web::web::Path;

use super::error::PageError;
use crate::auth::digest;
use crate::problem::Code;

/// A file that is part of the program.
#[derive(Debug)]
pub(super) struct Asset {
    name: String,
    media_type: &'static str,
    content: &'static str,
}

impl Asset {
    fn new(stem: &str, extension: &str, media_type: &'static str, content: &'static str) -> Self {
        let hash: String = digest(content.as_bytes())[..6].iter().map(|byte| format!("{byte:02x}")).collect();
        Self { name: format!("{stem}.{hash}.{extension}"), media_type, content }
    }

    /// Where it is served.
    pub(super) fn address(&self) -> String {
        format!("/assets/{}", self.name)
    }
}

/// The one stylesheet.
pub(super) static STYLE: LazyLock<Asset> =
    LazyLock::new(|| Asset::new("console", "css", "text/css; charset=utf-8", include_str!("console.css")));

/// The icon of the browser's tab.
pub(super) static ICON: LazyLock<Asset> =
    LazyLock::new(|| Asset::new("icon", "svg", "image/svg+xml", include_str!("icon.svg")));

/// Serves one of them.
pub(super) async fn serve(name: Path<String>) -> Result<HttpResponse, PageError> {
    let known = [&*STYLE, &*ICON].into_iter().find(|asset| asset.name == *name);
    let asset = known.ok_or(PageError::of(Code::NotFound))?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, asset.media_type))
        .insert_header((CACHE_CONTROL, "public, max-age=31536000, immutable"))
        .body(asset.content))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_changes_with_the_content() {
        let one = Asset::new("console", "css", "text/css", "a {}");
        let other = Asset::new("console", "css", "text/css", "b {}");
        assert_ne!(one.address(), other.address());
        assert!(one.address().starts_with("/assets/console."));
    }

    #[test]
    fn the_stylesheet_asks_for_nothing_from_elsewhere() {
        assert!(!STYLE.content.contains("url("), "fonts and images would be further requests");
        assert!(!STYLE.content.contains("@import"));
    }
}
