//! Passwords, kept as Argon2id hashes with the parameters inside the hash (RFC 9106, second recommended option).

use argon2::password_hash::{PasswordHasher, PasswordVerifier, phc::PasswordHash};
use argon2::{Algorithm, Argon2, Params, Version};

/// 64 MiB, three passes, four lanes: RFC 9106 section 4, for memory-constrained environments. Debug builds of tests
/// use the same.
fn argon2() -> Argon2<'static> {
    let params = Params::new(64 * 1024, 3, 4, None).expect("constants inside the ranges of RFC 9106");
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
}

/// The PHC string to store for `password`.
pub fn hash_password(password: &str) -> String {
    argon2().hash_password(password.as_bytes()).expect("any byte string can be hashed").to_string()
}

/// Whether `password` is the one behind `hash`. An unknown account is checked against [`decoy`] so that it takes as
/// long as a known one.
pub fn verify_password(password: &str, hash: Option<&str>) -> bool {
    let known = hash.is_some();
    let hash = hash.unwrap_or_else(|| decoy());
    let matches = PasswordHash::new(hash)
        .is_ok_and(|parsed| argon2().verify_password(password.as_bytes(), &parsed).is_ok());
    known && matches
}

fn decoy() -> &'static str {
    static DECOY: std::sync::OnceLock<String> = std::sync::OnceLock::new();
    DECOY.get_or_init(|| hash_password("no account has this password"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_password_matches_its_own_hash_only() {
        let hash = hash_password("salt marsh at low tide");
        assert!(hash.starts_with("$argon2id$v=19$m=65536,t=3,p=4$"), "{hash}");
        assert!(verify_password("salt marsh at low tide", Some(&hash)));
        assert!(!verify_password("salt marsh at high tide", Some(&hash)));
        assert!(!verify_password("no account has this password", None));
    }
}
