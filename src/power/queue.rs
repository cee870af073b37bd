//! Universes that wait for their next frame.

/// Index into [`Tables::outputs`](crate::floor::tables::Tables::outputs).
pub type OutIndex = u32;

/// Universes that wait for something, each once.
#[derive(Debug)]
pub(super) struct Queue {
    waiting: Vec<OutIndex>,
    holds: Vec<bool>,
    count: usize,
}

impl Queue {
    pub(super) fn new(universes: usize) -> Self {
        Self {
            waiting: Vec::new(),
            holds: vec![false; universes],
            count: 0,
        }
    }

    pub(super) fn add(&mut self, out: OutIndex) {
        if !std::mem::replace(&mut self.holds[out as usize], true) {
            // What was removed still stands in the list until it is swept.
            if self.waiting.len() > 2 * self.holds.len() {
                let holds = &self.holds;
                self.waiting
                    .retain(|&waiting| waiting != out && holds[waiting as usize]);
            }
            self.waiting.push(out);
            self.count += 1;
        }
    }

    pub(super) fn remove(&mut self, out: OutIndex) {
        if std::mem::take(&mut self.holds[out as usize]) {
            self.count -= 1;
        }
    }

    pub(super) fn next(&mut self) -> Option<OutIndex> {
        while let Some(out) = self.waiting.pop() {
            if self.holds[out as usize] {
                self.remove(out);
                return Some(out);
            }
        }
        None
    }

    pub(super) const fn is_empty(&self) -> bool {
        self.count == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_universe_waits_once_and_never_after_it_was_removed() {
        let mut queue = Queue::new(3);
        for _ in 0..100 {
            queue.add(1);
            queue.add(2);
            queue.add(1);
            queue.remove(1);
            assert!(queue.waiting.len() <= 7, "what was removed is swept");
        }
        assert_eq!(queue.next(), Some(2));
        assert!(queue.is_empty());
        assert_eq!(queue.next(), None);
    }
}
