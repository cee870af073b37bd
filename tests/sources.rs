//! Sequence numbers and merging against plain models of our own.

use std::net::Ipv4Addr;

use litfloor::engine::sequence::Sequence;
use litfloor::engine::universe::Universe;
use litfloor::floor::model::Merge;
use litfloor::units::Time;
use litfloor::wire::PortAddress;
use litfloor::wire::dmx::Dmx;
use proptest::prelude::*;

const A: Ipv4Addr = Ipv4Addr::new(10, 9, 0, 1);
const B: Ipv4Addr = Ipv4Addr::new(10, 9, 0, 2);

/// `number` and `steps` more on the ring 1 to 255 (Art-Net 4: 255 is followed by 1).
fn on(number: u8, steps: u16) -> u8 {
    u8::try_from((u16::from(number) - 1 + steps) % 255 + 1).unwrap()
}

fn dmx(sequence: u8, physical: u8, slots: &[u8]) -> Dmx<'_> {
    Dmx {
        sequence,
        physical,
        port_address: PortAddress::new(1).unwrap(),
        slots,
    }
}

proptest! {
    #[test]
    fn a_stream_in_order_is_never_dropped(
        first in 1..=255_u8,
        steps in prop::collection::vec((0..=234_u16, 0..3_000_u64), 1..300),
    ) {
        // Gaps are no losses: one counter may serve many universes; equal numbers are frozen.
        let mut sequence = Sequence::default();
        let (mut number, mut ms) = (first, 0);
        prop_assert!(sequence.take(number, Time::from_ms(ms)));
        for (step, pause) in steps {
            number = on(number, step);
            ms += pause;
            prop_assert!(sequence.take(number, Time::from_ms(ms)), "{number} after {step}");
        }
    }

    #[test]
    fn two_streams_in_order_never_drop_each_other(
        first in (1..=255_u8, 1..=255_u8),
        turns in prop::collection::vec(any::<bool>(), 1..400),
        one_address in any::<bool>(),
    ) {
        let mut universe = Universe::default();
        let mut numbers = [first.0, first.1];
        for (at, second) in turns.into_iter().enumerate() {
            let second = usize::from(second);
            let from = if one_address { A } else { [A, B][second] };
            let physical = u8::try_from(second).unwrap();
            let now = Time::from_ms(at as u64 * 11);
            let slots = [7; 4];
            let taken = universe.take(from, &dmx(numbers[second], physical, &slots), Merge::Htp, now);
            prop_assert!(taken.is_ok());
            numbers[second] = on(numbers[second], 1);
        }
    }

    #[test]
    fn an_overtaken_packet_is_dropped_and_a_restart_believed_within_three(
        first in 1..=255_u8,
        run in 21..200_u16,
        back in 1..=20_u16,
        again in 1..=255_u8,
    ) {
        let mut sequence = Sequence::default();
        for step in 0..run {
            prop_assert!(sequence.take(on(first, step), Time::from_ms(u64::from(step) * 23)));
        }
        let ms = u64::from(run) * 23;
        prop_assert!(!sequence.take(on(first, run + 254 - back), Time::from_ms(ms)));
        prop_assert!(sequence.take(on(first, run), Time::from_ms(ms + 1)));
        // Starts anew at any number: three packets at most are dropped.
        let dropped = (0..30_u16)
            .filter(|&step| !sequence.take(on(again, step), Time::from_ms(ms + 23 * u64::from(step))))
            .count();
        prop_assert!(dropped <= 2, "{dropped} dropped");
    }

    #[test]
    fn highest_takes_precedence_slot_by_slot(
        frames in prop::collection::vec(
            (any::<bool>(), prop::collection::vec(any::<u8>(), 1..512), 0..2_500_u64),
            1..60,
        ),
    ) {
        let mut universe = Universe::default();
        // The plain model: what each source last sent for each slot, and when it last sent.
        let mut model: [Option<(u64, [u8; 512])>; 2] = [None, None];
        let mut ms = 0;
        for (second, slots, pause) in frames {
            ms += pause;
            for source in &mut model {
                if source.is_some_and(|(at, _)| ms - at >= 10_000) {
                    *source = None;
                }
            }
            let at = usize::from(second);
            let mut mine = model[at].map_or([0; 512], |(_, slots)| slots);
            mine[..slots.len()].copy_from_slice(&slots);
            model[at] = Some((ms, mine));
            universe.take([A, B][at], &dmx(0, 0, &slots), Merge::Htp, Time::from_ms(ms)).unwrap();
            for slot in 0..512 {
                let highest = model.iter().flatten().map(|(_, slots)| slots[slot]).max();
                prop_assert_eq!(Some(universe.merged[slot]), highest);
            }
            prop_assert_eq!(universe.sources().len(), model.iter().flatten().count());
        }
    }
}
