//! `/v1/trials`.

mod answers;
mod bad_input;
mod bodies;
mod crowd;
mod crews;
mod lists;
mod receipts;
mod worked_examples;
