//! `/v1/trials`.

mod bad_input;
mod bodies;
mod crowd;
mod crews;
mod lists;
mod receipts;
mod worked_examples;
