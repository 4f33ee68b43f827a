//! Rebuilds when a migration or a template is added: both are embedded by macros that cargo cannot see into.
fn main() {
    println!("cargo:rerun-if-changed=../migrations");
    println!("cargo:rerun-if-changed=templates");
}
