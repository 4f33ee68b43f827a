//! Whether a contract keeps what an earlier one promised.

use std::collections::BTreeSet;

use super::collect::LIMITS;
use super::{Kind, Promise};

/// What `now` breaks of what was promised `before`: offers that are gone, and demands that are new of something that was
/// offered before. A limit that is only loosened breaks nothing.
pub fn broken<'a>(before: &'a BTreeSet<Promise>, now: &'a BTreeSet<Promise>) -> Vec<&'a Promise> {
    let gone = before.difference(now).filter(|promise| promise.kind == Kind::Offer);
    let demanded = now.difference(before).filter(|promise| {
        promise.kind == Kind::Demand && was_offered(before, &promise.about) && !is_loosened(before, promise)
    });
    gone.chain(demanded).collect()
}

fn was_offered(before: &BTreeSet<Promise>, about: &str) -> bool {
    let offer = Promise { about: about.to_owned(), what: String::new(), kind: Kind::Offer };
    before.contains(&offer)
}

/// Whether `promise` is a limit that replaces a narrower one.
fn is_loosened(before: &BTreeSet<Promise>, promise: &Promise) -> bool {
    let Some((name, value)) = limit(promise) else { return false };
    before.iter().filter(|old| old.about == promise.about).filter_map(limit).any(|(old_name, old)| {
        old_name == name && if name.starts_with("max") { value >= old } else { value <= old }
    })
}

fn limit(promise: &Promise) -> Option<(&str, f64)> {
    let (name, value) = promise.what.split_once(' ')?;
    let value = value.parse().ok()?;
    (promise.kind == Kind::Demand && LIMITS.contains(&name)).then_some((name, value))
}
