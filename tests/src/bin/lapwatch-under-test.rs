//! The program `lapwatch` under a name of the tests' own: cargo builds programs for the tests of their own crate only.

fn main() -> std::process::ExitCode {
    lapwatch_api::cli::main()
}
