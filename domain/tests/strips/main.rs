//! Laws about strips, on random ones.

mod shares;
