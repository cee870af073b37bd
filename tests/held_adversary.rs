//! An adversary against the reckoning of what a node may be showing.
//!
//! For short histories every pattern of loss and delay that the delivery promise allows is tried;
//! for long ones, patterns by chance. The node is a few lines of its own here: whatever it shows
//! at any moment must be covered by `Held::most`.

use litfloor::floor::model::Delivery;
use litfloor::power::held::{DARK, Held};
use litfloor::sim::link::Chance;
use litfloor::units::{Draw, Time};

/// Art-Net 4: without `ArtSync` for 4 s a node acts at once again.
const FALLBACK_MS: u64 = 4_000;

/// What a node showed before: more than anything that is sent.
const BEFORE: u64 = 1_000;

#[derive(Clone, Copy, Debug, PartialEq)]
enum Sent {
    /// A frame with another draw.
    New(u64),
    /// The last frame once more.
    Again,
    Sync,
}

/// A history: what leaves when, in ms.
type History = Vec<(u64, Sent)>;

fn history(chance: &mut Chance, length: usize, rules: Delivery, syncs: bool) -> History {
    let mut at = 1;
    let mut began = false;
    (0..length)
        .map(|_| {
            at += chance.up_to(u64::from(rules.late_ms) * 3 / 2 + 1);
            let sent = match chance.up_to(if syncs { 4 } else { 2 }) {
                0 => Sent::New(1 + chance.up_to(99)),
                1 | 2 if began => Sent::Again,
                1 | 2 => Sent::New(99),
                _ => Sent::Sync,
            };
            began |= sent != Sent::Sync;
            (at, sent)
        })
        .collect()
}

/// Moments to look at: whenever something leaves, could arrive or falls back.
fn moments(history: &History, late_ms: u64) -> Vec<u64> {
    let mut all = Vec::new();
    for &(at, sent) in history {
        all.extend([at, at + late_ms / 2, at + late_ms]);
        if sent == Sent::Sync {
            let ends = at + FALLBACK_MS;
            all.extend([ends, ends + late_ms, ends + late_ms + 1]);
        }
    }
    all.sort_unstable();
    all.dedup();
    all
}

/// What the reckoning says at each moment.
fn reckoned(history: &History, moments: &[u64], rules: Delivery) -> Vec<u64> {
    let mut held = Held::new(&[Draw(BEFORE)], Time::from_ms(0), rules);
    let mut next = history.iter().peekable();
    let mut last_sync = None;
    let mut most = Vec::new();
    for &ms in moments {
        let now = Time::from_ms(ms);
        // As the engine does: nodes act at once again 4 s after the last sync could arrive.
        if last_sync.is_some_and(|at| ms > at + FALLBACK_MS + u64::from(rules.late_ms)) {
            last_sync = None;
            held.sync_ended();
        }
        held.retire(now);
        while let Some(&&(_, sent)) = next.peek().filter(|(at, _)| *at == ms) {
            next.next();
            match sent {
                Sent::New(draw) => {
                    held.push(now, &[Draw(draw)], &[Draw(draw)], |slots| *slots = DARK);
                    held.left(now);
                }
                Sent::Again => held.left(now),
                Sent::Sync => {
                    last_sync = Some(ms);
                    held.sync(now);
                }
            }
        }
        held.retire(now);
        most.push(held.most()[0].0);
    }
    most
}

/// A fate: nothing when lost, else the delay in ms.
type Fate = Option<u64>;

/// Whether the promise allows it: of `copies` in a row of one kind at least one arrives.
fn allowed(history: &History, fates: &[Fate], copies: u8) -> bool {
    let mut rows = [0_u8; 2];
    history.iter().zip(fates).all(|(&(_, sent), fate)| {
        let row = &mut rows[usize::from(sent == Sent::Sync)];
        *row = if fate.is_some() { 0 } else { *row + 1 };
        *row < copies
    })
}

/// What the node shows at each moment.
fn shown(history: &History, fates: &[Fate], moments: &[u64], orders: bool) -> Vec<u64> {
    // Number and draw of every datagram, by when it arrives. Equal moments keep their order.
    let mut draw = BEFORE;
    let mut arrivals: Vec<(u64, usize, Option<u64>)> = Vec::new();
    for (number, (&(at, sent), fate)) in history.iter().zip(fates).enumerate() {
        if let Sent::New(new) = sent {
            draw = new;
        }
        let carries = (sent != Sent::Sync).then_some(draw);
        arrivals.extend(fate.map(|delay| (at + delay, number, carries)));
    }
    arrivals.sort_unstable_by_key(|&(at, number, _)| (at, number));
    let (mut shows, mut waits, mut newest, mut synced) = (BEFORE, None, None, None::<u64>);
    let mut next = arrivals.into_iter().peekable();
    let mut seen = Vec::new();
    for &ms in moments {
        loop {
            let arrival = next.peek().copied().filter(|(at, _, _)| *at <= ms);
            let until = arrival.map_or(ms, |(at, _, _)| at);
            if synced.is_some_and(|at| until >= at + FALLBACK_MS) {
                synced = None;
                shows = waits.take().unwrap_or(shows);
            }
            let Some((at, number, carries)) = arrival else {
                break;
            };
            next.next();
            match carries {
                None => {
                    synced = Some(at);
                    shows = waits.take().unwrap_or(shows);
                }
                Some(_) if orders && newest.is_some_and(|newest| number < newest) => {}
                Some(draw) => {
                    newest = Some(number);
                    if synced.is_some() {
                        waits = Some(draw);
                    } else {
                        shows = draw;
                    }
                }
            }
        }
        seen.push(shows);
    }
    seen
}

