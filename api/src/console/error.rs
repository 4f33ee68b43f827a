//! Errors as pages: what happened, what to do, and the request id that stands in the log.

use std::fmt;

use actix_web::http::StatusCode;
use actix_web::http::header::ACCEPT;
use actix_web::{HttpRequest, HttpResponse, ResponseError};
use askama::Template;

use super::response::{Frame, page, see_other};
use super::sign_in::sign_in_address;
use crate::problem::{Code, Problem};
use crate::service::Error;
use crate::telemetry::request_id;

/// Why a page cannot be shown.
#[derive(Debug)]
pub(super) enum PageError {
    /// Nobody is signed in: sign in first, then go on to this address.
    SignIn {
        /// Where to go on.
        next: String,
    },
    /// A problem of this kind.
    Problem(Code),
}

impl PageError {
    /// A problem of this kind.
    pub(super) fn of(code: Code) -> Self {
        Self::Problem(code)
    }
}

/// Whether a request comes from somebody who reads pages rather than JSON.
pub fn wants_page(request: &HttpRequest) -> bool {
    let accepts = request.headers().get(ACCEPT).and_then(|value| value.to_str().ok());
    accepts.is_some_and(|types| types.contains("text/html"))
}

#[derive(Debug, Template)]
#[template(path = "error.html")]
struct ErrorPage {
    frame: Frame,
    status: u16,
    title: &'static str,
    advice: &'static str,
    request_id: String,
}

impl fmt::Display for PageError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::SignIn { .. } => f.write_str("nobody is signed in"),
            Self::Problem(code) => f.write_str(code.code()),
        }
    }
}

impl ResponseError for PageError {
    fn status_code(&self) -> StatusCode {
        match self {
            Self::SignIn { .. } => StatusCode::SEE_OTHER,
            Self::Problem(code) => code.status(),
        }
    }

    fn error_response(&self) -> HttpResponse {
        let code = match self {
            Self::SignIn { next } => return see_other(&sign_in_address(next)),
            Self::Problem(code) => *code,
        };
        let (title, advice) = words(code);
        let error_page = ErrorPage {
            frame: Frame::new(title, None),
            status: code.status().as_u16(),
            title,
            advice,
            request_id: request_id(),
        };
        page(code.status(), &error_page)
    }
}

/// The problems' own titles are written for programs that send records; these are for people who read pages.
fn words(code: Code) -> (&'static str, &'static str) {
    match code {
        Code::NotFound => (
            "Nothing here",
            "There is no such page, or what it showed does not belong to your organization. Go back to the fleet and \
             look for it there.",
        ),
        Code::Forbidden | Code::Unauthenticated | Code::SignInRefused => (
            "Not for you",
            "Your role does not allow this. If you need it, ask a director of your organization.",
        ),
        Code::MethodNotAllowed => ("That cannot be done here", "Go back to the fleet and try from there."),
        Code::TooManyRequests => ("Too many tries", "Wait a minute, then try again."),
        Code::Unavailable => (
            "Back in a moment",
            "The service cannot reach its database right now. Wait a little, then load the page again.",
        ),
        Code::Internal => (
            "Something failed on our side",
            "It is not your doing. Load the page again; if it stays, tell whoever runs this service and quote the \
             request id.",
        ),
        Code::MalformedJson
        | Code::BadRequest
        | Code::Conflict
        | Code::Stale
        | Code::KeyReused
        | Code::Settled
        | Code::Taken
        | Code::WrongOffset
        | Code::StillKept
        | Code::PhotoRefused
        | Code::PhotoUnreadable
        | Code::UploadVersion
        | Code::CursorLost
        | Code::TooLarge
        | Code::UnsupportedMediaType
        | Code::InvalidRecord => (
            "That did not arrive whole",
            "The form was incomplete or out of date. Go back, load the page again and repeat.",
        ),
    }
}

impl From<Error> for PageError {
    fn from(error: Error) -> Self {
        match error {
            Error::Unauthenticated => Self::SignIn { next: "/fleet".into() },
            // Logs the cause, as for the API.
            other => Self::Problem(Problem::from(other).code()),
        }
    }
}

#[cfg(test)]
mod tests {
    use actix_web::body::to_bytes;

    use super::*;

    #[actix_web::test]
    async fn a_problem_is_a_page_with_its_status_and_the_request_id() {
        for &code in Code::ALL {
            let response = PageError::of(code).error_response();
            assert_eq!(response.status(), code.status());
            let kind = response.headers().get("content-type").unwrap().to_str().unwrap().to_owned();
            assert!(kind.starts_with("text/html"), "{kind}");
            let body = to_bytes(response.into_body()).await.unwrap();
            let text = std::str::from_utf8(&body).unwrap();
            assert!(text.contains(&request_id()), "{text}");
            assert!(text.contains("href=\"/fleet\""), "a way out: {text}");
        }
    }

    #[test]
    fn without_a_session_the_browser_is_sent_to_sign_in_and_back_afterwards() {
        let response = PageError::SignIn { next: "/units/7?months=3".into() }.error_response();
        assert_eq!(response.status(), StatusCode::SEE_OTHER);
        assert_eq!(response.headers().get("location").unwrap(), "/sign-in?next=%2Funits%2F7%3Fmonths%3D3");
    }
}
