//! A simulated console, simulated nodes and the network between them, for the demo and for
//! proofs: what the nodes really hold, and what that draws, is worked out here with none of the
//! code that the frame path uses.

pub mod console;
#[cfg(test)]
mod flashes;
pub mod link;
pub mod looks;
pub mod node;
mod poll_answer;
pub mod shell;
pub mod truth;
mod walk;
mod witness;
