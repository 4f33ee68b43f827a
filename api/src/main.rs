//! The program `lapwatch`; see `lapwatch_api::cli`.

fn main() -> std::process::ExitCode {
    lapwatch_api::cli::main()
}
