//! Pictures: what they are by their first bytes, and how they are shown.

use std::io::Cursor;

use bytes::Bytes;
use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits};

use crate::model::{PictureFacts, PictureForm};
use crate::service::{Error, Result};

/// Most pixels of a picture: more than phones take, and few enough to be looked at one by one.
pub const MOST_PIXELS: u64 = 64_000_000;
/// The longer side of what is shown.
const SHOWN_PIXELS: u32 = 1600;
/// Quality of what is shown, of 100.
const SHOWN_QUALITY: u8 = 82;
/// Most memory that a picture is decoded in: four bytes a pixel, and room to work.
const MOST_MEMORY: u64 = 400_000_000;

/// What a picture is. Nothing of it is decoded but its head.
///
/// # Errors
/// [`Error::NoPhoto`], when it is not of a form that is kept, or too large to be shown.
pub(super) fn facts(bytes: &[u8]) -> Result<PictureFacts> {
    let no_form = || {
        let detail =
            "A photo is JPEG, PNG or WebP by its first bytes; have the camera or the app write one of these.";
        Error::NoPhoto(detail.to_owned())
    };
    let reader = ImageReader::new(Cursor::new(bytes)).with_guessed_format().map_err(|_| no_form())?;
    let form = match reader.format() {
        Some(ImageFormat::Jpeg) => PictureForm::Jpeg,
        Some(ImageFormat::Png) => PictureForm::Png,
        Some(ImageFormat::WebP) => PictureForm::Webp,
        _ => return Err(no_form()),
    };
    let (width, height) = reader.into_dimensions().map_err(|_| {
        let detail = "It begins like a photo, but its head cannot be read. Was it cut off or damaged?";
        Error::NoPhoto(detail.to_owned())
    })?;
    let pixels = u64::from(width) * u64::from(height);
    if pixels == 0 || pixels > MOST_PIXELS {
        let detail = format!(
            "A photo has at most {MOST_PIXELS} pixels; this one is {width} by {height}. Send it smaller."
        );
        return Err(Error::NoPhoto(detail));
    }
    Ok(PictureFacts { form, width, height })
}

/// A picture as it is shown: upright, at most 1600 pixels long, as JPEG without anything that the camera wrote beside the
/// pixels, such as where it was taken. Takes a core for a while.
///
/// # Errors
/// [`Error::PhotoUnreadable`], when no picture comes out of it.
pub(super) fn rendition(bytes: &[u8]) -> Result<Bytes> {
    let (picture, orientation) = decoded(bytes).map_err(|error| {
        tracing::info!(%error, "a photo cannot be decoded");
        Error::PhotoUnreadable
    })?;
    let mut shown = match picture.width().max(picture.height()) {
        side if side > SHOWN_PIXELS => picture.thumbnail(SHOWN_PIXELS, SHOWN_PIXELS),
        _ => picture,
    };
    shown.apply_orientation(orientation);
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, SHOWN_QUALITY)
        .encode_image(&DynamicImage::ImageRgb8(shown.into_rgb8()))
        .map_err(|error| Error::Internal(format!("a rendition cannot be written: {error}")))?;
    Ok(jpeg.into())
}

fn decoded(bytes: &[u8]) -> image::ImageResult<(DynamicImage, Orientation)> {
    let mut reader = ImageReader::new(Cursor::new(bytes)).with_guessed_format()?;
    let mut limits = Limits::default();
    limits.max_alloc = Some(MOST_MEMORY);
    reader.limits(limits);
    let mut decoder = reader.into_decoder()?;
    // What the camera wrote beside the picture may be damaged without harm to the picture.
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    Ok((DynamicImage::from_decoder(decoder)?, orientation))
}

#[cfg(test)]
mod tests {
    use image::{Rgb, RgbImage};

    use super::*;

