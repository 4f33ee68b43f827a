//! Secrets and what is proved with them: access tokens, passwords, keyed hashes. No HTTP and no SQL here.

mod password;
mod secrets;
mod token;

pub use password::{hash_password, verify_password};
pub use secrets::{Secrets, SecretsError, digest, random_secret};
pub use token::{Claims, Grant, TokenError, Tokens};
