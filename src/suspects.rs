//! suspects
