//! Bytes written as hexadecimal text, for the packet tests.

/// Bytes of a hexadecimal text.
pub(crate) fn unhex(text: &str) -> Vec<u8> {
    (0..text.len())
        .step_by(2)
        .map(|at| u8::from_str_radix(&text[at..at + 2], 16).unwrap())
        .collect()
}
