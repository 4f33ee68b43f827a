//! Laws about strips, on random ones: peel traces, two readers, and what counts of sound strips show.

mod peel;
mod readers;
mod shares;