    /// A JPEG of this size, its left half red, with these bytes of the camera's (an Exif segment) before the picture.
    fn jpeg(width: u32, height: u32, exif: &[u8]) -> Vec<u8> {
        let picture =
            RgbImage::from_fn(
                width,
                height,
                |x, _| if x < width / 2 { Rgb([220, 0, 0]) } else { Rgb([0, 0, 220]) },
            );
        let mut bytes = Vec::new();
        JpegEncoder::new(&mut bytes).encode_image(&picture).expect("a picture can be written");
        if !exif.is_empty() {
            let length = u16::try_from(exif.len() + 8).expect("it is short").to_be_bytes();
            let segment = [&[0xFF, 0xE1], length.as_slice(), b"Exif\0\0", exif].concat();
            bytes.splice(2..2, segment);
        }
        bytes
    }

    /// Exif (big-endian TIFF) that says: turn by 90° clockwise to look at it (orientation 6), and carries words.
    fn turned(words: &[u8]) -> Vec<u8> {
        let entry = [0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, 6, 0, 0];
        [b"MM\0\x2A\0\0\0\x08\0\x01".as_slice(), &entry, &[0; 4], words].concat()
    }

    #[test]
    fn a_photo_is_known_by_its_first_bytes() {
        let facts = super::facts(&jpeg(40, 30, &[])).expect("a photo");
        assert_eq!(facts, PictureFacts { form: PictureForm::Jpeg, width: 40, height: 30 });
        for other in
            [b"GIF89a".as_slice(), b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"", b"\xFF\xD8\xFF"]
        {
            assert!(matches!(super::facts(other), Err(Error::NoPhoto(_))), "{other:?}");
        }
    }

    #[test]
    fn a_picture_of_more_pixels_than_are_looked_at_is_refused_by_its_head() {
        // The head of a PNG (W3C PNG, 11.2.1) of 65,535 by 65,535.
        let mut head = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR\0\0\xFF\xFF\0\0\xFF\xFF\x08\x02\0\0\0".to_vec();
        head.extend(crc32(&head[12..29]).to_be_bytes());
        head.extend(b"\0\0\0\0IDAT");
        head.extend(crc32(b"IDAT").to_be_bytes());
        let Err(Error::NoPhoto(why)) = super::facts(&head) else { panic!("it is not refused") };
        assert!(why.contains("65535 by 65535"), "{why}");
    }

    /// CRC-32 as PNG has it (W3C PNG, annex D), bit by bit.
    fn crc32(bytes: &[u8]) -> u32 {
        !bytes.iter().fold(u32::MAX, |crc, byte| {
            (0..8).fold(crc ^ u32::from(*byte), |crc, _| (crc >> 1) ^ (0xEDB8_8320 * (crc & 1)))
        })
    }

    #[test]
    fn what_is_shown_is_upright_small_and_tells_nothing_beside_the_picture() {
        let taken = jpeg(3200, 1600, &turned(b"31.4159 N, 99.1234 W"));
        assert!(taken.windows(7).any(|words| words == b"31.4159"));
        let shown = rendition(&taken).expect("it is shown");
        assert!(!shown.windows(4).any(|words| words == b"Exif" || words == b"31.4"), "it tells where");
        let picture = image::load_from_memory(&shown).expect("it is a picture").into_rgb8();
        assert_eq!(picture.dimensions(), (800, 1600), "upright and small");
        // Turned clockwise, the left half lies above.
        let (above, below) = (picture.get_pixel(400, 100), picture.get_pixel(400, 1500));
        assert!(above[0] > 180 && above[2] < 60, "{above:?}");
        assert!(below[2] > 180 && below[0] < 60, "{below:?}");
    }

    #[test]
    fn a_small_picture_stays_as_large_as_it_is_and_a_torn_one_is_not_shown() {
        let taken = jpeg(40, 30, &[]);
        let shown = rendition(&taken).expect("it is shown");
        assert_eq!(image::load_from_memory(&shown).expect("a picture").into_rgb8().dimensions(), (40, 30));
        let Err(Error::PhotoUnreadable) = rendition(&taken[..20]) else { panic!("it is shown") };
    }
}
