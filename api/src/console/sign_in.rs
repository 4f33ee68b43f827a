//! Signing in and out.

use actix_web::http::StatusCode;
use actix_web::http::header::{HeaderValue, SET_COOKIE};
use actix_web::web::{Form, Query};
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use serde::Deserialize;

use super::Shared;
use super::error::PageError;
use super::response::{Frame, page, see_other};
use super::session::{CookieKind, Session, form_token, is_form_token};
use crate::auth::random_secret;
use crate::problem::Code;

use crate::routes::Context;
use crate::service::{Error, access};

/// Where signing in leads.
const HOME: &str = "/fleet";

#[derive(Debug, Template)]
#[template(path = "sign_in.html")]
struct SignInPage {
    frame: Frame,
    refusal: Option<&'static str>,
    sign_in: String,
    next: String,
    form_token: String,
}

/// Where to go after signing in.
#[derive(Debug, Deserialize)]
pub(super) struct Next {
    next: Option<String>,
}

/// The sign-in form as it is sent.
#[derive(Deserialize)]
pub(super) struct Credentials {
    sign_in: String,
    password: String,
    #[serde(default)]
    next: String,
    #[serde(default)]
    form_token: String,
}

/// The address of the form that leads on to `next`.
pub(super) fn sign_in_address(next: &str) -> String {
    if next == HOME || next == "/" {
        return "/sign-in".to_owned();
    }
    let mut address = "/sign-in?next=".to_owned();
    for byte in next.bytes() {
        // Unreserved characters stand for themselves (RFC 3986 section 2.3).
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            address.push(char::from(byte));
        } else {
            address.push_str(&format!("%{byte:02X}"));
        }
    }
    address
}

/// `next` if it is a path of this service; a form must not lead elsewhere.
fn own_path(next: Option<&str>) -> &str {
    let is_own = |path: &&str| {
        path.starts_with('/')
            && !path.starts_with("//")
            && path.bytes().all(|byte| (0x21..0x7f).contains(&byte) && byte != b'\\')
    };
    next.filter(is_own).unwrap_or(HOME)
}

/// GET /sign-in: the form.
pub(super) async fn form(
    context: Shared,
    request: HttpRequest,
    query: Query<Next>,
    session: Result<Session, PageError>,
) -> HttpResponse {
    let next = own_path(query.next.as_deref());
    if session.is_ok() {
        return see_other(next);
    }
    answer(&context, &request, StatusCode::OK, None, "", next)
}

/// POST /sign-in: opens a session.
pub(super) async fn submit(
    context: Shared,
    request: HttpRequest,
    form: Result<Form<Credentials>, actix_web::Error>,
) -> Result<HttpResponse, PageError> {
    let Ok(form) = form else { return Err(PageError::of(Code::BadRequest)) };
    let next = own_path(Some(&form.next));
    let refuse = |status, why| Ok(answer(&context, &request, status, Some(why), &form.sign_in, next));
    let bound = CookieKind::SignInForm
        .value(&request, context.secure_cookies)
        .is_some_and(|cookie| is_form_token(&cookie, &form.form_token));
    if !bound {
        return refuse(StatusCode::BAD_REQUEST, "This form was out of date. Please sign in again.");
    }
    let now = context.clock.now();
    match access::open_session(&context.service, &form.sign_in, &form.password, now).await {
        Ok(cookie) => {
            let mut response = see_other(next);
            set(&mut response, &CookieKind::Session.with(&cookie, context.secure_cookies));
            set(&mut response, &CookieKind::SignInForm.gone(context.secure_cookies));
            Ok(response)
        }
        Err(Error::SignInRefused) => refuse(
            StatusCode::UNAUTHORIZED,
            "That name and password do not belong together. Check both, or ask a director for a new password.",
        ),
        Err(Error::TooManyTries) => refuse(
            StatusCode::TOO_MANY_REQUESTS,
            "Too many tries with this name. Wait a minute, then try again.",
        ),
        Err(error) => Err(error.into()),
    }
}

/// The form's token.
#[derive(Deserialize)]
pub(super) struct SignOut {
    form_token: String,
}

/// POST /sign-out: ends the session.
pub(super) async fn sign_out(
    context: Shared,
    session: Session,
    form: Result<Form<SignOut>, actix_web::Error>,
) -> Result<HttpResponse, PageError> {
    let form = form.map_err(|_| PageError::of(Code::BadRequest))?;
    session.check_form(&form.form_token)?;
    access::close_session(&context.service, session.cookie()).await?;
    let mut response = see_other("/sign-in");
    set(&mut response, &CookieKind::Session.gone(context.secure_cookies));
    Ok(response)
}

/// The form, with the cookie that binds it to the browser unless it has one already.
fn answer(
    context: &Context,
    request: &HttpRequest,
    status: StatusCode,
    refusal: Option<&'static str>,
    sign_in: &str,
    next: &str,
) -> HttpResponse {
    let known =
        CookieKind::SignInForm.value(request, context.secure_cookies).filter(|cookie| !cookie.is_empty());
    let is_new = known.is_none();
    let cookie = known.unwrap_or_else(random_secret);
    let form = SignInPage {
        frame: Frame::new("Sign in", None),
        refusal,
        sign_in: sign_in.to_owned(),
        next: next.to_owned(),
        form_token: form_token(&cookie),
    };
    let mut response = page(status, &form);
    if is_new {
        set(&mut response, &CookieKind::SignInForm.with(&cookie, context.secure_cookies));
    }
    response
}

/// Adds a `Set-Cookie` header. Fails only for values that do not fit one; ours are hexadecimal digits and a dot.
fn set(response: &mut HttpResponse, cookie: &str) {
    match HeaderValue::from_str(cookie) {
        Ok(value) => response.headers_mut().append(SET_COOKIE, value),
        Err(error) => tracing::error!(%error, "a cookie could not be set"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signing_in_leads_to_pages_of_this_service_only() {
        assert_eq!(own_path(Some("/units/7?months=3")), "/units/7?months=3");
        for elsewhere in ["//example.org", "https://example.org", "/\\example.org", "", "/a b", "/a\r\nX: y"]
        {
            assert_eq!(own_path(Some(elsewhere)), HOME, "{elsewhere:?}");
        }
        assert_eq!(own_path(None), HOME);
    }

    #[test]
    fn the_form_escapes_what_it_repeats() {
        let form = SignInPage {
            frame: Frame::new("Sign in", None),
            refusal: Some("No."),
            sign_in: "\"><script>alert(1)</script>".into(),
            next: "/fleet".into(),
            form_token: "t".into(),
        };
        let html = form.render().unwrap();
        assert!(!html.contains("<script"), "{html}");
    }
}
