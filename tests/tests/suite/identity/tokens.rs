//! Tokens that this service did not issue, or not like this (RFC 8725 lists the attacks).

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use ed25519_dalek::{Signer, SigningKey};
use hmac::{Hmac, KeyInit, Mac};
use lapwatch_tests::harness::App;
use serde_json::{Value, json};
use sha2::Sha256;

/// What a valid token says, and the key that signs it.
struct Forge {
    header: Value,
    claims: Value,
    key: SigningKey,
}

impl Forge {
    /// Takes a valid token apart, with the service's own key: only what a test changes is wrong then.
    fn of(app: &App) -> Self {
        let parts: Vec<Value> = app
            .organization
            .token
            .split('.')
            .take(2)
            .map(|part| serde_json::from_slice(&URL_SAFE_NO_PAD.decode(part).unwrap()).unwrap())
            .collect();
        let seed =
            std::fs::read(app.secrets().join("secrets/signing.ed25519")).expect("the seed can be read");
        let key = SigningKey::from_bytes(&seed.try_into().expect("a seed of 32 bytes"));
        Self { header: parts[0].clone(), claims: parts[1].clone(), key }
    }

    fn signing_input(&self) -> String {
        let encode = |value: &Value| URL_SAFE_NO_PAD.encode(value.to_string());
        format!("{}.{}", encode(&self.header), encode(&self.claims))
    }

    fn token(&self) -> String {
        let input = self.signing_input();
        let signature = self.key.sign(input.as_bytes());
        format!("{input}.{}", URL_SAFE_NO_PAD.encode(signature.to_bytes()))
    }

    /// With a member of the header replaced.
    fn header(mut self, member: &str, value: Value) -> Self {
        self.header[member] = value;
        self
    }

    /// With a claim replaced.
    fn claim(mut self, member: &str, value: Value) -> Self {
        self.claims[member] = value;
        self
    }

    /// Without a claim.
    fn without(mut self, member: &str) -> Self {
        self.claims.as_object_mut().unwrap().remove(member);
        self
    }
}

async fn status_with(app: &App, token: &str) -> u16 {
    let reply = app.bearer(token).get("/v1/fleet").await;
    if !reply.status.is_success() {
        reply.problem(401, "unauthenticated");
    }
    reply.status.as_u16()
}

/// Taking a token apart and putting it together again gives a good one, so the refusals below have their one cause.
#[tokio::test]
async fn forged_tokens_are_refused() {
    let app = App::start().await;
    let forge = || Forge::of(&app);
    let now = app.now().timestamp();
    assert_eq!(status_with(&app, &forge().token()).await, 200, "an unchanged token");
    assert_eq!(status_with(&app, &forge().header("typ", json!("application/at+jwt")).token()).await, 200);

    let wrong = [
        ("issuer", forge().claim("iss", json!("http://elsewhere"))),
        ("audience", forge().claim("aud", json!("http://elsewhere"))),
        ("no issuer", forge().without("iss")),
        ("no audience", forge().without("aud")),
        ("no expiry", forge().without("exp")),
        ("expired", forge().claim("exp", json!(now))),
        ("not yet valid", forge().claim("nbf", json!(now + 3600))),
        ("type", forge().header("typ", json!("JWT"))),
        ("no type", forge().header("typ", Value::Null)),
        ("algorithm of another family", forge().header("alg", json!("RS256"))),
        ("unknown kind of subject", forge().claim("subject_kind", json!("admin"))),
        ("unknown subject", forge().claim("sub", json!(uuid::Uuid::now_v7()))),
        ("another organization", forge().claim("organization", json!(uuid::Uuid::now_v7()))),
    ];
    for (what, forged) in wrong {
        assert_eq!(status_with(&app, &forged.token()).await, 401, "{what}");
    }
}

#[tokio::test]
async fn unsigned_and_mis_signed_tokens_are_refused() {
    let app = App::start().await;
    let forge = || Forge::of(&app);

    for alg in ["none", "None", "NONE"] {
        let unsigned = forge().header("alg", json!(alg)).signing_input();
        assert_eq!(status_with(&app, &format!("{unsigned}.")).await, 401, "alg {alg}");
        assert_eq!(status_with(&app, &unsigned).await, 401, "alg {alg}, two parts");
    }

    // The public key, which is no secret, taken for the secret of an HMAC.
    let symmetric = forge().header("alg", json!("HS256"));
    let public = symmetric.key.verifying_key();
    let mut mac = Hmac::<Sha256>::new_from_slice(public.as_bytes()).unwrap();
    mac.update(symmetric.signing_input().as_bytes());
    let signature = URL_SAFE_NO_PAD.encode(mac.finalize().into_bytes());
    assert_eq!(status_with(&app, &format!("{}.{signature}", symmetric.signing_input())).await, 401, "HS256");

    let mut stranger = forge();
    stranger.key = SigningKey::from_bytes(&[7; 32]);
    assert_eq!(status_with(&app, &stranger.token()).await, 401, "another key");

    // More scopes under the signature of fewer.
    let genuine = forge().claim("scope", json!("units:read")).token();
    let (_, signature) = genuine.rsplit_once('.').unwrap();
    let widened = format!("{}.{signature}", forge().signing_input());
    assert_eq!(status_with(&app, &genuine).await, 200);
    assert_eq!(status_with(&app, &widened).await, 401, "scopes added");
}

/// A token of another instance of the service is no token here.
#[tokio::test]
async fn another_services_token_is_refused() {
    let app = App::start().await;
    let elsewhere = App::start().await;
    assert_eq!(status_with(&app, &elsewhere.organization.token).await, 401);
}

#[tokio::test]
async fn headers_of_other_forms_are_refused() {
    let app = App::start().await;
    let token = app.organization.token.clone();
    for (value, status) in [
        (format!("Bearer {token}"), 200),
        (format!("bearer {token}"), 200),
        (token.clone(), 401),
        (format!("Basic {token}"), 401),
        ("Bearer".to_owned(), 401),
        ("Bearer ".to_owned(), 401),
        (format!("Bearer {}", "x".repeat(5000)), 401),
        (format!("Bearer {token} {token}"), 401),
    ] {
        let request =
            app.anybody().request(reqwest::Method::GET, "/v1/fleet").header("authorization", &value);
        let reply = lapwatch_tests::harness::Reply::of(request).await;
        assert_eq!(reply.status.as_u16(), status, "{}", &value[..value.len().min(20)]);
    }
    // A token in the address would end up in logs.
    let reply = app.anybody().get(&format!("/v1/fleet?access_token={token}")).await;
    reply.problem(401, "unauthenticated");
}
