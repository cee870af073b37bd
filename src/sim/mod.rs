//! A simulated console, simulated nodes and the network between them, for the demo and for
//! proofs. What the nodes really hold ([`node`]), and what that draws ([`truth`]), is worked out
//! with none of the code that the frame path uses; the console writes its packets with it. So is what
//! a floor with broken joints draws and shows ([`real`]), and what happens to it under feet ([`plant`]).

mod character;
pub mod console;
mod elimination;
#[cfg(test)]
mod flashes;
pub mod installer;
pub mod link;
pub mod looks;
pub mod loose;
pub mod node;
pub mod onlooker;
mod outage;
pub mod plant;
mod poll_answer;
pub mod real;
pub mod sensor;
pub mod shell;
pub mod switches;
pub mod truth;
mod walk;
pub mod walkers;
pub mod wires;
mod witness;
