//! The reference client's album, over a bad line.

use std::sync::atomic::Ordering;
use std::time::Duration;

use lapwatch_fixtures::outbox::{Album, Client, ClientError, Limits, Step};
use lapwatch_tests::harness::{App, TestFolder, photo, seed, sha256, torn_photo};
use reqwest::Method;

use crate::faults::network::Line;

/// Connections break off in the middle, the phone is switched off again and again, and every photo arrives as it was taken; what is no
/// picture waits for a person.
#[tokio::test]
async fn photos_arrive_over_a_bad_line() {
    let app = App::start().await;
    let director = app.director();
    let folder = TestFolder::make().expect("a folder");
    let taken: Vec<Vec<u8>> =
        (1..=6).map(|number| photo(number, 500 + 10 * u32::from(number), 400)).collect();
    let mut album = Album::open(folder.path()).expect("opens");
    for bytes in &taken {
        album.put(bytes).expect("taken");
    }
    let torn = album.put(&torn_photo()[..40]).expect("taken");
    let (limits, seed) = (
        Limits {
            photo_part: 16 * 1024,
            first_pause: Duration::from_millis(2),
            longest_pause: Duration::from_millis(20),
            ..Limits::default()
        },
        seed(),
    );
    let service = app.base().trim_start_matches("http://").parse().expect("an address");
    let line = Line::lead_to(service, seed).await.expect("a line");
    let token = director.token().expect("a token").to_owned();
    let client = || Client::with_limits(&line.base, async || Ok(token.clone()), limits).expect("a client");
    let mut sending = client();
    for step in 1_u32.. {
        assert!(step < 5_000, "seed {seed}: it does not come to an end");
        match sending.step_photos(&mut album).await {
            Ok(Step::Empty) => break,
            Ok(Step::Wait { pause, .. }) => tokio::time::sleep(pause).await,
            Ok(Step::Moved) | Err(ClientError::Token(_)) => {}
            Err(error) => panic!("seed {seed}: {error}"),
        }
        if step.is_multiple_of(3) {
            drop(album);
            album = Album::open(folder.path()).expect("opens");
            sending = client();
        }
    }
    for bytes in &taken {
        let path = format!("/v1/photo-contents/{}", sha256(bytes));
        let kept = director.request(Method::GET, &path).send().await.expect("an answer");
        assert_eq!(kept.status(), 200, "seed {seed}");
        assert_eq!(kept.bytes().await.expect("the bytes"), bytes.as_slice(), "seed {seed}: as it was taken");
    }
    let left: Vec<(&str, &str)> = album.for_a_person().collect();
    assert_eq!(left.len(), 1, "seed {seed}: {left:?}");
    assert_eq!(left[0].0, torn, "seed {seed}");
    let cuts = line.cuts.requests.load(Ordering::Relaxed) + line.cuts.answers.load(Ordering::Relaxed);
    assert!(cuts > 0, "seed {seed}: the line never broke");
}
