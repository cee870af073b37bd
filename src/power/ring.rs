//! A queue of few that keeps the room of those that have gone, so that nothing is allocated once it has
//! been as long as it ever gets, and none is moved.

/// First in, first out.
#[derive(Debug, Clone)]
pub(super) struct Ring<T> {
    all: Vec<T>,
    first: usize,
    count: usize,
}

impl<T> Ring<T> {
    /// With one alone.
    pub(super) fn of(one: T) -> Self {
        Self {
            all: vec![one],
            first: 0,
            count: 1,
        }
    }

    pub(super) const fn len(&self) -> usize {
        self.count
    }

    pub(super) fn get(&self, at: usize) -> Option<&T> {
        (at < self.count).then(|| &self.all[self.place(at)])
    }

    pub(super) fn front(&self) -> Option<&T> {
        self.get(0)
    }

    pub(super) fn back(&self) -> Option<&T> {
        self.get(self.count.checked_sub(1)?)
    }

    pub(super) fn back_mut(&mut self) -> Option<&mut T> {
        let place = self.place(self.count.checked_sub(1)?);
        Some(&mut self.all[place])
    }

    /// The two youngest, the elder first.
    pub(super) fn youngest_two(&mut self) -> Option<[&mut T; 2]> {
        let places = [self.count.checked_sub(2)?, self.count - 1].map(|at| self.place(at));
        self.all.get_disjoint_mut(places).ok()
    }

    pub(super) fn iter(&self) -> impl Iterator<Item = &T> {
        let (end, begin) = self.all.split_at(self.first);
        begin.iter().chain(end).take(self.count)
    }

    pub(super) fn iter_mut(&mut self) -> impl Iterator<Item = &mut T> {
        let (end, begin) = self.all.split_at_mut(self.first);
        begin.iter_mut().chain(end).take(self.count)
    }

    /// One more at the back, which is to be written over: it may be one that has gone, or else what `make`
    /// makes.
    pub(super) fn push(&mut self, make: impl FnOnce() -> T) -> &mut T {
        self.make_room(make);
        self.count += 1;
        let place = self.place(self.count - 1);
        &mut self.all[place]
    }

    /// The same at the front.
    pub(super) fn push_front(&mut self, make: impl FnOnce() -> T) -> &mut T {
        self.make_room(make);
        self.count += 1;
        self.first = self.first.checked_sub(1).unwrap_or(self.all.len() - 1);
        &mut self.all[self.first]
    }

    /// The front goes.
    pub(super) fn drop_front(&mut self) {
        if self.count > 0 {
            self.first = self.place(1);
            self.count -= 1;
        }
    }

    /// Keeps no room of those that have gone.
    pub(super) fn forget_gone(&mut self) {
        self.all.rotate_left(self.first);
        self.all.truncate(self.count);
        self.first = 0;
    }

    fn make_room(&mut self, make: impl FnOnce() -> T) {
        if self.count == self.all.len() {
            self.all.rotate_left(self.first);
            self.first = 0;
            // No more than is needed: there is one of these for each universe.
            self.all.reserve_exact(1);
            self.all.push(make());
        }
    }

    fn place(&self, at: usize) -> usize {
        let place = self.first + at;
        if place < self.all.len() {
            place
        } else {
            place - self.all.len()
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::VecDeque;

    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// Against the standard library's queue.
        #[test]
        fn it_is_a_queue(steps in prop::collection::vec(0..6_u8, 1..200)) {
            let (mut ring, mut queue) = (Ring::of(0), VecDeque::from([0]));
            let mut longest = 1;
            for (number, step) in (1..).zip(steps) {
                match step {
                    0 | 1 => {
                        *ring.push(|| -1) = number;
                        queue.push_back(number);
                    }
                    2 => {
                        *ring.push_front(|| -1) = number;
                        queue.push_front(number);
                    }
                    3 => {
                        ring.forget_gone();
                        longest = queue.len();
                    }
                    _ if queue.len() > 1 => {
                        ring.drop_front();
                        queue.pop_front();
                    }
                    _ => {}
                }
                longest = longest.max(queue.len());
                prop_assert_eq!(ring.len(), queue.len());
                prop_assert!(ring.iter().eq(&queue));
                prop_assert!(ring.iter_mut().map(|one| *one).eq(queue.iter().copied()));
                prop_assert_eq!(ring.front(), queue.front());
                prop_assert_eq!(ring.back(), queue.back());
                prop_assert_eq!(ring.back_mut().map(|one| *one), queue.back().copied());
                prop_assert_eq!(ring.get(queue.len()), None);
                let two = ring.youngest_two().map(|two| two.map(|one| *one));
                let expected = queue.len().checked_sub(2).map(|at| [queue[at], queue[at + 1]]);
                prop_assert_eq!(two, expected);
                prop_assert_eq!(ring.all.len(), longest, "room for no more than there ever was");
            }
        }
    }
}
