//! Whole trials, judged by what a crew would expect.
