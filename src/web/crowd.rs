//! Who is let in when there is not room for all.
//!
//! One place may hold so much and no more, and when all room is taken, the place that holds most gives
//! some of it up. So whoever comes from many connections of one address shuts out only himself, and who
//! holds least gets in. Where many hold one each, who holds a few gets in as well, in the place of whoever
//! has done nothing for longest. Forged addresses hold nothing: only who answers has a connection.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::oneshot;

use super::place::Place;

/// How far one is. Who is least far gives way first, and of these who has been so for longest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Stage {
    /// Has asked nothing yet.
    Silent,
    /// Has been answered and may ask again.
    Answered,
    /// Is being answered.
    Asking,
    /// Looks on; never gives way to another of its own place.
    Looking,
}

/// So many are what one browser needs: it opens no more than six to one address (common practice of
/// browsers, from memory), and one for the live stream.
const A_FEW: usize = 8;

/// How many may be there at one time.
#[derive(Debug, Clone, Copy)]
pub(super) struct Room {
    /// From everywhere.
    pub(super) all: usize,
    /// From one place.
    pub(super) of_one: usize,
}

#[derive(Debug)]
struct One {
    id: u64,
    place: Place,
    stage: Stage,
    /// Counts up with everything that anybody does: the least has done nothing for longest.
    since: u64,
    leave: oneshot::Sender<()>,
}

#[derive(Debug, Default)]
struct Present {
    count: u64,
    ones: Vec<One>,
    held: HashMap<Place, usize>,
}

impl Present {
    fn next(&mut self) -> u64 {
        self.count += 1;
        self.count
    }

    fn remove(&mut self, at: usize) -> One {
        let one = self.ones.swap_remove(at);
        if let Some(held) = self.held.get_mut(&one.place) {
            *held -= 1;
            if *held == 0 {
                self.held.remove(&one.place);
            }
        }
        one
    }

    /// The one that gives way first, of those that `may` be asked to.
    fn first(&self, may: impl Fn(&One) -> bool) -> Option<usize> {
        let ones = self.ones.iter().enumerate().filter(|(_, one)| may(one));
        ones.min_by_key(|(_, one)| (one.stage, one.since))
            .map(|(at, _)| at)
    }

    /// Who must go so that one of `place` may come; nobody must if there is room, and it may not come
    /// if there is nobody.
    fn in_the_way(&self, place: Place, room: Room) -> Result<Option<usize>, ()> {
        let own = self.held.get(&place).copied().unwrap_or(0);
        let most = self.held.values().copied().max().unwrap_or(0);
        let full = self.ones.len() >= room.all;
        let found = if own >= room.of_one || (full && own >= most.max(A_FEW)) {
            self.first(|one| one.place == place && one.stage < Stage::Looking)
        } else if full && own >= most {
            self.first(|one| one.stage < Stage::Looking)
        } else if full {
            self.first(|one| self.held.get(&one.place) == Some(&most))
        } else {
            return Ok(None);
        };
        found.map(Some).ok_or(())
    }
}

/// All that are there.
#[derive(Debug)]
pub(super) struct Crowd {
    room: Room,
    present: Mutex<Present>,
}

/// What became of one that came.
#[derive(Debug)]
pub(super) struct Admitted {
    /// It is there as long as this lives.
    pub(super) seat: Seat,
    /// Comes when it must leave.
    pub(super) leave: oneshot::Receiver<()>,
    /// The place of the one that had to leave for it.
    pub(super) instead_of: Option<Place>,
}

impl Crowd {
    pub(super) fn new(room: Room) -> Arc<Self> {
        Arc::new(Self {
            room,
            present: Mutex::default(),
        })
    }

    fn present(&self) -> MutexGuard<'_, Present> {
        self.present.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// How many are there.
    pub(super) fn count(&self) -> usize {
        self.present().ones.len()
    }

    /// One of `place` comes; nothing when there is no room for it.
    pub(super) fn admit(self: &Arc<Self>, place: Place, stage: Stage) -> Option<Admitted> {
        let mut present = self.present();
        let in_the_way = present.in_the_way(place, self.room).ok()?;
        let instead_of = in_the_way.map(|at| {
            let gone = present.remove(at);
            // It may have left in this moment.
            let _ = gone.leave.send(());
            gone.place
        });
        let (id, (leave, told)) = (present.next(), oneshot::channel());
        *present.held.entry(place).or_default() += 1;
        present.ones.push(One {
            id,
            place,
            stage,
            since: id,
            leave,
        });
        let seat = Seat {
            crowd: Arc::clone(self),
            id,
        };
        Some(Admitted {
            seat,
            leave: told,
            instead_of,
        })
    }

    /// The place that holds most, and how much.
    pub(super) fn largest(&self) -> Option<(Place, usize)> {
        let present = self.present();
        let held = present.held.iter().map(|(place, held)| (*place, *held));
        held.max_by_key(|(_, held)| *held)
    }

    #[cfg(test)]
    fn held(&self, place: Place) -> usize {
        self.present().held.get(&place).copied().unwrap_or(0)
    }
}

/// One that is there.
#[derive(Debug)]
pub(super) struct Seat {
    crowd: Arc<Crowd>,
    id: u64,
}

