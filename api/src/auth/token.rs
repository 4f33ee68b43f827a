//! Access tokens: JWTs after RFC 9068 (`typ: at+jwt`), signed with Ed25519 (RFC 8037), checked as RFC 8725 advises.

use chrono::{DateTime, TimeDelta, Utc};
use ed25519_dalek::SigningKey;
use ed25519_dalek::pkcs8::EncodePrivateKey;
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation, decode, decode_header, encode};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::secrets::{Secrets, digest};

/// What an access token says of its bearer (RFC 9068 section 2.2, plus the organization and the crew).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Claims {
    /// Issuer: the service's public address.
    pub iss: String,
    /// Audience: the same address.
    pub aud: String,
    /// Subject: the id of the person or app.
    pub sub: Uuid,
    /// Who asked for the token; for apps and people alike the subject.
    pub client_id: Uuid,
    /// Organization the subject belongs to.
    pub organization: Uuid,
    /// `app` or `person`.
    pub subject_kind: String,
    /// Scopes, separated by blanks (RFC 6749 section 3.3).
    pub scope: String,
    /// Crew that the subject is bound to, if any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub crew: Option<Uuid>,
    /// Issued at, not before, expires: seconds since the Unix epoch.
    pub iat: i64,
    /// See [`Claims::iat`].
    pub nbf: i64,
    /// See [`Claims::iat`].
    pub exp: i64,
    /// Token id.
    pub jti: Uuid,
}

/// Why a token is refused. Callers learn only that it is; the log has the reason.
#[derive(Debug, thiserror::Error)]
pub enum TokenError {
    /// Not a token of this service, altered, or for somebody else.
    #[error("the token is not valid: {0}")]
    Invalid(#[from] jsonwebtoken::errors::Error),
    /// `typ` is not `at+jwt`: some other kind of JWT.
    #[error("the token is not an access token")]
    WrongType,
    /// Expired, or not valid yet.
    #[error("the token is outside its time of validity")]
    OutsideValidity,
}

/// Signs and checks access tokens.
#[derive(Clone)]
pub struct Tokens {
    issuer: String,
    key_id: String,
    encoding: EncodingKey,
    decoding: DecodingKey,
}

impl std::fmt::Debug for Tokens {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Tokens")
            .field("issuer", &self.issuer)
            .field("key_id", &self.key_id)
            .finish_non_exhaustive()
    }
}

impl Tokens {
    /// Tokens of `issuer`, signed with the key of `secrets`.
    pub fn new(issuer: &str, secrets: &Secrets) -> Self {
        let key = SigningKey::from_bytes(&secrets.signing_seed);
        let public = key.verifying_key();
        let private = key.to_pkcs8_der().expect("an Ed25519 key has a PKCS#8 form");
        Self {
            issuer: issuer.to_owned(),
            key_id: digest(public.as_bytes())[..8].iter().map(|byte| format!("{byte:02x}")).collect(),
            encoding: EncodingKey::from_ed_der(private.as_bytes()),
            decoding: DecodingKey::from_ed_der(public.as_bytes()),
        }
    }

    /// The signed token with these claims' subject, organization, scopes and crew, valid from `now` for `lifetime`.
    pub fn issue(&self, grant: &Grant<'_>, now: DateTime<Utc>, lifetime: TimeDelta) -> String {
        let claims = Claims {
            iss: self.issuer.clone(),
            aud: self.issuer.clone(),
            sub: grant.subject,
            client_id: grant.subject,
            organization: grant.organization,
            subject_kind: grant.subject_kind.to_owned(),
            scope: grant.scope.clone(),
            crew: grant.crew,
            iat: now.timestamp(),
            nbf: now.timestamp(),
            exp: (now + lifetime).timestamp(),
            jti: Uuid::now_v7(),
        };
        let header = Header {
            typ: Some("at+jwt".into()),
            kid: Some(self.key_id.clone()),
            ..Header::new(Algorithm::EdDSA)
        };
        encode(&header, &claims, &self.encoding).expect("claims of plain strings and numbers serialize")
    }

    /// The claims of a token that this service issued and that is valid at `now`.
    ///
    /// # Errors
    /// [`TokenError`] when it is anything else. Only EdDSA is accepted, whatever the token's header asks for.
    pub fn check(&self, token: &str, now: DateTime<Utc>) -> Result<Claims, TokenError> {
        let typ = decode_header(token)?.typ;
        if !typ.is_some_and(|typ| {
            typ.eq_ignore_ascii_case("at+jwt") || typ.eq_ignore_ascii_case("application/at+jwt")
        }) {
            return Err(TokenError::WrongType);
        }
        let mut validation = Validation::new(Algorithm::EdDSA);
        validation.set_issuer(&[&self.issuer]);
        validation.set_audience(&[&self.issuer]);
        validation.set_required_spec_claims(&["iss", "aud", "exp", "nbf", "sub"]);
        // Checked below against the injected clock, not the machine's.
        validation.validate_exp = false;
        validation.validate_nbf = false;
        let claims = decode::<Claims>(token, &self.decoding, &validation)?.claims;
        if claims.nbf <= now.timestamp() + CLOCK_LEEWAY_S && now.timestamp() < claims.exp {
            Ok(claims)
        } else {
            Err(TokenError::OutsideValidity)
        }
    }
}

/// How far another instance's clock may run ahead of ours.
const CLOCK_LEEWAY_S: i64 = 60;

/// Whom a token is for and what it allows.
#[derive(Debug, Clone)]
pub struct Grant<'a> {
    /// Id of the person or app.
    pub subject: Uuid,
    /// `person` or `app`.
    pub subject_kind: &'a str,
    /// Organization of the subject.
    pub organization: Uuid,
    /// Scopes, separated by blanks.
    pub scope: String,
    /// Crew that the subject is bound to.
    pub crew: Option<Uuid>,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grant() -> Grant<'static> {
        Grant {
            subject: Uuid::from_u128(7),
            subject_kind: "app",
            organization: Uuid::from_u128(9),
            scope: "trials:read trials:write".into(),
            crew: None,
        }
    }

    #[test]
    fn a_token_is_good_for_its_time_its_issuer_and_its_key_only() {
        let now = DateTime::from_timestamp(1_764_000_000, 0).unwrap();
        let secrets = Secrets::ephemeral();
        let tokens = Tokens::new("http://here", &secrets);
        let token = tokens.issue(&grant(), now, TimeDelta::hours(1));

        assert_eq!(tokens.check(&token, now).unwrap().sub, Uuid::from_u128(7));
        assert!(matches!(tokens.check(&token, now + TimeDelta::hours(1)), Err(TokenError::OutsideValidity)));
        assert!(matches!(tokens.check(&token, now - TimeDelta::hours(1)), Err(TokenError::OutsideValidity)));
        assert!(Tokens::new("http://there", &secrets).check(&token, now).is_err());
        assert!(Tokens::new("http://here", &Secrets::ephemeral()).check(&token, now).is_err());
        let unsigned = token.rsplit_once('.').unwrap().0.to_owned() + ".";
        assert!(tokens.check(&unsigned, now).is_err());
    }
}
