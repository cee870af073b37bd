//! The state machine between what arrives and what leaves.
pub mod snapshot;
