//! belief
