//! Reads what the fuzzer made up as numbers and pieces; behind the end all is nothing.

/// Bytes that are used up from the front.
pub struct Bytes<'a>(pub &'a [u8]);

impl<'a> Bytes<'a> {
    /// Whether something is left.
    pub fn more(&self) -> bool {
        !self.0.is_empty()
    }

    pub fn u8(&mut self) -> u8 {
        let [first] = *self.array();
        first
    }

    pub fn u16(&mut self) -> u16 {
        u16::from_le_bytes(*self.array())
    }

    /// So many bytes, as far as there are any.
    pub fn take(&mut self, count: usize) -> &'a [u8] {
        let (taken, rest) = self.0.split_at(count.min(self.0.len()));
        self.0 = rest;
        taken
    }

    /// A piece with its length before it.
    pub fn piece(&mut self) -> &'a [u8] {
        let length = self.u16();
        self.take(length.into())
    }

    fn array<const N: usize>(&mut self) -> &'a [u8; N] {
        match self.0.split_first_chunk() {
            Some((taken, rest)) => {
                self.0 = rest;
                taken
            }
            None => {
                self.0 = &[];
                &[0; N]
            }
        }
    }
}
