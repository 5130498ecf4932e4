//! Digest, base64 and the name-based UUID.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest as _, Sha256};

/// The name space for addresses, 6ba7b811-9dad-11d1-80b4-00c04fd430c8 (RFC 9562,
/// 6.6).
pub(super) const URL_NAMESPACE: [u8; 16] = [
    0x6b, 0xa7, 0xb8, 0x11, 0x9d, 0xad, 0x11, 0xd1, 0x80, 0xb4, 0x00, 0xc0, 0x4f, 0xd4, 0x30, 0xc8,
];

/// SHA-256 (FIPS 180-4).
pub(super) fn sha256(octets: &[u8]) -> [u8; 32] {
    Sha256::digest(octets).into()
}

/// Base64 with padding (RFC 4648, 4).
pub(super) fn base64(octets: &[u8]) -> String {
    STANDARD.encode(octets)
}

/// The name-based UUIDv8 of RFC 9562, B.2: the first half of the SHA-256 of name
/// space and name, with version and variant set.
pub(super) fn uuid(namespace: &[u8; 16], name: &[u8]) -> String {
    let mut hash = Sha256::new();
    hash.update(namespace);
    hash.update(name);
    let digest: [u8; 32] = hash.finalize().into();
    let mut text = String::with_capacity(36);
    for (i, octet) in digest.into_iter().take(16).enumerate() {
        if [4, 6, 8, 10].contains(&i) {
            text.push('-');
        }
        let octet = match i {
            6 => octet & 0x0f | 0x80,
            8 => octet & 0x3f | 0x80,
            _ => octet,
        };
        text.push_str(&format!("{octet:02x}"));
    }
    text
}
