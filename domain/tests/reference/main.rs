//! The posterior of the edges against two other ways of computing it.
//!
//! [`table`] was written by another program, in another language and with nothing shared but the definition:
//! `tests/tools/reference/run` computes it again. [`quadrature`] integrates over continuous ranges in place of a grid,
//! here and now.

mod quadrature;
mod row;
mod table;
