//! SHA-256 digests in words.

/// How they are to be sent.
pub const FORM: &str = "Send a SHA-256 digest as 64 hexadecimal digits.";

/// A digest from its 64 hexadecimal digits.
pub fn read(text: &str) -> Option<[u8; 32]> {
    let mut digest = [0; 32];
    if text.len() != 64 || !text.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return None;
    }
    for (index, byte) in digest.iter_mut().enumerate() {
        *byte = u8::from_str_radix(text.get(2 * index..2 * index + 2)?, 16).ok()?;
    }
    Some(digest)
}

/// Bytes in hexadecimal digits.
pub fn show(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
