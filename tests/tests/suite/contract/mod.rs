//! The contract: the document, the routes and the answers are one.

mod client;
mod document;
mod methods;
mod operator;
mod problems;
mod promises;
mod reference;
