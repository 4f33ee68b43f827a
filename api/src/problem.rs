//! Every error that leaves the service: one table of codes, statuses and titles, written as problem details (RFC 9457).

use actix_web::http::StatusCode;
use actix_web::http::header::{ContentType, HeaderValue, RETRY_AFTER, WWW_AUTHENTICATE};
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use utoipa::ToSchema;

use crate::model::Finding;
use crate::service::Error;
use crate::telemetry::request_id;

/// Declares [`Code`] with its table, so that a code cannot exist without a status and a title.
macro_rules! codes {
    ($($(#[$doc:meta])* $variant:ident, $code:literal, $status:ident, $title:literal;)*) => {
        /// A kind of problem; the contract promises that its code never changes.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Code { $($(#[$doc])* $variant,)* }

        impl Code {
            /// All kinds, in the order of the table.
            pub const ALL: &[Self] = &[$(Self::$variant,)*];

            /// The stable code.
            pub fn code(self) -> &'static str {
                match self { $(Self::$variant => $code,)* }
            }

            /// The HTTP status it comes with.
            pub fn status(self) -> StatusCode {
                match self { $(Self::$variant => StatusCode::$status,)* }
            }

            /// A sentence that is the same for every occurrence.
            pub fn title(self) -> &'static str {
                match self { $(Self::$variant => $title,)* }
            }
        }
    };
}

codes! {
    /// The body is not JSON.
    MalformedJson, "malformed_json", BAD_REQUEST, "The body is not well-formed JSON";
    /// A path, query or header value is not of its form.
    BadRequest, "bad_request", BAD_REQUEST, "The request is not of the form that this operation takes";
    /// No token, or not a valid one.
    Unauthenticated, "unauthenticated", UNAUTHORIZED, "A valid access token is needed";
    /// Sign-in refused.
    SignInRefused, "sign_in_refused", UNAUTHORIZED, "The sign-in name and password do not belong together";
    /// The token lacks a scope, or is bound to another crew.
    Forbidden, "forbidden", FORBIDDEN, "This token does not allow that";
    /// Nothing there, or not in this organization.
    NotFound, "not_found", NOT_FOUND, "Nothing is here under this address";
    /// The path exists, the method does not.
    MethodNotAllowed, "method_not_allowed", METHOD_NOT_ALLOWED, "This address does not take that method";
    /// The same id was accepted with other content.
    Conflict, "conflict", CONFLICT, "A record with this id and other content was accepted before";
    /// Somebody else has changed it since.
    Stale, "stale", PRECONDITION_FAILED, "This has been changed since you read it; nothing was stored";
    /// An `Idempotency-Key` that came with another request before.
    KeyReused, "key_reused", UNPROCESSABLE_ENTITY, "This Idempotency-Key came with another request before; nothing was stored";
    /// A held item was settled before.
    Settled, "settled", CONFLICT, "This held item was settled before";
    /// Bytes that do not follow those that have come.
    WrongOffset, "wrong_offset", CONFLICT, "These bytes do not follow those that have come";
    /// A photo or an upload that may not be thrown away.
    StillKept, "still_kept", CONFLICT, "This is still kept";
    /// The name is taken.
    Taken, "taken", CONFLICT, "This name is taken";
    /// A cursor of the change feed that leads nowhere.
    CursorLost, "cursor_lost", GONE, "This cursor leads nowhere any more";
    /// Over a size limit.
    TooLarge, "too_large", PAYLOAD_TOO_LARGE, "The body is larger than this operation takes";
    /// Not `application/json`.
    UnsupportedMediaType, "unsupported_media_type", UNSUPPORTED_MEDIA_TYPE, "The body must be application/json, plain or compressed as said";
    /// Readable, but breaks rules; `errors` says where.
    InvalidRecord, "invalid_record", UNPROCESSABLE_ENTITY, "The record breaks rules; nothing was stored";
    /// The bytes are no photo that is taken.
    PhotoRefused, "photo_refused", UNPROCESSABLE_ENTITY, "These bytes are not taken as a photo; nothing was stored";
    /// A photo that cannot be shown.
    PhotoUnreadable, "photo_unreadable", UNPROCESSABLE_ENTITY, "This photo is kept and cannot be shown";
    /// A version of the upload protocol that is not spoken here.
    UploadVersion, "upload_version", PRECONDITION_FAILED, "Uploads are spoken in tus 1.0.0 here";
    /// Too many tries.
    TooManyRequests, "too_many_requests", TOO_MANY_REQUESTS, "Too many tries; wait before the next";
    /// The database is away or busy.
    Unavailable, "unavailable", SERVICE_UNAVAILABLE, "The service cannot answer right now; try again";
    /// A fault of the service.
    Internal, "internal_error", INTERNAL_SERVER_ERROR, "The service failed; nothing was stored";
}