#[derive(Default, Debug)]
struct Result {
    tried: u64,
    /// Moments at which something shown was no longer in the reckoning.
    forgotten: u64,
    /// Moments at which the reckoning was below all that was ever sent.
    gone: u64,
    /// Moments at which the node really showed all that was reckoned with.
    reached: u64,
}

fn compare(most: &[u64], seen: &[u64], result: &mut Result) {
    result.tried += 1;
    for (&most, &seen) in most.iter().zip(seen) {
        result.forgotten += u64::from(seen > most);
        result.gone += u64::from(most < BEFORE);
        result.reached += u64::from(seen == most);
    }
}

/// Tries every allowed pattern on `histories` histories of `length` datagrams.
fn exhaust(
    syncs: bool,
    length: usize,
    histories: u64,
    told: impl Fn(Delivery) -> Delivery,
) -> Result {
    let mut result = Result::default();
    let choices: u32 = if syncs { 3 } else { 4 };
    for seed in 0..histories {
        let mut chance = Chance::new(seed);
        let rules = Delivery {
            copies: 1 + u8::try_from(chance.up_to(2)).unwrap(),
            late_ms: 2 * u16::try_from(chance.up_to(10)).unwrap(),
        };
        let late_ms = u64::from(rules.late_ms);
        let history = history(&mut chance, length, rules, syncs);
        let moments = moments(&history, late_ms);
        let most = reckoned(&history, &moments, told(rules));
        for pattern in 0..u64::from(choices).pow(u32::try_from(length).unwrap()) {
            let mut rest = pattern;
            let fates: Vec<Fate> = (0..length)
                .map(|_| {
                    let choice = rest % u64::from(choices);
                    rest /= u64::from(choices);
                    [None, Some(0), Some(late_ms), Some(late_ms / 2)]
                        [usize::try_from(choice).unwrap()]
                })
                .collect();
            if allowed(&history, &fates, rules.copies) {
                for orders in [false, true] {
                    let seen = shown(&history, &fates, &moments, orders);
                    compare(&most, &seen, &mut result);
                }
            }
        }
    }
    result
}

fn assert_sound(result: &Result) {
    assert_eq!(result.forgotten, 0, "{result:?}");
    // It would prove nothing if nothing were ever gone, or nothing ever as bad as reckoned.
    assert!(result.gone > result.tried, "{result:?}");
    assert!(result.reached > result.tried, "{result:?}");
}

#[test]
fn no_allowed_pattern_shows_what_was_forgotten() {
    assert_sound(&exhaust(false, 6, 150, |rules| rules));
}

#[test]
fn no_allowed_pattern_shows_what_was_forgotten_while_nodes_wait_for_sync() {
    assert_sound(&exhaust(true, 7, 150, |rules| rules));
}

/// Proves the adversary: a reckoning that trusts the network a little more is caught.
#[test]
fn the_adversary_catches_a_reckoning_that_trusts_too_much() {
    for syncs in [false, true] {
        let bold = |rules: Delivery| Delivery {
            copies: rules.copies.max(2) - 1,
            ..rules
        };
        assert!(exhaust(syncs, 6, 60, bold).forgotten > 0);
        let quick = |rules: Delivery| Delivery {
            late_ms: rules.late_ms / 2,
            ..rules
        };
        assert!(exhaust(syncs, 6, 60, quick).forgotten > 0);
    }
}

#[test]
fn long_histories_forget_nothing_either() {
    let mut result = Result::default();
    for seed in 0..3_000 {
        let mut chance = Chance::new(seed ^ 0xAD5E);
        let rules = Delivery {
            copies: 1 + u8::try_from(chance.up_to(3)).unwrap(),
            late_ms: 2 * u16::try_from(chance.up_to(15)).unwrap(),
        };
        let late_ms = u64::from(rules.late_ms);
        let mut history = history(&mut chance, 60, rules, seed % 2 == 1);
        // Now and then nothing leaves for longer than nodes wait for a sync.
        let mut pause = 0;
        for (at, _) in &mut history {
            pause += if chance.up_to(29) == 0 { 4_100 } else { 0 };
            *at += pause;
        }
        let moments = moments(&history, late_ms);
        let most = reckoned(&history, &moments, rules);
        for _ in 0..20 {
            let mut rows = [0_u8; 2];
            let loss = chance.up_to(9);
            let fates: Vec<Fate> = history
                .iter()
                .map(|&(_, sent)| {
                    let row = &mut rows[usize::from(sent == Sent::Sync)];
                    if *row + 1 < rules.copies && chance.up_to(9) < loss {
                        *row += 1;
                        return None;
                    }
                    *row = 0;
                    Some(match chance.up_to(3) {
                        0 => 0,
                        1 => late_ms / 2,
                        _ => late_ms,
                    })
                })
                .collect();
            assert!(allowed(&history, &fates, rules.copies));
            let seen = shown(&history, &fates, &moments, chance.up_to(1) == 0);
            compare(&most, &seen, &mut result);
        }
    }
    assert_sound(&result);
}
