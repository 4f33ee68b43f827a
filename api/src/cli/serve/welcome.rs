//! What the quick start prints when the demo is up.

use std::path::Path;

use anyhow::Result;

use super::example;
use crate::cli::demo::state::{Load, State};
use crate::cli::private_file;

/// Headers for curl: an access token is too long for a line that people read.
const HEADERS: &str = "curl-headers";

/// Prints console, sign-in, token and a trial to post.
pub(super) fn print(state: &State, loaded: &Load, data: &Path, url: &str) -> Result<()> {
    let token = state.token.as_deref().unwrap_or_default();
    let headers = data.join(HEADERS);
    private_file::write(
        &headers,
        format!("Authorization: Bearer {token}\nContent-Type: application/json\n").as_bytes(),
    )?;
    println!(
        "
Lapwatch is up with the demo fleet, which ends on {until}.

  Console     {url}/
  Sign in as  {sign_in}
  Password    {password}
  API         {url}/docs/
  Token       {token}

Post a trial (a sweep by one of the demo's units, made anew at each start) and read what to set:

  curl -sS -H @{headers} --data-binary @{example} {url}/v1/trials

Ctrl-C stops it. The data stay in {data}; `lapwatch demo --advance` fills the fleet up to today.",
        until = loaded.until.format("%-d %B %Y"),
        sign_in = state.sign_in,
        password = state.password,
        headers = quoted(&headers),
        example = quoted(&example::path(data)),
        data = data.display(),
    );
    Ok(())
}

/// A path as a shell reads it back.
fn quoted(path: &Path) -> String {
    let text = path.display().to_string();
    let plain = |c: char| c.is_ascii_alphanumeric() || "/._-+".contains(c);
    if text.chars().all(plain) { text } else { format!("'{}'", text.replace('\'', r"'\''")) }
}