/// One thing that is wrong, and where.
#[derive(Debug, Serialize, ToSchema)]
pub struct ProblemItem {
    /// JSON Pointer (RFC 6901) into the request body.
    #[schema(example = "/coupons/0/set_temperature/unit")]
    pub pointer: String,
    /// Stable code of the broken rule.
    #[schema(example = "unknown_unit")]
    pub code: String,
    /// What is wrong and what to do.
    #[schema(example = "\"C\" is not a unit of temperature; give the number in Cel or [degF] (UCUM codes)")]
    pub detail: String,
}

/// Problem details after RFC 9457: what went wrong, where, and what to do.
#[derive(Debug, Serialize, ToSchema)]
pub struct ProblemBody {
    /// Address of the description of this kind of problem.
    #[serde(rename = "type")]
    #[schema(format = "uri-reference", example = "/problems/invalid_record")]
    pub kind: String,
    /// The kind in words, the same for every occurrence.
    pub title: String,
    /// HTTP status.
    #[schema(example = 422)]
    pub status: u16,
    /// Stable code of the kind.
    #[schema(example = "invalid_record")]
    pub code: String,
    /// What happened this time and what to do.
    pub detail: String,
    /// Id of the request; it stands in the service's log.
    pub request_id: String,
    /// Every broken rule with its place; empty when the problem is not about the body.
    pub errors: Vec<ProblemItem>,
}

/// A problem on its way out.
#[derive(Debug)]
pub struct Problem {
    code: Code,
    detail: String,
    findings: Vec<Finding>,
    allow: Option<String>,
}

impl Problem {
    /// A problem of kind `code`; `detail` is for the caller.
    pub fn new(code: Code, detail: impl Into<String>) -> Self {
        Self { code, detail: detail.into(), findings: Vec::new(), allow: None }
    }

    /// A 405 that names the methods the address takes.
    pub fn method_not_allowed(allowed: &[String]) -> Self {
        let allow = allowed.join(", ");
        Self {
            allow: Some(allow.clone()),
            ..Self::new(Code::MethodNotAllowed, format!("It takes: {allow}."))
        }
    }

    /// A 422 with its findings.
    pub fn invalid(findings: Vec<Finding>) -> Self {
        let detail = match findings.as_slice() {
            [one] => {
                format!("One rule is broken, at `{}`. Correct it and send the record again.", one.pointer)
            }
            many => format!(
                "{} rules are broken; `errors` names each. Correct them and send the record again.",
                many.len()
            ),
        };
        Self { findings, ..Self::new(Code::InvalidRecord, detail) }
    }

    /// Its kind.
    pub fn code(&self) -> Code {
        self.code
    }

    /// The document that is sent.
    pub fn body(&self) -> ProblemBody {
        ProblemBody {
            kind: format!("/problems/{}", self.code.code()),
            title: self.code.title().to_owned(),
            status: self.code.status().as_u16(),
            code: self.code.code().to_owned(),
            detail: self.detail.clone(),
            request_id: request_id(),
            errors: self.findings.iter().map(ProblemItem::from).collect(),
        }
    }
}

impl From<&Finding> for ProblemItem {
    fn from(finding: &Finding) -> Self {
        Self {
            pointer: finding.pointer.clone(),
            code: finding.code.to_owned(),
            detail: finding.detail.clone(),
        }
    }
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.code.code(), self.detail)
    }
}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        self.code.status()
    }

    fn error_response(&self) -> HttpResponse {
        let mut response = HttpResponse::build(self.code.status());
        response.insert_header(ContentType("application/problem+json".parse().expect("a media type")));
        match self.code {
            Code::Unauthenticated => {
                response.insert_header((WWW_AUTHENTICATE, HeaderValue::from_static("Bearer")));
            }
            Code::UploadVersion => {
                response.insert_header(("Tus-Version", HeaderValue::from_static("1.0.0")));
            }
            Code::Unavailable => {
                response.insert_header((RETRY_AFTER, HeaderValue::from_static("2")));
            }
            Code::TooManyRequests => {
                response.insert_header((RETRY_AFTER, HeaderValue::from_static("60")));
            }
            _ => {}
        }
        if let Some(allow) = &self.allow {
            response.insert_header(("Allow", allow.as_str()));
        }
        response.json(self.body())
    }
}

