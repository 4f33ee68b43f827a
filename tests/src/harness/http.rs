//! Requests as a third party sends them, and what is asked of every answer.

use reqwest::header::{ALLOW, CONTENT_TYPE, HeaderMap};
use reqwest::{Method, StatusCode};
use serde_json::Value;

/// Somebody who sends requests, with a token or without.
#[derive(Debug, Clone)]
pub struct Caller<'a> {
    http: &'a reqwest::Client,
    base: &'a str,
    token: Option<String>,
}

/// An answer, read to its end.
#[derive(Debug, Clone)]
pub struct Reply {
    /// What was asked, for messages.
    pub asked: String,
    /// Its status.
    pub status: StatusCode,
    /// Its headers.
    pub headers: HeaderMap,
    /// Its body.
    pub body: Vec<u8>,
}

/// A problem document that has the form which every problem has.
#[derive(Debug, Clone)]
pub struct Problem {
    /// The document.
    pub document: Value,
    /// The headers it came with.
    pub headers: HeaderMap,
}

impl<'a> Caller<'a> {
    /// Somebody with this token, or without one, who sends to this address.
    #[must_use]
    pub fn new(http: &'a reqwest::Client, base: &'a str, token: Option<String>) -> Self {
        Self { http, base, token }
    }

    /// The token, if there is one.
    #[must_use]
    pub fn token(&self) -> Option<&str> {
        self.token.as_deref()
    }

    /// A request that can still be changed before it is sent.
    pub fn request(&self, method: Method, path: &str) -> reqwest::RequestBuilder {
        let request = self.http.request(method, format!("{}{path}", self.base));
        match &self.token {
            Some(token) => request.bearer_auth(token),
            None => request,
        }
    }

    /// Sends a request without a body.
    pub async fn send(&self, method: Method, path: &str) -> Reply {
        Reply::of(self.request(method, path)).await
    }

    /// Sends a JSON body.
    pub async fn send_json(&self, method: Method, path: &str, body: &Value) -> Reply {
        self.send_text(method, path, body.to_string()).await
    }

    /// Sends bytes that claim to be JSON.
    pub async fn send_text(&self, method: Method, path: &str, body: impl Into<Vec<u8>>) -> Reply {
        let request = self.request(method, path).header(CONTENT_TYPE, "application/json");
        Reply::of(request.body(body.into())).await
    }

    /// `GET`.
    pub async fn get(&self, path: &str) -> Reply {
        self.send(Method::GET, path).await
    }

    /// `POST` of a JSON value.
    pub async fn post(&self, path: &str, body: &Value) -> Reply {
        self.send_json(Method::POST, path, body).await
    }

    /// `POST` of bytes that claim to be JSON.
    pub async fn post_text(&self, path: &str, body: impl Into<Vec<u8>>) -> Reply {
        self.send_text(Method::POST, path, body).await
    }

    /// `PUT` of a JSON value.
    pub async fn put(&self, path: &str, body: &Value) -> Reply {
        self.send_json(Method::PUT, path, body).await
    }

    /// `DELETE`.
    pub async fn delete(&self, path: &str) -> Reply {
        self.send(Method::DELETE, path).await
    }
}

impl Reply {
    /// Sends a request and reads the answer to its end.
    ///
    /// # Panics
    ///
    /// When there is no answer: the service must give one to whatever it is sent.
    pub async fn of(request: reqwest::RequestBuilder) -> Self {
        let (client, request) = request.build_split();
        let request = request.expect("the request can be built");
        let asked = format!("{} {}", request.method(), request.url().path());
        let response = match client.execute(request).await {
            Ok(response) => response,
            Err(error) => panic!("{asked}: no answer: {error:?}"),
        };
        let (status, headers) = (response.status(), response.headers().clone());
        let body = match response.bytes().await {
            Ok(body) => body.to_vec(),
            Err(error) => panic!("{asked}: the answer breaks off: {error:?}"),
        };
        Self { asked, status, headers, body }
    }

    /// The body as it came.
    #[must_use]
    pub fn body(&self) -> &[u8] {
        &self.body
    }

    /// The body as text.
    #[must_use]
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// The body as JSON.
    ///
    /// # Panics
    ///
    /// When it is not JSON.
    #[must_use]
    #[track_caller]
    pub fn json(&self) -> Value {
        match serde_json::from_slice(&self.body) {
            Ok(value) => value,
            Err(error) => panic!("{}: {error} in: {}", self.asked, self.text()),
        }
    }

