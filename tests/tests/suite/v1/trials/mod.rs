//! `/v1/trials`.

mod bad_input;
mod bodies;
mod crews;
mod crowd;
mod lists;
mod peel;
mod receipts;
mod worked_examples;
