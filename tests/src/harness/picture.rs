//! Photos as cameras write them.

use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, Rgb, RgbImage};
use sha2::{Digest, Sha256};

/// Words that stand in the camera's part of every [`photo`]: where it was taken.
pub const PLACE_TAKEN: &str = "44.6488 N 63.5752 W";

/// A JPEG of this size, another for each seed, that tells where it was taken.
///
/// # Panics
///
/// When it cannot be written.
#[must_use]
pub fn photo(seed: u8, width: u32, height: u32) -> Vec<u8> {
    // As restless as a roof: a smooth picture would be a few bytes long.
    let level =
        |x: u32, y: u32| u8::try_from(((x * x * 31) ^ (y * 7919) ^ (x * y)) % 251).unwrap_or_default();
    let picture = RgbImage::from_fn(width, height, |x, y| Rgb([seed, level(x, y), level(y, x)]));
    let mut bytes = Vec::new();
    JpegEncoder::new(&mut bytes).encode_image(&DynamicImage::ImageRgb8(picture)).expect("it can be written");
    // An Exif segment before the picture: a TIFF head without entries, and words.
    let tiff = [b"Exif\0\0MM\0\x2A\0\0\0\x08\0\0\0\0\0\0".as_slice(), PLACE_TAKEN.as_bytes()].concat();
    let length = u16::try_from(tiff.len() + 2).expect("it is short").to_be_bytes();
    bytes.splice(2..2, [&[0xFF, 0xE1], length.as_slice(), &tiff].concat());
    bytes
}

/// SHA-256 in hexadecimal digits.
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// A PNG that breaks off in its rows: its head is whole, and no picture comes out of it.
///
/// # Panics
///
/// When it cannot be written.
#[must_use]
pub fn torn_photo() -> Vec<u8> {
    let picture = image::load_from_memory(&photo(77, 64, 48)).expect("it is a picture");
    let mut png = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut png, image::ImageFormat::Png).expect("it can be written");
    let mut bytes = png.into_inner();
    bytes.truncate(bytes.len() / 2);
    bytes
}