    /// A header as text, empty when it is missing.
    #[must_use]
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or_default()
    }

    /// The JSON body of an answer with this status.
    ///
    /// # Panics
    ///
    /// When the status is another.
    #[track_caller]
    pub fn expect(&self, status: u16) -> Value {
        self.expect_status(status);
        self.json()
    }

    /// Checks the status of an answer.
    ///
    /// # Panics
    ///
    /// When it is another.
    #[track_caller]
    pub fn expect_status(&self, status: u16) {
        assert_eq!(self.status.as_u16(), status, "{}: {}", self.asked, self.text());
    }

    /// The problem that the answer is, with what holds for every problem checked: its type, members and headers.
    ///
    /// # Panics
    ///
    /// When it is no problem, or another one.
    #[track_caller]
    pub fn problem(&self, status: u16, code: &str) -> Problem {
        self.expect_status(status);
        assert_eq!(self.header("content-type"), "application/problem+json", "{}", self.asked);
        let document = self.json();
        assert_eq!(document["code"], code, "{}: {document}", self.asked);
        assert_eq!(document["status"], status, "{}: {document}", self.asked);
        assert_eq!(document["type"], format!("/problems/{code}"), "{}", self.asked);
        assert_eq!(document["request_id"], self.header("x-request-id"), "{}: {document}", self.asked);
        for member in ["title", "detail", "request_id"] {
            let text = document[member].as_str().unwrap_or_default();
            assert!(!text.is_empty(), "{}: no {member} in {document}", self.asked);
        }
        let problem = Problem { document, headers: self.headers.clone() };
        for error in problem.errors() {
            for member in ["code", "detail"] {
                let text = error[member].as_str().unwrap_or_default();
                assert!(!text.is_empty(), "{}: no {member} in {error}", self.asked);
            }
        }
        problem
    }
}

impl Problem {
    /// The broken rules.
    #[must_use]
    pub fn errors(&self) -> &[Value] {
        self.document["errors"].as_array().map_or(&[], Vec::as_slice)
    }

    /// The pointer and the code of each broken rule.
    #[must_use]
    pub fn findings(&self) -> Vec<(String, String)> {
        let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
        self.errors().iter().map(|error| (text(&error["pointer"]), text(&error["code"]))).collect()
    }

    /// Checks that exactly these rules are broken, in this order.
    ///
    /// # Panics
    ///
    /// When they are others.
    #[track_caller]
    pub fn points_at(&self, expected: &[(&str, &str)]) -> &Self {
        let expected: Vec<(String, String)> =
            expected.iter().map(|(pointer, code)| ((*pointer).to_owned(), (*code).to_owned())).collect();
        assert_eq!(self.findings(), expected, "{}", self.document);
        self
    }

    /// Checks that the advice contains `words`: in the first broken rule if there is one, else in the problem itself.
    ///
    /// # Panics
    ///
    /// When it does not.
    #[track_caller]
    pub fn advises(&self, words: &str) -> &Self {
        let advice = self.errors().first().unwrap_or(&self.document)["detail"].as_str().unwrap_or_default();
        assert!(advice.contains(words), "\"{words}\" is not in: {advice}");
        self
    }

    /// The document without what differs from request to request.
    #[must_use]
    pub fn without_request_id(&self) -> Value {
        let mut document = self.document.clone();
        if let Some(members) = document.as_object_mut() {
            members.remove("request_id");
        }
        document
    }

    /// The methods that the address takes.
    #[must_use]
    pub fn allowed(&self) -> Vec<String> {
        let allow = self.headers.get(ALLOW).and_then(|value| value.to_str().ok()).unwrap_or_default();
        allow.split(", ").map(str::to_owned).collect()
    }
}

/// The number at `pointer` of an answer: a measurement's value, or a plain one.
#[track_caller]
pub fn number(answer: &Value, pointer: &str) -> f64 {
    let found = answer.pointer(pointer).unwrap_or_else(|| panic!("no {pointer} in {answer}"));
    found.get("value").unwrap_or(found).as_f64().unwrap_or_else(|| panic!("{pointer} is {found}"))
}
