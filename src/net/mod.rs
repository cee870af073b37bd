//! skeleton
