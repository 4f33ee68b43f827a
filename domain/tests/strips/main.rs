//! Laws about strips, on random ones.

mod peel;
mod shares;
