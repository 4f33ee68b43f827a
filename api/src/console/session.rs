//! Who looks at a page, and how forms are kept from being sent by somebody else's page.
//!
//! The session cookie is `HttpOnly` and `SameSite=Lax`: a link in a message opens the page it names, and no other site
//! can post with it. On top of that every form carries a token, HMAC-SHA-256 (RFC 2104) keyed with a cookie's value: the
//! session cookie once signed in, and before that a random cookie of the sign-in form (`SameSite=Strict`), so that
//! nobody can be signed in to somebody else's account unnoticed. A page elsewhere can neither read the cookies nor work
//! the token out. Checking `Origin` instead was rejected: proxies that rewrite the host would break it.

use std::future::Future;
use std::pin::Pin;

use actix_web::dev::Payload;
use actix_web::http::header::COOKIE;
use actix_web::web::Data;
use actix_web::{FromRequest, HttpRequest};
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;

use super::error::PageError;
use super::response::{Frame, SignedIn};
use crate::model::{Person, Principal, Scope};
use crate::problem::Code;
use crate::routes::Context;
use crate::service::access;

/// A cookie of ours.
#[derive(Debug, Clone, Copy)]
pub(super) enum CookieKind {
    /// The session.
    Session,
    /// Binds the sign-in form to the browser.
    SignInForm,
}

impl CookieKind {
    /// Its name; over TLS with the prefix that makes browsers refuse it from other hosts and without `Secure`
    /// (RFC 6265bis section 4.1.3.2).
    fn name(self, secure: bool) -> String {
        let name = match self {
            Self::Session => "lapwatch_session",
            Self::SignInForm => "lapwatch_form",
        };
        if secure { format!("__Host-{name}") } else { name.to_owned() }
    }

    /// Its value in a request (RFC 6265 section 4.2.1). Ours are hexadecimal digits and a dot, never quoted.
    pub(super) fn value(self, request: &HttpRequest, secure: bool) -> Option<String> {
        let name = self.name(secure);
        let headers = request.headers().get_all(COOKIE).filter_map(|header| header.to_str().ok());
        let mut pairs =
            headers.flat_map(|header| header.split(';')).filter_map(|pair| pair.trim().split_once('='));
        pairs.find(|(given, _)| *given == name).map(|(_, value)| value.to_owned())
    }

    /// The `Set-Cookie` header that sets it, for the browser to keep until it closes; the service ends a session before
    /// that.
    pub(super) fn with(self, value: &str, secure: bool) -> String {
        let same_site = match self {
            Self::Session => "Lax",
            Self::SignInForm => "Strict",
        };
        let only_over_tls = if secure { "; Secure" } else { "" };
        format!("{}={value}; Path=/; HttpOnly; SameSite={same_site}{only_over_tls}", self.name(secure))
    }

    /// The header that makes a browser forget it.
    pub(super) fn gone(self, secure: bool) -> String {
        format!("{}; Max-Age=0", self.with("", secure))
    }
}

/// The token of forms under a cookie with this value.
pub(super) fn form_token(cookie: &str) -> String {
    mac(cookie).finalize().into_bytes().iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Whether `token` is that of forms under `cookie`; takes as long for a wrong one.
pub(super) fn is_form_token(cookie: &str, token: &str) -> bool {
    let byte =
        |pair: &[u8]| std::str::from_utf8(pair).ok().and_then(|pair| u8::from_str_radix(pair, 16).ok());
    let bytes: Option<Vec<u8>> = token.as_bytes().chunks(2).map(byte).collect();
    bytes.is_some_and(|bytes| mac(cookie).verify_slice(&bytes).is_ok())
}

fn mac(cookie: &str) -> Hmac<Sha256> {
    let mut mac = Hmac::<Sha256>::new_from_slice(cookie.as_bytes()).expect("HMAC takes a key of any length");
    mac.update(b"lapwatch console form");
    mac
}

/// Somebody who is signed in.
#[derive(Debug)]
pub(super) struct Session {
    /// What they may do.
    pub(super) principal: Principal,
    person: Person,
    cookie: String,
}

impl Session {
    /// The frame of a page for them.
    pub(super) fn frame(&self, title: impl Into<String>) -> Frame {
        let signed_in = SignedIn { name: self.person.name.clone(), form_token: form_token(&self.cookie) };
        Frame::new(title, Some(signed_in))
    }

    /// Whether a form of theirs carried the right token.
    ///
    /// # Errors
    /// A page that says to load the form again.
    pub(super) fn check_form(&self, token: &str) -> Result<(), PageError> {
        if is_form_token(&self.cookie, token) { Ok(()) } else { Err(PageError::of(Code::BadRequest)) }
    }

    /// The cookie's value.
    pub(super) fn cookie(&self) -> &str {
        &self.cookie
    }

    /// Refuses those who may not do what `scope` says.
    ///
    /// # Errors
    /// A 403 page.
    pub(super) fn require(&self, scope: Scope) -> Result<(), PageError> {
        if self.principal.scopes.contains(&scope) { Ok(()) } else { Err(PageError::of(Code::Forbidden)) }
    }
}

impl FromRequest for Session {
    type Error = PageError;
    type Future = Pin<Box<dyn Future<Output = Result<Self, PageError>>>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move { of(&request).await })
    }
}

async fn of(request: &HttpRequest) -> Result<Session, PageError> {
    let context = request.app_data::<Data<Context>>().ok_or(PageError::of(Code::Internal))?;
    let next = || request.uri().path_and_query().map_or("/fleet", |path| path.as_str()).to_owned();
    let Some(cookie) = CookieKind::Session.value(request, context.secure_cookies) else {
        return Err(PageError::SignIn { next: next() });
    };
    match access::session(&context.service, &cookie, context.clock.now()).await? {
        Some((organization, person)) => {
            Ok(Session { principal: person.principal(organization), person, cookie })
        }
        None => Err(PageError::SignIn { next: next() }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cookie_is_found_among_others_and_nowhere_else() {
        let request = actix_web::test::TestRequest::default()
            .insert_header((COOKIE, "other_lapwatch_session=no; lapwatch_session=9f.aa; theme=x"))
            .to_http_request();
        assert_eq!(CookieKind::Session.value(&request, false).as_deref(), Some("9f.aa"));
        assert_eq!(CookieKind::Session.value(&request, true), None, "over TLS only the prefixed name counts");
        assert_eq!(CookieKind::SignInForm.value(&request, false), None);
    }

    #[test]
    fn cookies_are_kept_from_scripts_other_sites_and_plain_connections() {
        let session = CookieKind::Session.with("9f.aa", true);
        assert_eq!(session, "__Host-lapwatch_session=9f.aa; Path=/; HttpOnly; SameSite=Lax; Secure");
        assert!(CookieKind::SignInForm.with("x", false).ends_with("SameSite=Strict"));
        assert!(CookieKind::Session.gone(true).ends_with("; Max-Age=0"));
    }

    #[test]
    fn a_form_token_belongs_to_one_cookie() {
        let token = form_token("9f.secret");
        assert!(is_form_token("9f.secret", &token));
        assert!(!is_form_token("9f.other", &token));
        for wrong in ["", "0", "zz", &token[2..], &format!("{token}00")] {
            assert!(!is_form_token("9f.secret", wrong), "{wrong}");
        }
        assert!(!token.contains("secret"));
    }
}
