//! Bringing near what will soon be needed.
//!
//! A floor of a thousand universes does not fit into a processor's nearer caches, and waiting for one line
//! of memory after the other would cost a frame more than all its arithmetic. So before a few datagrams are
//! taken, a byte is read of every line that they will need: the processor waits for all of these at once.
//! What was read goes to [`std::hint::black_box`], and nothing is changed.

/// From one line to the next: 64 bytes on nearly every processor.
const LINE: usize = 64;

/// Reads every line of some bytes.
pub fn lines(bytes: &[u8]) -> u8 {
    let first = bytes.iter().step_by(LINE).fold(0, |sum, &byte| sum ^ byte);
    // Where the bytes do not begin with a line, they end in one more.
    first ^ bytes.last().copied().unwrap_or(0)
}