impl From<Error> for Problem {
    /// Detail for the caller, cause for the log, logged here and nowhere else.
    fn from(error: Error) -> Self {
        match error {
            Error::Invalid(findings) => Self::invalid(findings),
            Error::NotFound(what) => {
                Self::new(Code::NotFound, format!("There is no such {what} in this organization."))
            }
            Error::Unauthenticated => Self::new(
                Code::Unauthenticated,
                "Send `Authorization: Bearer <access token>` with a token that has not expired or been revoked.",
            ),
            Error::SignInRefused => {
                Self::new(Code::SignInRefused, "Check both, or ask a director for a new password.")
            }
            Error::MissingScope(scope) => {
                Self::new(Code::Forbidden, format!("The scope `{scope}` is needed."))
            }
            Error::OtherCrew => {
                Self::new(Code::Forbidden, "This token acts for one crew; the record belongs to another.")
            }
            Error::Conflict(id) => Self::new(
                Code::Conflict,
                format!(
                    "The record {id} stands as first accepted. Send different content under an id of its own."
                ),
            ),
            Error::Stale(what) => Self::new(
                Code::Stale,
                format!(
                    "Read the {what} again, make your change to what it is now, and send it with the new `ETag`."
                ),
            ),
            Error::KeyReused => Self::new(
                Code::KeyReused,
                "Send each request under a key of its own, and repeat it with the same key and the same body only.",
            ),
            Error::Settled => Self::new(
                Code::Settled,
                "What was settled stays so. Send a new record to change what it led to.",
            ),
            Error::NoPhoto(why) => Self::new(Code::PhotoRefused, why),
            Error::PhotoUnreadable => Self::new(
                Code::PhotoUnreadable,
                "Its bytes are as they were taken, but no picture comes out of them. Read the original, and take another if you can.",
            ),
            Error::WrongOffset(received) => Self::new(
                Code::WrongOffset,
                format!(
                    "{received} bytes have come. Ask with HEAD, and go on from there with `Upload-Offset`."
                ),
            ),
            Error::StillKept(why) => Self::new(Code::StillKept, why),
            Error::Taken(what) => Self::new(Code::Taken, format!("Choose another {what}.")),
            Error::CursorLost => Self::new(
                Code::CursorLost,
                "The service has lost what lay before it, as after a restored backup: what you know may be more than is \
                 stored. Take a new snapshot, or read the feed from its beginning, and send again what is missing.",
            ),
            Error::Crowded => Self::new(
                Code::Unavailable,
                "Too many are waiting at change feeds. Ask without waiting, or again after a short wait.",
            ),
            Error::Busy => Self::new(
                Code::Unavailable,
                "Many photos are being handled. Repeat the same request after a short wait.",
            ),
            Error::TooManyTries => Self::new(Code::TooManyRequests, "Wait a minute before the next try."),
            Error::Storage(error) if error.is_unavailable() => {
                tracing::warn!(error = %error, "the database or the photo store cannot be reached");
                Self::new(
                    Code::Unavailable,
                    "Nothing was stored. Repeat the same request after a short wait.",
                )
            }
            Error::Storage(error) if error.is_data_exception() => {
                tracing::warn!(error = %error, "a value that the database cannot hold");
                Self::new(
                    Code::BadRequest,
                    "A value lies beyond what can be stored: check times, dates and numbers. Nothing was stored.",
                )
            }
            Error::Storage(error) => {
                tracing::error!(error = ?error, "a statement failed");
                Self::new(
                    Code::Internal,
                    "Keep the record and send it again later; quote the request id when you ask.",
                )
            }
            Error::Internal(detail) => {
                tracing::error!(detail, "an internal rule was broken");
                Self::new(
                    Code::Internal,
                    "Keep the record and send it again later; quote the request id when you ask.",
                )
            }
        }
    }
}
