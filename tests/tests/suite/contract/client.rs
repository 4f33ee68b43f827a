//! A client that somebody else's program makes from the committed contract works against this service.

use std::path::Path;
use std::process::Command;

use lapwatch_tests::harness::{App, Shop};

#[tokio::test]
async fn a_generated_client_sends_an_envelope_and_follows_the_feed() {
    let app = App::start().await;
    Shop::open(&app.director()).await;
    let scopes = ["trials:read", "trials:write", "units:read", "units:write", "configuration:read"];
    let caller = app.app(&scopes).await;
    let tool = Path::new(env!("CARGO_MANIFEST_DIR")).join("tools/client/run");
    let mut command = Command::new(tool);
    command.arg(app.base()).env("LAPWATCH_TOKEN", caller.token().expect("an app has a token"));
    let output = command.output().expect("the client runs");
    let said = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    assert!(output.status.success(), "{}{}", said(&output.stdout), said(&output.stderr));
    assert!(said(&output.stdout).contains("3 items sent, 2 changes followed, 0 came later"), "{output:?}");
}