impl Seat {
    /// It is so far now.
    pub(super) fn is(&self, stage: Stage) {
        let mut present = self.crowd.present();
        let since = present.next();
        if let Some(one) = present.ones.iter_mut().find(|one| one.id == self.id) {
            (one.stage, one.since) = (stage, since);
        }
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        let mut present = self.crowd.present();
        // Who was told to leave is no longer there.
        if let Some(at) = present.ones.iter().position(|one| one.id == self.id) {
            present.remove(at);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(last: u8) -> Place {
        Place::of([10, 0, 0, last].into())
    }

    fn left(admitted: &mut Admitted) -> bool {
        admitted.leave.try_recv().is_ok()
    }

    #[test]
    fn one_place_gets_its_share_and_the_silent_make_room_for_its_own() {
        let crowd = Crowd::new(Room { all: 8, of_one: 3 });
        let mut own: Vec<_> = (0..3)
            .map(|_| crowd.admit(place(1), Stage::Silent).unwrap())
            .collect();
        own[0].seat.is(Stage::Answered);
        let fourth = crowd.admit(place(1), Stage::Silent).unwrap();
        assert_eq!(fourth.instead_of, Some(place(1)));
        let gone: Vec<_> = own.iter_mut().map(left).collect();
        assert_eq!(gone, [false, true, false], "the silent one that came first");
        assert_eq!(crowd.held(place(1)), 3);
        // Who was told to leave is counted once.
        drop(own.remove(1));
        assert_eq!(crowd.held(place(1)), 3);
        for seat in [&own[0].seat, &own[1].seat, &fourth.seat] {
            seat.is(Stage::Looking);
        }
        assert!(crowd.admit(place(1), Stage::Silent).is_none());
        assert!(crowd.admit(place(2), Stage::Silent).is_some());
        drop(own);
        assert!(crowd.admit(place(1), Stage::Silent).is_some());
    }

    #[test]
    fn when_all_is_full_the_place_that_holds_most_gives_way() {
        let room = Room {
            all: 20,
            of_one: 18,
        };
        let crowd = Crowd::new(room);
        let mut many: Vec<_> = (0..18)
            .map(|_| crowd.admit(place(1), Stage::Looking).unwrap())
            .collect();
        let mut few: Vec<_> = (0..2)
            .map(|_| crowd.admit(place(2), Stage::Silent).unwrap())
            .collect();
        let friend = crowd.admit(place(3), Stage::Silent).unwrap();
        assert_eq!(friend.instead_of, Some(place(1)));
        assert_eq!(
            many.iter_mut()
                .filter_map(|one| left(one).then_some(()))
                .count(),
            1
        );
        assert!(left(&mut many[0]) || !few.iter_mut().any(left));
        // The place that holds most gets nothing more from others.
        assert!(crowd.admit(place(1), Stage::Silent).is_none());
    }

    #[test]
    fn who_holds_a_few_is_not_shut_out_by_many_that_hold_one_each() {
        let crowd = Crowd::new(Room {
            all: 64,
            of_one: 32,
        });
        let operator = place(200);
        let mut live = crowd.admit(operator, Stage::Looking).unwrap();
        let mut others: Vec<_> = (1..64)
            .map(|bad| crowd.admit(place(bad), Stage::Silent).unwrap())
            .collect();
        others[0].seat.is(Stage::Answered);
        let mut kept = Vec::new();
        for held in 1..A_FEW {
            let more = crowd.admit(operator, Stage::Silent).unwrap();
            more.seat.is(Stage::Asking);
            // The silent ones in the order in which they came.
            assert_eq!(
                more.instead_of,
                Some(place(1 + u8::try_from(held).unwrap()))
            );
            kept.push(more);
        }
        assert!(!left(&mut live) && !left(&mut others[0]));
        // From then on only what is his own gives way, and what looks on does not.
        let more = crowd.admit(operator, Stage::Silent).unwrap();
        assert_eq!(more.instead_of, Some(operator));
        assert_eq!(crowd.held(operator), A_FEW);
        assert!(!left(&mut live));
    }

    #[test]
    fn live_streams_of_one_each_do_not_push_each_other_out() {
        let crowd = Crowd::new(Room { all: 8, of_one: 4 });
        let _all: Vec<_> = (1..=8)
            .map(|one| crowd.admit(place(one), Stage::Looking).unwrap())
            .collect();
        assert!(crowd.admit(place(1), Stage::Looking).is_none());
        assert!(crowd.admit(place(9), Stage::Looking).is_some());
    }

    /// However one place floods, a newcomer gets in, and nobody holds more than his share.
    #[test]
    fn no_number_of_places_shuts_out_one_that_holds_nothing() {
        let crowd = Crowd::new(Room {
            all: 64,
            of_one: 32,
        });
        let mut kept = Vec::new();
        for round in 0..40 {
            for bad in 1..=5 {
                kept.extend(crowd.admit(place(bad), Stage::Silent));
            }
            let friend = crowd.admit(place(100), Stage::Silent);
            assert!(friend.is_some(), "round {round}");
        }
        let held: Vec<_> = (1..=5).map(|bad| crowd.held(place(bad))).collect();
        assert!(
            held.iter().all(|&held| (12..=13).contains(&held)),
            "{held:?}"
        );
        assert_eq!(
            crowd.largest().map(|(_, held)| held),
            held.iter().copied().max()
        );
        drop(kept);
        assert_eq!(crowd.largest(), None);
    }
}
